"""The key under a drawing: every line, pattern and letter that is on it, in words; nothing that is not."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np

from nestplan.drawing.lettering import shortened, text_width
from nestplan.drawing.primitives import Fill, Picture
from nestplan.geometry.units import show_length
from nestplan.model import Flaw, Plan
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.rules import zones_of
from nestplan.sheets.cutting_order import CuttingStep
from nestplan.sheets.hide_drawing import HideDrawing
from nestplan.sheets.hide_styles import SPOT_SIZE, HideStyle
from nestplan.sheets.unit_formatting import LengthUnit

__all__ = [
    "LegendEntry",
    "Swatch",
    "draw_legend",
    "legend_entries",
    "scale_bar",
]

_LETTERS, _ROW, _SWATCH = 2.6, 4.6, 9.0
"""Size of the letters, height of a row and width of a sample, mm."""
Swatch = Callable[[Picture, float, float], None]
"""Draws a small sample into a picture, its left end at (x, y) mm."""
LegendEntry = tuple[Swatch, str]
"""A sample and its words."""


def draw_legend(
    picture: Picture, entries: Iterable[LegendEntry], style: HideStyle, left: float, top: float, width: float
) -> float:
    """Draw the key in rows from (left, top) mm on the paper downwards; returns the height it took.

    Of entries with the same words only the first is drawn: several hides may share one key.
    """
    x, y = left, top - _ROW
    shown: set[str] = set()
    for swatch, words in entries:
        if words in shown:
            continue
        shown.add(words)
        words = shortened(words, _LETTERS, width - _SWATCH - 1.5)
        needed = _SWATCH + 1.5 + text_width(words, _LETTERS) + 5.0
        if x > left and x + needed - 5.0 > left + width:
            x, y = left, y - _ROW
        swatch(picture, x, y + 1.0)
        picture.text(x + _SWATCH + 1.5, y, words, _LETTERS, color=style.ink, layer="legend")
        x += needed
    return top - y + 1.0


def legend_entries(
    drawing: HideDrawing, plan: Plan, steps: Sequence[CuttingStep], *, regions: bool = True
) -> list[LegendEntry]:
    """What is on the drawing, as pairs of a small sample and its words.

    Without `regions` the stretch arrows name none: for a key that several hides share.
    """
    entries = _cutting_entries(drawing, plan, steps) + _hide_entries(drawing)
    return entries + (_stretch_entries(drawing) if regions else _plain_stretch(drawing))


def _cutting_entries(drawing: HideDrawing, plan: Plan, steps: Sequence[CuttingStep]) -> list[LegendEntry]:
    """What is cut, what is cut already, what is kept."""
    style, drawn = drawing.view.style, drawing.picture.on
    here = [placed for placed in plan.placements if placed.hide == drawing.hide.name]
    strips = any(step.group == "edge" for step in steps) and style.strip_fill
    entries = (
        (steps, _box(style, style.piece_fill, "cut"), "cut line, numbered in cutting order"),
        (
            any(placed.overcut > 0.0 for placed in here),
            _line(style, "finished"),
            "finished line, trimmed to after gluing",
        ),
        (drawn("inside"), _inner(style, later=False), "openings, holes and slits: cut now"),
        (
            drawn("later"),
            _inner(style, later=True),
            "holes and slits: mark now, cut after gluing and trimming",
        ),
        (drawn("spots"), _spot(style), "spot to mark"),
        (strips, _box(style, style.strip_fill, "cut"), "strips"),
        (drawn("anchors"), _points(style), "P and Q, the points to measure to"),
        (any(placed.done for placed in here), _box(style, style.done_fill, "done"), "already cut"),
        (drawn("offcuts"), _box(style, style.offcut_fill, "offcut"), "offcut to keep"),
    )
    return [(swatch, words) for shown, swatch, words in entries if shown]


def _hide_entries(drawing: HideDrawing) -> list[LegendEntry]:
    """The hide's flaws by their kinds, the lines to measure from, its regions."""
    style, hide, drawn = drawing.view.style, drawing.hide, drawing.picture.on
    entries: list[LegendEntry] = []
    for kind in FLAW_KINDS:
        flaw = next((flaw for flaw in hide.flaws if flaw.spoils == kind.name), None)
        if flaw is not None:
            entries.append((_flaw(style, flaw), f"{kind.letter}: {kind.words}"))
    if drawn("margins"):
        entries.append((_line(style, "margin"), "keep-away margin"))
    if drawn("tape"):
        line, words = ("backbone", "backbone") if hide.backbone is not None else ("base", "line A–B")
        entries.append((_line(style, line), words))
        entries.append((_line(style, "base"), "rear edge, square to A–B"))
    if drawn("regions"):
        entries.append((_line(style, "region"), "edge of a region"))
    return entries


def scale_bar(
    picture: Picture, right: float, y: float, ratio: float, units: LengthUnit, style: HideStyle
) -> None:
    """A bar of a round length on the leather, ending at `right` mm on the paper, with its length in words."""
    lengths = {
        "mm": (1.0, 5.0, 10.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0),
        "in": tuple(25.4 * inches for inches in (0.25, 1.0, 2.0, 4.0, 12.0, 24.0, 36.0, 120.0, 240.0)),
    }[units]
    length = max((each for each in lengths if each / ratio <= 60.0), default=lengths[0])
    left = right - length / ratio
    stroke = style.stroke(0.3)
    picture.line([(left, y + 1.0), (left, y), (right, y), (right, y + 1.0)], stroke, layer="scale")
    words = f"{show_length(length, units, decimals=0 if length >= 1.0 and units == 'mm' else None)} on the leather"
    picture.text(left - 2.0, y, words, _LETTERS, anchor="right", color=style.ink, layer="scale")


def _plain_stretch(drawing: HideDrawing) -> list[LegendEntry]:
    """One arrow for any direction of most stretch, and one for every way, where they are drawn."""
    style = drawing.view.style
    axes = [zone.stretch for zone in zones_of(drawing.hide)]
    entries: list[LegendEntry] = []
    if any(isinstance(axis, float) for axis in axes):
        entries.append((_arrow(style, 0.0), "the way it stretches most"))
    if any(isinstance(axis, str) for axis in axes):
        entries.append((_arrow(style, "all"), "stretches every way"))
    return entries


def _stretch_entries(drawing: HideDrawing) -> list[LegendEntry]:
    """One arrow for each direction of most stretch, with the regions it holds for."""
    hide, style, turn = drawing.hide, drawing.view.style, drawing.view.turn
    axes: dict[float | str | None, list[str]] = {}
    axis: float | str | None
    for zone in zones_of(hide):
        axis = (
            zone.stretch if zone.stretch is None or isinstance(zone.stretch, str) else round(zone.stretch, 1)
        )
        axes.setdefault(axis, []).append(zone.name or ("the rest" if hide.regions else ""))
    entries: list[LegendEntry] = []
    for axis, names in axes.items():
        if axis is None:
            continue
        where = f" ({', '.join(names)})" if any(names) else ""
        words = "stretches every way" if isinstance(axis, str) else "stretches most this way"
        entries.append((_arrow(style, axis if isinstance(axis, str) else axis + turn), words + where))
    return entries


def _box(style: HideStyle, color: str | None, kind: str) -> Swatch:
    stroke = {"cut": style.cut_line, "done": style.done_line, "offcut": style.offcut_line}[kind]

    def draw(picture: Picture, x: float, y: float) -> None:
        ring = [
            (x + 0.5, y - 1.3),
            (x + _SWATCH - 0.5, y - 1.3),
            (x + _SWATCH - 0.5, y + 1.5),
            (x + 0.5, y + 1.5),
        ]
        picture.area(ring, stroke, Fill(color) if color else None, layer="legend")

    return draw


def _line(style: HideStyle, kind: str) -> Swatch:
    stroke = {
        "finished": style.finished_line,
        "margin": style.margin_line,
        "backbone": style.backbone,
        "base": style.base_line,
        "region": style.region_line,
    }[kind]

    def draw(picture: Picture, x: float, y: float) -> None:
        picture.line([(x, y), (x + _SWATCH, y)], stroke, layer="legend")

    return draw


def _inner(style: HideStyle, *, later: bool) -> Swatch:
    """A hole and a slit."""
    stroke = style.later_line if later else style.inner_line

    def draw(picture: Picture, x: float, y: float) -> None:
        picture.circle(x + 2.0, y, 1.2, stroke, layer="legend")
        picture.line([(x + 4.6, y), (x + _SWATCH - 0.5, y)], stroke, layer="legend")

    return draw


def _spot(style: HideStyle) -> Swatch:
    def draw(picture: Picture, x: float, y: float) -> None:
        middle, half = x + _SWATCH / 2, SPOT_SIZE / 2
        diamond = [(middle - half, y), (middle, y - half), (middle + half, y), (middle, y + half)]
        picture.area(diamond, style.inner_line, layer="legend")

    return draw


def _points(style: HideStyle) -> Swatch:
    def draw(picture: Picture, x: float, y: float) -> None:
        picture.circle(x + 2.0, y, 0.55, None, Fill(style.ink), layer="legend")
        picture.text(x + 3.0, y - 1.0, "P", 2.3, color=style.ink, layer="legend")
        picture.circle(x + 6.2, y, 0.5, style.stroke(0.2), Fill(style.background), layer="legend")
        picture.text(x + 7.2, y - 1.0, "Q", 2.3, color=style.ink, layer="legend")

    return draw


def _flaw(style: HideStyle, flaw: Flaw) -> Swatch:
    def draw(picture: Picture, x: float, y: float) -> None:
        angles = np.linspace(0.0, 2.0 * math.pi, 24, endpoint=False)
        ring = np.column_stack((x + 4.5 + 4.0 * np.cos(angles), y + 0.1 + 1.6 * np.sin(angles)))
        picture.area(ring, style.flaw_edge(flaw), Fill(None, style.flaw_fill(flaw).hatch), layer="legend")

    return draw


def _arrow(style: HideStyle, axis: float | str) -> Swatch:
    def draw(picture: Picture, x: float, y: float) -> None:
        stroke = style.stroke(0.3, color=style.stretch)
        for angle in (0.0, 90.0) if isinstance(axis, str) else (axis,):
            turn = math.radians(angle)
            along, across = (
                np.array((math.cos(turn), math.sin(turn))),
                np.array((-math.sin(turn), math.cos(turn))),
            )
            middle = np.array((x + _SWATCH / 2, y))
            for side in (-1.0, 1.0):
                end = middle + side * along * 1.9
                picture.line(np.array((middle, end)), stroke, layer="legend")
                back = end - side * along * 0.9
                picture.line(
                    np.array((back + across * 0.6, end, back - across * 0.6)), stroke, layer="legend"
                )

    return draw
