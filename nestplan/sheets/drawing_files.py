"""Drawing files of plans, pieces and hides, as DXF and SVG at true size, for a plotter or a cutting table.

A plan's file holds, in cutting order, each thing's inner cuts and then its outline; a straight cut that two
shapes share stands there once. Hide and piece files use the layer words that nestplan itself reads. All
coordinates are the hide's (or the piece's) own, in mm; an SVG page begins at their lower left corner.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from nestplan.drawing.label_placement import largest_disc_in_ring
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import LineStyle, Picture, Points, Primitive, bounds_of, moved
from nestplan.drawing.shared_cuts import SharedCuts
from nestplan.errors import InputError
from nestplan.model import Hide, Job, Mark, Piece, Placement, Plan
from nestplan.model.layer_work import drawing_layer
from nestplan.model.piece import cut_ring
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.inner_work import inner_lines

__all__ = [
    "PLAN_LAYERS",
    "hide_lines",
    "piece_lines",
    "plan_lines",
    "write_drawing_file",
]

PLAN_LAYERS: dict[str, tuple[str, int]] = {
    "cut_inside": ("openings, holes and slits: cut these first", 5),
    "cut_strips": ("straps and lace, shared cuts once", 3),
    "cut_outline": ("cut lines of pieces", 1),
    "draw_finished": ("finished lines inside an overcut: draw, do not cut", 8),
    "draw_marks": ("marks, and holes to punch after gluing: draw, do not cut", 6),
    "note_numbers": ("numbers in cutting order", 7),
    "hide_outline": ("the hide's edge, for lining up", 9),
    "hide_flaws": ("flaws, for lining up", 9),
}
"""Layers of a plan's drawing file, what is on them, and their DXF colour index (ACI)."""
_LINE = LineStyle(0.2)
_SPOT_RADIUS = 1.0
"""A spot to mark is a circle of this radius, mm."""


def plan_lines(plan: Plan, job: Job, hide: Hide) -> Picture:
    """What is cut from one hide, in cutting order, in hide coordinates.

    Of what is done inside a piece only that of the placement's own layer stands there: cut, where it is done at the
    table; drawn, where it is done once the layers are glued and trimmed. What is already cut is left out.
    """
    picture = Picture()
    for ring in (hide.ring, *hide.hole_rings):
        picture.area(ring, _LINE, layer="hide_outline")
    for flaw in hide.flaws:
        picture.area(flaw.ring, _LINE, layer="hide_flaws")
    shared = SharedCuts()
    for cut in cutting_steps(plan, job, hide):
        for number, member in enumerate(cut.members, start=cut.number):
            placed = plan.placements[member]
            if placed.piece:
                _inner_lines(picture, job.piece(placed.piece), placed)
            layer = "cut_outline" if placed.piece else "cut_strips"
            for line, closed in shared.new_lines(placed.cut_ring):
                if closed:
                    picture.area(line, _LINE, layer=layer)
                else:
                    picture.line(line, _LINE, layer=layer)
            if placed.strip and placed.spiral:
                picture.line(_spiral(placed, job.strip(placed.strip).width), _LINE, layer=layer)
            if placed.overcut > 0.0:
                picture.area(placed.finished_ring, _LINE, layer="draw_finished")
            _number(picture, str(number), placed.finished_ring)
    return picture


def piece_lines(job: Job, pieces: Sequence[Piece] | None = None, *, gap: float = 20.0) -> Picture:
    """Pieces side by side, `gap` mm apart, as drawn: outline, openings, holes, slits, marks (small circles),
    parts, the stretch axis, names. To which layers something is done, and when, its layer in the drawing says.

    Cut lines of layers with an overcut stand on layers of their own, `ignore_cut_` and the layer's name.
    """
    chosen = pieces if pieces is not None else [piece for article in job.articles for piece in article.pieces]
    picture = Picture()
    right = 0.0
    for piece in chosen:
        one = Picture()
        one.area(piece.ring, _LINE, layer="outline")
        for opening in piece.openings:
            one.area(opening.ring, _LINE, layer=_plain(drawing_layer("hole", piece, opening)))
        for mark in piece.all_marks:
            _mark(
                one, mark, np.array(mark.at), mark.angle, _plain(drawing_layer(mark.kind.layer, piece, mark))
            )
        for part in piece.parts:
            one.area(part.ring, _LINE, layer="part")
        for cut in piece.cuts:
            if cut.overcut is not None and cut.overcut.least > 0.0:
                layer = f"ignore_cut_{_plain(cut.layer)}"
                one.area(cut_ring(piece.ring, cut.overcut.least), _LINE, layer=layer)
        x, y, radius = largest_disc_in_ring(piece.ring)
        axis = next((cut.stretch.axis for cut in piece.cuts if cut.stretch is not None), None)
        if axis is not None:
            one.line(_axis_line(x, y, axis, 0.6 * radius), _LINE, layer="stretch")
        # The name stands inside its piece: so whoever reads the file knows whose it is.
        one.text(x, y, piece.name, min(5.0, 0.5 * radius), anchor="middle", layer="note_names")
        xmin, ymin, xmax, _ = one.bounds()
        picture.add(moved(one, right - xmin, -ymin))
        right += xmax - xmin + gap
    return picture


def hide_lines(hide: Hide) -> Picture:
    """A hide's outline, openings, flaws by what they spoil, regions by name, and backbone from neck to tail."""
    picture = Picture()
    picture.area(hide.ring, _LINE, layer="outline")
    for ring in hide.hole_rings:
        picture.area(ring, _LINE, layer="hole")
    for flaw in hide.flaws:
        if flaw.disc is not None:
            picture.circle(*flaw.disc.at, flaw.disc.diameter / 2.0, _LINE, layer=flaw.kind.layer)
        else:
            picture.area(flaw.ring, _LINE, layer=flaw.kind.layer)
    for region in hide.regions:
        picture.area(region.ring, _LINE, layer=f"region {_plain(region.name)}")
    if hide.backbone is not None:
        picture.line(np.asarray(hide.backbone), _LINE, layer="backbone")
    if hide.stretch is not None:
        x, y, radius = largest_disc_in_ring(hide.ring)
        picture.line(_axis_line(x, y, hide.stretch, 0.3 * radius), _LINE, layer="stretch")
    return picture


def write_drawing_file(picture: Iterable[Primitive], path: str | Path, *, title: str = "") -> None:
    """Write lines at true size as DXF or SVG, as the file's ending says.

    Raises InputError for another ending or a file that cannot be written.
    """
    target = Path(path)
    items = list(picture)
    if target.suffix.lower() == ".dxf":
        from nestplan.drawing.dxf import write_dxf

        write_dxf(items, target, layer_colors={name: color for name, (_, color) in PLAN_LAYERS.items()})
    elif target.suffix.lower() == ".svg":
        from nestplan.drawing.svg import write_svg

        write_svg(_true_size_page(items), target, title=title)
    else:
        raise InputError(
            f"A drawing cannot be written as “{target.suffix}”.",
            file=str(target),
            mend="Give a name that ends in .dxf or .svg.",
        )


def _true_size_page(items: Sequence[Primitive], *, border: float = 1.0) -> Page:
    """A page just large enough for the lines, with `border` mm round them, without a background."""
    xmin, ymin, xmax, ymax = bounds_of(items)
    page = Page(xmax - xmin + 2 * border, ymax - ymin + 2 * border, background="")
    page.picture.add(moved(items, border - xmin, border - ymin))
    return page


def _inner_lines(picture: Picture, piece: Piece, placed: Placement) -> None:
    """What is done to the placement's own layer: cut at the table, or drawn for later."""
    for line in inner_lines(piece, placed.layer, placed.pose):
        layer = "cut_inside" if line.cuts and not line.later else "draw_marks"
        x, y = (float(value) for value in line.points[0])
        if line.symbol == "opening":
            picture.area(line.points, _LINE, layer=layer)
        elif line.symbol == "bar":
            picture.line(line.points, _LINE, layer=layer)
        else:
            picture.circle(x, y, line.radius or _SPOT_RADIUS, _LINE, layer=layer)


def _mark(picture: Picture, mark: Mark, at: Points, angle: float, layer: str) -> None:
    """Draw a mark at `at` (2,), turned to `angle` degrees."""
    x, y = float(at[0]), float(at[1])
    if mark.kind.symbol == "circle" and mark.diameter:
        picture.circle(x, y, mark.diameter / 2.0, _LINE, layer=layer)
    elif mark.kind.symbol == "bar" and mark.length:
        half = np.array((math.cos(math.radians(angle)), math.sin(math.radians(angle)))) * mark.length / 2.0
        picture.line(np.array((at - half, at + half)), _LINE, layer=layer)
    else:
        picture.circle(x, y, _SPOT_RADIUS, _LINE, layer=layer)


def _axis_line(x: float, y: float, axis: float, reach: float) -> Points:
    """A line (2, 2) through a point along an axis in degrees, `reach` mm to both sides."""
    half = reach * np.array((math.cos(math.radians(axis)), math.sin(math.radians(axis))))
    middle = np.array((x, y))
    return np.array((middle - half, middle + half))


def _number(picture: Picture, words: str, ring: Points) -> None:
    x, y, radius = largest_disc_in_ring(ring)
    size = min(20.0, max(3.0, 0.9 * radius))
    picture.text(x, y - 0.38 * size, words, size, anchor="middle", layer="note_numbers")


def _spiral(placed: Placement, width: float) -> Points:
    """The lace's inner edge: a spiral of Archimedes from the disc's edge inwards, one `width` mm a turn.

    It stops where a disc of one and a half widths is left, which no knife turns round.
    """
    ring = placed.cut_ring
    low, high = ring.min(axis=0), ring.max(axis=0)
    x, y = (low + high) / 2.0
    outer = float(min(high - low)) / 2.0
    turns = max((outer - 1.5 * width) / width, 0.5)
    angles = np.linspace(0.0, 2.0 * math.pi * turns, max(int(turns * 72), 36))
    radius = outer - width * angles / (2.0 * math.pi)
    return np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles)))


def _plain(name: str) -> str:
    """A name without the letters that DXF forbids in a layer's name."""
    return "".join("_" if letter in '<>/\\":;?*|=`,' or letter < " " else letter for letter in name)
