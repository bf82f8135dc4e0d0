"""One hide of a plan as a drawing: outline, flaws, regions, backbone, stretch, what is cut from it, what is left.

The drawing is in mm on the leather; widths of lines and sizes of letters are given in mm on the paper and
multiplied by the view's ratio, so that a paper may scale it as a whole. Where words stand is in `labels`,
the order of cutting in `cutting_order`, the pages round it in `cutsheet` and `pictures`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from nestplan.drawing.label_placement import Spots
from nestplan.drawing.primitives import Fill, Outline, Points, Sketch
from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import offset_outward
from nestplan.model import Hide, Job, Placement, Plan
from nestplan.model.rules import zones_of
from nestplan.sheets.cutting_order import Cut
from nestplan.sheets.palette import Look
from nestplan.sheets.positions import Spot, TapeFrame, anchor_points, tape_frame

__all__ = [
    "HideDrawing",
    "View",
    "draw_flaws",
    "draw_hide",
    "draw_placements",
    "draw_tape_lines",
    "rear_line",
    "standing_turn",
]


@dataclass(frozen=True)
class View:
    """How a hide is looked at: always from the grain side, turned by `turn` degrees, `ratio` mm a paper mm."""

    turn: float
    ratio: float
    look: Look

    def at(self, points: Points) -> Points:
        """Hide coordinates (n, 2) as this view has them."""
        if self.turn == 0.0:
            return points
        return np.asarray(Pose(0.0, 0.0, self.turn).apply(points))

    def spot(self, spot: Spot) -> Spot:
        x, y = self.at(np.array((spot,)))[0]
        return float(x), float(y)


@dataclass
class HideDrawing:
    """A drawn hide: its sketch, the boxes that words take, the steps whose number found no room.

    `covered` is the area of everything drawn on the hide, in the view's coordinates, where a word that does
    not belong to it should not stand.
    """

    view: View
    hide: Hide
    frame: TapeFrame
    sketch: Sketch = field(default_factory=Sketch)
    spots: Spots = field(default_factory=Spots)
    crowded: list[Cut] = field(default_factory=list)
    covered: shapely.Geometry = field(default_factory=shapely.GeometryCollection)


def standing_turn(hide: Hide) -> float:
    """The turn that lays a hide which is taller than wide on its side; 0 for the others. Degrees."""
    size = hide.ring.max(axis=0) - hide.ring.min(axis=0)
    return -90.0 if size[1] > 1.05 * size[0] else 0.0


def draw_hide(view: View, hide: Hide) -> HideDrawing:
    """The hide without a plan: outline, holes, regions, flaws, backbone, marked points."""
    drawing = HideDrawing(view, hide, tape_frame(hide))
    look, pen = view.look, view.ratio
    rings = [view.at(hide.ring), *(view.at(ring) for ring in hide.hole_rings)]
    fill = Fill(look.hide_fill) if look.hide_fill else None
    drawing.sketch.area(rings, None, fill, layer="hide")
    _regions(drawing)
    drawing.sketch.area(rings, look.hide_edge.scaled(pen), layer="hide")
    return drawing


def draw_placements(
    drawing: HideDrawing, plan: Plan, job: Job, order: Sequence[Cut], *, anchors: bool = True
) -> None:
    """What is cut from the hide: offcuts to keep, strips and pieces with cut and finished line, P and Q."""
    view, look, pen = drawing.view, drawing.view.look, drawing.view.ratio
    for offcut in plan.figures.offcuts if plan.figures else ():
        if offcut.hide == drawing.hide.name:
            rings = [view.at(np.asarray(ring)) for ring in (offcut.outline, *offcut.holes)]
            fill = Fill(look.offcut_fill) if look.offcut_fill else None
            drawing.sketch.area(rings, look.offcut_line.scaled(pen), fill, layer="offcuts")
    for placed in plan.placements:
        if placed.hide == drawing.hide.name and placed.done:
            fill = Fill(look.done_fill) if look.done_fill else None
            drawing.sketch.area(view.at(placed.cut_ring), look.done_line.scaled(pen), fill, layer="done")
    for cut in order:
        for member in cut.members:
            _placement(drawing, job, plan.placements[member])
    rings = [view.at(placed.cut_ring) for placed in plan.placements if placed.hide == drawing.hide.name]
    shapes = [shapely.make_valid(shapely.Polygon(ring)) for ring in rings]
    shapes += [shapely.make_valid(shapely.Polygon(view.at(flaw.ring))) for flaw in drawing.hide.flaws]
    # A word may stand inside an offcut, but not on its edge; nor on the hide's.
    edges = [item.rings[0] for item in drawing.sketch.on("offcuts") if isinstance(item, Outline)]
    shapes += [shapely.LinearRing(ring).buffer(0.3 * pen) for ring in (*edges, view.at(drawing.hide.ring))]
    drawing.covered = shapely.union_all(shapes).buffer(0.3 * pen)
    if anchors:
        for cut in order:
            for member in (cut.members[0],) if cut.group == "edge" else cut.members:
                p, q = (
                    view.spot(spot) for spot in anchor_points(job, plan.placements[member], drawing.frame)
                )
                drawing.sketch.circle(*p, 0.55 * pen, None, Fill(look.ink), layer="anchors")
                drawing.sketch.circle(
                    *q, 0.5 * pen, look.pen(0.2).scaled(pen), Fill(look.background), layer="anchors"
                )


def _placement(drawing: HideDrawing, job: Job, placed: Placement) -> None:
    view, look, pen = drawing.view, drawing.view.look, drawing.view.ratio
    layer = "strips" if placed.strip else "pieces"
    color = look.strip_fill if placed.strip else look.piece_fill
    stroke = look.cut_line.scaled(pen)
    if placed.strip and not placed.spiral:
        # Narrow lace side by side would be one black bar under lines of the usual width.
        stroke = look.pen(min(look.cut_line.width, 0.25 * job.strip(placed.strip).width / pen)).scaled(pen)
    drawing.sketch.area(
        view.at(placed.cut_ring),
        stroke,
        Fill(color) if color else None,
        layer=layer,
    )
    if placed.overcut > 0.0:
        drawing.sketch.area(view.at(placed.finished_ring), look.finished_line.scaled(pen), layer="finished")
    if not placed.piece:
        if placed.spiral:
            _spiral(drawing, job, placed)
        return
    piece = job.piece(placed.piece)
    for ring in piece.hole_rings:
        laid = view.at(placed.pose.apply(ring))
        drawing.sketch.area(laid, look.finished_line.scaled(pen), layer="holes")
    for mark in piece.marks:
        x, y = view.at(placed.pose.apply(np.array((mark.at,))))[0]
        if mark.kind.symbol == "circle" and mark.diameter:
            drawing.sketch.circle(x, y, mark.diameter / 2.0, look.pen(0.18).scaled(pen), layer="holes")
        elif mark.kind.symbol == "bar" and mark.length:
            drawing.sketch.line(
                view.at(placed.pose.apply(mark.ends)), look.pen(0.25).scaled(pen), layer="holes"
            )


def _spiral(drawing: HideDrawing, job: Job, placed: Placement) -> None:
    """A few turns of the lace, so that a disc is not taken for a round piece."""
    ring = drawing.view.at(placed.cut_ring)
    low, high = ring.min(axis=0), ring.max(axis=0)
    x, y = (low + high) / 2.0
    outer = float(high[0] - low[0]) / 2.0
    # Drawn no closer than 1.2 mm on the paper: at the lace's own pitch it would be a grey blot.
    pitch = max(job.strip(placed.strip).width, 1.2 * drawing.view.ratio)
    turns = max(1.0, min(3.0, 0.6 * outer / pitch))
    angles = np.linspace(0.0, 2.0 * math.pi * turns, int(48 * turns))
    radius = outer - pitch * angles / (2.0 * math.pi)
    path = np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles)))
    drawing.sketch.line(path, drawing.view.look.pen(0.18).scaled(drawing.view.ratio), layer="strips")


def draw_flaws(drawing: HideDrawing) -> None:
    """Each flaw by its pattern, and its keep-away margin as a dotted line. Its letter is set by `labels`."""
    view, look, pen = drawing.view, drawing.view.look, drawing.view.ratio
    for flaw in drawing.hide.flaws:
        ring = view.at(flaw.ring)
        fill = look.flaw_fill(flaw)
        # The pattern alone: a piece may lie over a flaw that its face does not show.
        drawing.sketch.area(
            ring, look.flaw_edge(flaw).scaled(pen), Fill(None, fill.hatch).scaled(pen), layer="flaws"
        )
        if flaw.margin > 0.5 * pen:
            wider = offset_outward(flaw.ring, flaw.margin, 0.2)
            drawing.sketch.area(view.at(wider), look.margin_line.scaled(pen), layer="margins")


def draw_tape_lines(drawing: HideDrawing) -> None:
    """The backbone or the line A-B, the rear edge's line, and the marked points A and B with their letters."""
    view, look, pen, frame = drawing.view, drawing.view.look, drawing.view.ratio, drawing.frame
    if drawing.hide.backbone is not None:
        path = view.at(np.asarray(drawing.hide.backbone))
        drawing.sketch.line(path, look.backbone.scaled(pen), layer="backbone")
    ends = np.array((frame.a, frame.b))
    if drawing.hide.backbone is None or len(drawing.hide.backbone) > 2:
        drawing.sketch.line(view.at(ends), look.base_line.scaled(pen), layer="tape")
    drawing.sketch.line(view.at(rear_line(drawing)), look.base_line.scaled(pen), layer="tape")
    for spot in (frame.a, frame.b):
        x, y = view.spot(spot)
        drawing.sketch.circle(x, y, 1.1 * pen, look.pen(0.3).scaled(pen), Fill(look.background), layer="tape")
        for dx, dy in ((1.8, 0.0), (0.0, 1.8)):
            cross = np.array(((x - dx * pen, y - dy * pen), (x + dx * pen, y + dy * pen)))
            drawing.sketch.line(cross, look.pen(0.2).scaled(pen), layer="tape")


def rear_line(drawing: HideDrawing) -> Points:
    """The rear edge's line (2, 2) as far as the hide's own box goes, hide coordinates; a point where it only
    touches a corner of the box."""
    frame, ring = drawing.frame, drawing.hide.ring
    across = [frame.across((float(x), float(y))) for x, y in ring]
    line = np.array((frame.spot(0.0, min(across)), frame.spot(0.0, max(across))))
    low, high = ring.min(axis=0), ring.max(axis=0)
    around = 2.0 * drawing.view.ratio
    inside = shapely.LineString(line).intersection(shapely.box(*(low - around), *(high + around)))
    points = shapely.get_coordinates(inside)
    return points if len(points) == 2 else line[:1].repeat(2, axis=0)


def _regions(drawing: HideDrawing) -> None:
    view, look, pen = drawing.view, drawing.view.look, drawing.view.ratio
    # The hide's own edge is drawn once, as its edge, not as a region's.
    inner = shapely.Polygon(drawing.hide.ring).buffer(-1.2 * pen)
    drawn: shapely.Geometry = shapely.GeometryCollection()
    for zone in zones_of(drawing.hide):
        edge = zone.area.boundary.intersection(inner).difference(drawn.buffer(0.2 * pen))
        if edge.is_empty:
            continue
        drawn = drawn.union(edge)
        for part in shapely.get_parts(shapely.line_merge(edge)):
            # A region drawn a little inside the hide's edge would leave scraps of line along it.
            scrap = part.difference(shapely.Polygon(drawing.hide.ring).boundary.buffer(4.0 * pen)).is_empty
            if isinstance(part, shapely.LineString) and not scrap:
                path = view.at(shapely.get_coordinates(part))
                drawing.sketch.line(path, look.region_line.scaled(pen), layer="regions")
