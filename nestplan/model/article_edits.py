"""An article with some of its pieces and strips replaced, and with them whatever of it names them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from nestplan.model.job import Article
from nestplan.model.laced_joins import LacedEdge, LacedJoin
from nestplan.model.piece import Piece, Strip
from nestplan.model.sizes import Edge, Seam, Sizes

__all__ = ["with_pieces"]


def with_pieces(article: Article, changed: Mapping[str, Piece | Strip]) -> Article:
    """The article with pieces and strips replaced, found by their old names.

    Laced joins, seams and sizes name them, and the rows of pieces, anew. A row that has another name is the one at the
    same place. Raises InputError where the article cannot be with them.
    """
    pieces = {name: new for name, new in changed.items() if isinstance(new, Piece)}
    strips = {name: new for name, new in changed.items() if isinstance(new, Strip)}
    rows = _names_of_rows(article.pieces, pieces)
    names = {old: new.name for old, new in changed.items()}

    def join(each: LacedJoin) -> LacedJoin:
        laced = []
        for row in each.rows:
            piece, name = rows[row.piece, row.row]
            laced.append(msgspec.structs.replace(row, piece=piece, row=name))
        return msgspec.structs.replace(each, rows=tuple(laced))

    def edge(each: LacedEdge) -> LacedEdge:
        piece, row = rows[each.piece, each.row]
        return msgspec.structs.replace(each, piece=piece, row=row)

    def edges(each: Iterable[Edge]) -> tuple[Edge, ...]:
        return tuple(msgspec.structs.replace(one, piece=names.get(one.piece, one.piece)) for one in each)

    return msgspec.structs.replace(
        article,
        pieces=tuple(pieces.get(piece.name, piece) for piece in article.pieces),
        strips=tuple(strips.get(strip.name, strip) for strip in article.strips),
        laced_joins=tuple(join(each) for each in article.laced_joins),
        laced_edges=tuple(edge(each) for each in article.laced_edges),
        seams=tuple(Seam(first=edges(seam.first), second=edges(seam.second)) for seam in article.seams),
        sizes=None if article.sizes is None else _renamed_sizes(article.sizes, names),
    )


def _names_of_rows(
    pieces: Iterable[Piece], changed: Mapping[str, Piece]
) -> dict[tuple[str, str], tuple[str, str]]:
    """The piece and the row of every row, by their old names."""
    names: dict[tuple[str, str], tuple[str, str]] = {}
    for old in pieces:
        new = changed.get(old.name, old)
        kept = {row.name for row in new.rows}
        same_place = len(old.rows) == len(new.rows)
        for number, row in enumerate(old.rows):
            now = new.rows[number].name if same_place and row.name not in kept else row.name
            names[old.name, row.name] = (new.name, now)
    return names


def _renamed_sizes(sizes: Sizes, names: Mapping[str, str]) -> Sizes:
    measures = tuple(
        msgspec.structs.replace(
            measure,
            pieces=tuple(
                msgspec.structs.replace(growth, name=names.get(growth.name, growth.name))
                for growth in measure.pieces
            ),
        )
        for measure in sizes.measures
    )
    return msgspec.structs.replace(sizes, measures=measures)
