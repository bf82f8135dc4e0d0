"""The sizes of an article drawn in one size: each made from it by what the wearer's measures change.

Leather is put in along lines across each piece (`geometry.spread`), so that straight edges stay straight and curves
smooth. Holes beside an edge go with it, in one piece with their neighbours; spots and openings keep their size and
their place in the whole. Edges that are sewn or laced together are trued to each other and then compared: more than
0.5 mm apart they are refused. `grading` is for one piece between control lines chosen by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from nestplan.errors import InputError, NestplanError, RuleError, told_length
from nestplan.estimate.graded_piece import GradedPiece, side_of_row
from nestplan.geometry.edge_line import line_length
from nestplan.geometry.spread import Spread
from nestplan.model.article_edits import with_pieces
from nestplan.model.job import Article
from nestplan.model.piece import Piece, Strip
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size, Where, edge_line, measure_named

__all__ = [
    "SEAM_TOLERANCE",
    "SizedArticle",
    "base_name",
    "changes_of_pieces",
    "joined_pieces",
    "meeting_edges",
    "seam_lengths",
    "sized_article",
    "sized_name",
]

SEAM_TOLERANCE = 0.5
"""mm: edges that meet differ by at most so much (the task's own bound; common practice, no source)."""
_TRUED = 3.0
"""mm: a seam whose edges differ by up to so much is trued, half at each end of each edge; a greater difference is a
fault of the pattern, not of the grading."""
_EQUAL = 0.02
"""mm: edges that differ by less are as long as each other."""
_ROUNDS = 6
"""So often the seams are trued one after the other: where two share a corner, one moves the other a little."""

_LINES: Mapping[Where, tuple[float, ...]] = {
    "both sides": (0.25, 0.75),
    "middle": (0.5,),
    "left": (0.25,),
    "bottom": (0.25,),
    "right": (0.75,),
    "top": (0.75,),
}
"""Where the lines are along which a piece is spread, in shares of the way across it."""


@dataclass(frozen=True)
class SizedArticle:
    """An article in another size; by each piece's name in the drawn size, how much wider and longer it is, mm."""

    article: Article
    changes: Mapping[str, tuple[float, float]]


def sized_name(name: str, drawn: str, size: str) -> str:
    """The name of an article, piece or strip in a size: `front M`, drawn in M, becomes `front L`."""
    return f"{base_name(name, drawn)} {size}"


def base_name(name: str, drawn: str) -> str:
    """The name without the size it is drawn in."""
    return name.removesuffix(f" {drawn}") if drawn else name


def sized_article(drawn: Article, size: Size) -> SizedArticle:
    """The article in another size, with whatever it fits changed likewise.

    Raises InputError where a measure or seam names what the article does not have, RuleError where a piece would
    become too small or edges that meet would part.
    """
    for seam in drawn.seams:
        _require_meeting(seam, seam_lengths(drawn, seam), "")
    seams = meeting_edges(drawn)
    changes = changes_of_pieces(drawn, size)
    graded = {}
    for piece in drawn.pieces:
        width, length = changes.get(piece.name, (_NONE, _NONE))
        try:
            graded[piece.name] = GradedPiece(piece, width, length)
        except NestplanError as error:
            raise error.within(f"size {size.name}, {piece.name}") from error
    _true_seams(seams, graded)
    for seam in seams:
        _require_meeting(seam, _graded_lengths(seam, graded), size.name)
    keep = drawn.sizes.rows if drawn.sizes else "as drawn"
    things: dict[str, Piece | Strip] = {}
    for piece in drawn.pieces:
        try:
            things[piece.name] = graded[piece.name].piece(sized_name(piece.name, drawn.size, size.name), keep)
        except NestplanError as error:
            raise error.within(f"size {size.name}, {piece.name}") from error
    _match_laced_rows(drawn, things)
    for strip in drawn.strips:
        things[strip.name] = msgspec.structs.replace(
            strip,
            name=sized_name(strip.name, drawn.size, size.name),
            length=_longer(strip.length, sum(_amounts_of(drawn, size, strip.name))),
        )
    seams_now = tuple(
        Seam(
            first=tuple(graded[edge.piece].moved_edge(edge) for edge in seam.first),
            second=tuple(graded[edge.piece].moved_edge(edge) for edge in seam.second),
        )
        for seam in drawn.seams
    )
    try:
        renamed = with_pieces(msgspec.structs.replace(drawn, seams=seams_now), things)
    except NestplanError as error:
        raise error.within(f"size {size.name}") from error
    made = msgspec.structs.replace(
        renamed,
        name=sized_name(drawn.name, drawn.size, size.name),
        size=size.name,
        fits={
            measure: (_longer(least, change), _longer(most, change))
            for measure, (least, most) in drawn.fits.items()
            for change in (size.changes.get(measure, 0.0),)
        },
        sizes=None,
        graded_from=drawn.name,
    )
    return SizedArticle(made, {name: (wide.amount, long.amount) for name, (wide, long) in changes.items()})


def changes_of_pieces(drawn: Article, size: Size) -> dict[str, tuple[Spread, Spread]]:
    """How every piece that changes is spread in width and in length, by its name.

    Raises InputError where a measure names what the article does not have.
    """
    amounts: dict[str, list[float]] = {}
    lines: dict[str, list[tuple[float, ...]]] = {}
    for name, change in size.changes.items():
        measure = _measure(drawn, name)
        axis = 0 if measure.along == "width" else 1
        for growth, amount in _shares(drawn, measure, change):
            amounts.setdefault(growth.name, [0.0, 0.0])[axis] += amount
            usual = _LINES["both sides"]
            lines.setdefault(growth.name, [usual, usual])[axis] = growth.lines or _LINES[growth.where]
    return {
        piece.name: (
            Spread(amounts[piece.name][0], lines[piece.name][0]),
            Spread(amounts[piece.name][1], lines[piece.name][1]),
        )
        for piece in drawn.pieces
        if piece.name in amounts
    }


def seam_lengths(article: Article, seam: Seam) -> tuple[float, float]:
    """The lengths of the edges that meet in a seam, each side's together, mm.

    Raises InputError where it names a piece or an edge that the article does not have.
    """
    pieces = {piece.name: piece for piece in article.pieces}
    first, second = (
        sum(line_length(edge_line(_piece_of(edge, pieces), edge)) for edge in edges)
        for edges in (seam.first, seam.second)
    )
    return first, second


def meeting_edges(article: Article) -> tuple[Seam, ...]:
    """All seams of an article: those recorded, and the sides of two pieces that are laced together along the whole of
    them, where they are as long as each other.

    Raises InputError where a recorded one names a piece or an edge that the article does not have.
    """
    pieces = {piece.name: piece for piece in article.pieces}
    found = list(article.seams)
    for join in article.laced_joins:
        if len({(row.piece, row.row) for row in join.rows}) < 2:
            continue
        sides = [side_of_row(pieces[row.piece], row.row) for row in join.rows]
        if sides[0] is None or sides[1] is None:
            continue
        first, second = (
            (Edge(piece=row.piece, side=side),) for row, side in zip(join.rows, sides, strict=True) if side
        )
        laced = Seam(first=first, second=second)
        lengths = seam_lengths(article, laced)
        if laced not in found and abs(lengths[0] - lengths[1]) <= SEAM_TOLERANCE:
            found.append(laced)
    return tuple(found)


def _measure(drawn: Article, name: str) -> Measure:
    measure = drawn.sizes.measure(name) if drawn.sizes else measure_named(name)
    names = [piece.name for piece in drawn.pieces] + [strip.name for strip in drawn.strips]
    for growth in measure.pieces:
        if growth.name not in names:
            raise InputError(
                f"'{drawn.name}' has no piece or strip called '{growth.name}'.",
                place=f"measure {name}",
                mend=f"Use one of: {', '.join(names)}.",
            )
    return measure


def _shares(drawn: Article, measure: Measure, change: float) -> list[tuple[Growth, float]]:
    """Who takes part in a change of a measure, each with how much of it one copy takes, mm."""
    growths = measure.pieces or tuple(Growth(name=name) for name in joined_pieces(drawn))
    pieces = {piece.name: piece for piece in drawn.pieces}
    if measure.along == "length":
        return [(growth, change * (1.0 if growth.share is None else growth.share)) for growth in growths]
    widths = {
        growth.name: pieces[growth.name].around_length or float(np.ptp(pieces[growth.name].ring[:, 0]))
        for growth in growths
        if growth.share is None and growth.name in pieces
    }
    round_about = sum(width * pieces[name].copies_in_set for name, width in widths.items())
    return [
        (growth, change * (widths[growth.name] / round_about if growth.name in widths else _whole(growth)))
        for growth in growths
    ]


def _whole(growth: Growth) -> float:
    """The share said, or all of it for a strip that is named: it goes round the wearer by itself."""
    return 1.0 if growth.share is None else growth.share


def joined_pieces(drawn: Article) -> tuple[str, ...]:
    """The pieces that go round the wearer or that seams and laced joins hold together, in their order; all where
    nothing is said of it."""
    joined = {edge.piece for seam in drawn.seams for edge in seam.edges}
    joined |= {row.piece for join in drawn.laced_joins for row in join.rows}
    joined |= {piece.name for piece in drawn.pieces if piece.around}
    return tuple(piece.name for piece in drawn.pieces if not joined or piece.name in joined)


def _amounts_of(drawn: Article, size: Size, name: str) -> list[float]:
    """What each change of a size adds to a strip, mm."""
    return [
        amount
        for measure, change in size.changes.items()
        for growth, amount in _shares(drawn, _measure(drawn, measure), change)
        if growth.name == name
    ]


def _longer(length: float, by: float) -> float:
    """A length changed; one that is not changed stays the very value, as it was written."""
    return round(length + by, 4) if by else length


def _true_seams(seams: Sequence[Seam], graded: Mapping[str, GradedPiece]) -> None:
    """Make the edges that meet as long as each other, where grading parted them by a little."""
    for _ in range(_ROUNDS):
        for seam in seams:
            lengths = _graded_lengths(seam, graded)
            if not _EQUAL < abs(lengths[0] - lengths[1]) <= _TRUED:
                continue
            aim = sum(lengths) / 2.0
            for edges, length in zip((seam.first, seam.second), lengths, strict=True):
                for edge in edges:
                    graded[edge.piece].lengthen(edge, (aim - length) / len(edges))


def _graded_lengths(seam: Seam, graded: Mapping[str, GradedPiece]) -> tuple[float, float]:
    """The lengths of the edges of a seam, each side's together, mm."""
    first, second = (
        sum(graded[edge.piece].edge_length(edge) for edge in edges) for edges in (seam.first, seam.second)
    )
    return first, second


def _match_laced_rows(drawn: Article, things: dict[str, Piece | Strip]) -> None:
    """Give the second row of a laced join as many holes as the first, where rows of a pitch came to differ by one."""
    for join in drawn.laced_joins:
        first, second = join.rows[0], join.rows[-1]
        one, other = things.get(first.piece), things.get(second.piece)
        if not (isinstance(one, Piece) and isinstance(other, Piece)) or first == second:
            continue
        holes = _holes(one, first.row) - len(first.skip) + len(second.skip)
        if _holes(other, second.row) != holes:
            rows = tuple(
                msgspec.structs.replace(row, pitch=None, number=holes) if row.name == second.row else row
                for row in other.rows
            )
            things[second.piece] = msgspec.structs.replace(other, rows=rows)


def _holes(piece: Piece, row: str) -> int:
    return len(piece.marks_of_rows[[each.name for each in piece.rows].index(row)])


def _require_meeting(seam: Seam, lengths: tuple[float, float], size: str) -> None:
    """Raise RuleError, with both lengths and the mend, where the edges of a seam differ; `size` "" is the drawn one."""
    first, second = lengths
    if abs(first - second) > SEAM_TOLERANCE:
        raise RuleError(
            f"In {f'size {size}' if size else 'the drawn size'} the edges of a seam differ: "
            f"{_words(seam.first)}, {told_length(first)}; {_words(seam.second)}, {told_length(second)}.",
            mend="Let the pieces of both take the same share of the change."
            if size
            else "Correct the drawn edges, or take the seam out.",
        )


def _words(edges: Iterable[Edge]) -> str:
    return " and ".join(edge.words for edge in edges)


def _piece_of(edge: Edge, pieces: Mapping[str, Piece]) -> Piece:
    if edge.piece not in pieces:
        raise InputError(
            f"A seam names the piece '{edge.piece}', which the article does not have.",
            place="seams",
            mend=f"Use one of: {', '.join(pieces)}.",
        )
    return pieces[edge.piece]


_NONE = Spread(0.0)
