"""Pieces of a job from the templates found in a photograph and from what the person said of them.

What drawn rings and dots mean, which templates are a pair, which are made symmetric and what they are called is said by
the person; nothing of it is decided here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import bounds, make_ring
from nestplan.intake.photo.template_likeness import SymmetryAxis, made_symmetric
from nestplan.intake.photo.template_marks import DrawnSpot, RoundHole
from nestplan.intake.photo.templates import FoundTemplate
from nestplan.model.mark_kinds import LARGEST_PUNCH
from nestplan.model.piece import LayerCut, Mark, Piece, StretchRule

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from nestplan.model.values import Points

    Floats = NDArray[np.float64]

__all__ = ["Meaning", "TemplateAnswers", "letter_of", "marks_drawn", "pieces_of_templates"]


@dataclass(frozen=True)
class Meaning:
    """What the drawn marks of one form and colour mean: `punch here` (with a diameter in mm, or as wide as drawn),
    `mark here`, or nothing."""

    do: Literal["punch", "mark", "ignore"]
    diameter: float | None = None


@dataclass(frozen=True)
class TemplateAnswers:
    """What the person said of the templates, by their numbers from 0.

    `names`; what drawn marks mean by their group (`red rings`); `pairs` of which the first is kept as left and right;
    `symmetric`: the axes of those to be made exactly so; `left_out`; whether arrows are stretch axes.
    """

    names: Mapping[int, str] = field(default_factory=dict)
    meanings: Mapping[str, Meaning] = field(default_factory=dict)
    pairs: Sequence[tuple[int, int]] = ()
    symmetric: Mapping[int, SymmetryAxis] = field(default_factory=dict)
    left_out: frozenset[int] = frozenset()
    arrows: bool = True


def letter_of(number: int) -> str:
    """The placeholder of a template without a name: A to Z, then AA, AB …"""
    letters = ""
    number += 1
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def marks_drawn(found: Sequence[FoundTemplate]) -> dict[str, int]:
    """How many rings and dots of each colour are drawn on the templates, by group."""
    return dict(sorted(Counter(spot.group for each in found for spot in each.inside.spots).items()))


def pieces_of_templates(
    found: Sequence[FoundTemplate], answers: TemplateAnswers, *, pixel: float = 0.4
) -> tuple[Piece, ...]:
    """One piece for each template that is not left out, the second of a pair in its first; corners at the origin.

    `pixel` is how many mm one of the photograph showed.

    Raises InputError if two pieces would have one name or a drawn dot is to be punched without a diameter, ShapeError
    if an outline encloses nothing.
    """
    seconds = {second for _, second in answers.pairs}
    firsts = {first for first, _ in answers.pairs}
    pieces = [
        _piece(each, number, answers, pixel, pair=number in firsts)
        for number, each in enumerate(found)
        if number not in answers.left_out and number not in seconds
    ]
    twice = [name for name, count in Counter(piece.name for piece in pieces).items() if count > 1]
    if twice:
        raise InputError(f"Two templates are called '{twice[0]}'.", mend="Give each a name of its own.")
    return tuple(pieces)


def _piece(
    template: FoundTemplate, number: int, answers: TemplateAnswers, pixel: float, *, pair: bool
) -> Piece:
    axis = answers.symmetric.get(number)
    outline = template.outline if axis is None else made_symmetric(template, axis, pixel)
    ring = make_ring(outline, place=f"template {letter_of(number)}")
    left, low, *_ = bounds(ring)
    corner = np.array([left, low])
    holes, spots = template.inside.holes, template.inside.spots
    if axis is not None and axis.with_marks:
        holes, spots = _holes_mirrored(holes, axis), _spots_mirrored(spots, axis)
    marks = [
        Mark(at=_at(hole.at, corner), do="punch", diameter=round(hole.diameter, 1))
        for hole in holes
        if hole.diameter <= LARGEST_PUNCH
    ]
    marks += [mark for spot in spots for mark in _mark(spot, answers.meanings.get(spot.group), corner)]
    windows = [_disc(hole) for hole in holes if hole.diameter > LARGEST_PUNCH] + list(
        template.inside.openings
    )
    stretch = None
    if answers.arrows and len(template.inside.arrows) == 1:
        arrow = template.inside.arrows[0]
        way = np.subtract(arrow.tip, arrow.tail)
        stretch = StretchRule(axis=round(float(np.degrees(np.arctan2(way[1], way[0]))) % 180.0, 1) % 180.0)
    return Piece(
        name=answers.names.get(number, letter_of(number)),
        outline=_points(ring - corner),
        holes=tuple(_points(make_ring(window) - corner) for window in windows),
        marks=tuple(marks),
        cuts=(LayerCut(stretch=stretch),),
        pair=pair,
    )


def _mark(spot: DrawnSpot, meaning: Meaning | None, corner: Floats) -> list[Mark]:
    if meaning is None or meaning.do == "ignore":
        return []
    if meaning.do == "mark":
        return [Mark(at=_at(spot.at, corner), do="mark")]
    diameter = meaning.diameter
    if diameter is None:
        if spot.form == "dot":
            raise InputError(
                f"How wide a hole to punch at the {spot.group} is not said: a dot has no width of its own.",
                mend=f"Say it, such as '{spot.group} = 4 mm'.",
            )
        diameter = round(spot.diameter, 1)
    return [Mark(at=_at(spot.at, corner), do="punch", diameter=diameter)]


def _holes_mirrored(holes: Sequence[RoundHole], axis: SymmetryAxis) -> tuple[RoundHole, ...]:
    """The holes moved to be each other's exact mirror images."""
    places, partners = _symmetric_places([hole.at for hole in holes], axis)
    return tuple(
        RoundHole(place, (hole.diameter + holes[partner].diameter) / 2)
        for hole, place, partner in zip(holes, places, partners, strict=True)
    )


def _spots_mirrored(spots: Sequence[DrawnSpot], axis: SymmetryAxis) -> tuple[DrawnSpot, ...]:
    places, partners = _symmetric_places([spot.at for spot in spots], axis)
    return tuple(
        DrawnSpot(spot.form, spot.colour, place, (spot.diameter + spots[partner].diameter) / 2)
        for spot, place, partner in zip(spots, places, partners, strict=True)
    )


def _symmetric_places(
    places: Sequence[tuple[float, float]], axis: SymmetryAxis
) -> tuple[list[tuple[float, float]], list[int]]:
    """Places half-way between each and the mirror image of its partner, and the partners' numbers."""
    if not places:
        return [], []
    given = np.array(places)
    mirrored = axis.mirrored(given)
    partner = np.hypot(*(given[:, None] - mirrored[None]).transpose(2, 0, 1)).argmin(axis=1)
    middle = (given + mirrored[partner]) / 2
    return [(float(x), float(y)) for x, y in middle], [int(each) for each in partner]


def _disc(hole: RoundHole) -> Floats:
    angle = np.arange(96) * 2 * np.pi / 96
    return np.asarray(hole.at + hole.diameter / 2 * np.column_stack([np.cos(angle), np.sin(angle)]))


def _at(place: tuple[float, float], corner: Floats) -> tuple[float, float]:
    return round(place[0] - float(corner[0]), 2), round(place[1] - float(corner[1]), 2)


def _points(ring: Floats) -> Points:
    return tuple((round(float(x), 3), round(float(y), 3)) for x, y in ring)
