"""The layers of a job: read from words and put into words, named otherwise, and all pieces of an article cut from the
same."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from nestplan.errors import InputError
from nestplan.geometry.units import MM_PER_OUNCE, read_thickness_range
from nestplan.model.article_edits import with_pieces
from nestplan.model.job import Job, Layer
from nestplan.model.piece import LayerCut, Opening, Piece, Strip
from nestplan.tasks.job_edits import article_of_piece, with_article

__all__ = ["all_cut_like", "layer_in_words", "read_layer", "with_layers"]


def read_layer(text: str) -> Layer:
    """A layer, its kinds of leather and its thickness, as `outer = cow side, 2-2.4 mm` says them.

    Raises InputError for a text without a name, UnitError for a thickness without a unit.
    """
    name, _, rest = text.partition("=")
    if not name.strip():
        raise InputError(f"'{text}' is no layer.", mend="Give such as 'outer = cow side'.")
    kinds, thickness = [], None
    for part in filter(None, (part.strip() for part in rest.split(","))):
        if part[0].isdigit():
            thickness = read_thickness_range(part)
        else:
            kinds.append(part)
    return Layer(name=name.strip(), leather=tuple(kinds), thickness=thickness)


def layer_in_words(layer: Layer, units: Literal["mm", "in"]) -> str:
    """A layer as `read_layer` reads it: `outer = cow side, 5-6 oz`."""
    told = list(layer.leather)
    if layer.thickness is not None:
        scale, unit = (MM_PER_OUNCE, "oz") if units == "in" else (1.0, "mm")
        low, high = (f"{each / scale:.4g}" for each in layer.thickness)
        told.append(f"{low} {unit}" if low == high else f"{low}-{high} {unit}")
    return f"{layer.name} = {', '.join(told)}" if told else layer.name


def with_layers(job: Job, layers: Sequence[Layer]) -> tuple[Job, dict[str, str]]:
    """The job with other layers, and what those that pieces are cut from are called now, by their old names: one that
    is not among them any more is the new one at its place.

    Raises InputError where a layer that something is cut from is gone and none has come in its place.
    """
    renamed = _renamed(job, layers)
    articles = []
    for article in job.articles:
        pieces: dict[str, Piece | Strip] = {
            piece.name: _with_names(piece, renamed) for piece in article.pieces
        }
        pieces |= {
            strip.name: msgspec.structs.replace(strip, layer=renamed.get(strip.layer, strip.layer))
            for strip in article.strips
        }
        articles.append(with_pieces(article, pieces))
    return msgspec.structs.replace(job, layers=tuple(layers), articles=tuple(articles)), renamed


def all_cut_like(job: Job, piece: str) -> Job:
    """The job with all pieces of an article cut from the same layers as one of them, with the same overcut, faces and
    regions; each keeps the direction to the stretch that it has in a layer.

    Raises InputError where a piece cannot be, since something on it is done to a layer that it would not have.
    """
    article, like = article_of_piece(job, piece), job.piece(piece)

    def cut_of(other: Piece, cut: LayerCut) -> LayerCut:
        own = other.find_cut(cut.layer)
        if own is None or own.stretch is None:
            return cut
        return msgspec.structs.replace(cut, stretch=own.stretch)

    changed: dict[str, Piece | Strip] = {
        other.name: msgspec.structs.replace(other, cuts=tuple(cut_of(other, cut) for cut in like.cuts))
        for other in article.pieces
    }
    return with_article(job, article.name, with_pieces(article, changed))


def _renamed(job: Job, layers: Sequence[Layer]) -> dict[str, str]:
    before, now = [layer.name for layer in job.layers], [layer.name for layer in layers]
    new = [name for name in now if name not in before]
    renamed: dict[str, str] = {}
    for place, name in enumerate(before):
        if name in now or not new:
            continue
        same_place = now[place] if place < len(now) and now[place] in new else new[0]
        renamed[name] = same_place
        new.remove(same_place)
    return renamed


def _with_names(piece: Piece, renamed: Mapping[str, str]) -> Piece:
    """The piece with its layers called otherwise, wherever it names them."""

    def names(layers: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(renamed.get(name, name) for name in layers)

    replace = msgspec.structs.replace
    return replace(
        piece,
        cuts=tuple(replace(cut, layer=renamed.get(cut.layer, cut.layer)) for cut in piece.cuts),
        marks=tuple(replace(mark, layers=names(mark.layers)) for mark in piece.marks),
        rows=tuple(replace(row, layers=names(row.layers)) for row in piece.rows),
        parts=tuple(replace(part, layers=names(part.layers)) for part in piece.parts),
        holes=tuple(
            replace(hole, layers=names(hole.layers)) if isinstance(hole, Opening) else hole
            for hole in piece.holes
        ),
    )
