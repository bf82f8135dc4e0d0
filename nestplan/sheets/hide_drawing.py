"""One hide of a plan as a drawing: outline, flaws, regions, backbone, stretch, what is cut from it, what is left.

The drawing is in mm on the leather; widths of lines and sizes of letters are given in mm on the paper and
multiplied by the view's ratio, so that a paper may scale it as a whole. Its words are written by `hide_labels`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from nestplan.drawing.label_placement import OccupiedBoxes
from nestplan.drawing.primitives import Fill, Outline, Picture, Points
from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import offset_outward
from nestplan.model import Hide, Job, Placement, Plan
from nestplan.model.rules import zones_of
from nestplan.model.values import Point
from nestplan.sheets.cutting_order import CuttingStep
from nestplan.sheets.hide_styles import SPOT_SIZE, HideStyle
from nestplan.sheets.inner_work import InnerLine, inner_lines
from nestplan.sheets.tape_positions import TapeFrame, anchor_points, tape_frame

__all__ = [
    "HideDrawing",
    "HideView",
    "draw_flaws",
    "draw_hide",
    "draw_placements",
    "draw_tape_lines",
    "rear_line",
    "standing_turn",
]


_UNSEEN = 0.02
"""mm on the paper by which a long outline may be drawn off its place: nobody sees it, and few points are left."""
_LONG_OUTLINE = 60
"""Points from which an outline is drawn with fewer."""


@dataclass(frozen=True)
class HideView:
    """How a hide is looked at: always from the grain side, turned by `turn` degrees, `ratio` mm a paper mm."""

    turn: float
    ratio: float
    style: HideStyle

    def turned(self, points: Points) -> Points:
        """Hide coordinates (n, 2) as this view has them."""
        if self.turn == 0.0:
            return points
        return np.asarray(Pose(0.0, 0.0, self.turn).apply(points))

    def outline(self, ring: Points) -> Points:
        """A ring (n, 2) of the hide as this view draws it, without points that would not show."""
        points = self.turned(ring)
        if len(points) < _LONG_OUTLINE:
            return points
        fewer: Points = shapely.get_coordinates(
            shapely.simplify(shapely.linearrings(points), _UNSEEN * self.ratio)
        )
        return fewer[:-1]

    def turned_point(self, point: Point) -> Point:
        x, y = self.turned(np.array((point,)))[0]
        return float(x), float(y)


@dataclass
class HideDrawing:
    """A drawn hide: its sketch, the boxes that words take, the steps whose number found no room.

    `covered` is the area of everything drawn on the hide, in the view's coordinates, where a word that does
    not belong to it should not stand.
    """

    view: HideView
    hide: Hide
    frame: TapeFrame
    picture: Picture = field(default_factory=Picture)
    occupied: OccupiedBoxes = field(default_factory=OccupiedBoxes)
    crowded: list[CuttingStep] = field(default_factory=list)
    covered: shapely.Geometry = field(default_factory=shapely.GeometryCollection)


def standing_turn(hide: Hide) -> float:
    """The turn that lays a hide which is taller than wide on its side; 0 for the others. Degrees."""
    size = hide.ring.max(axis=0) - hide.ring.min(axis=0)
    return -90.0 if size[1] > 1.05 * size[0] else 0.0


def draw_hide(view: HideView, hide: Hide) -> HideDrawing:
    """The hide without a plan: outline, holes, regions, flaws, backbone, marked points."""
    drawing = HideDrawing(view, hide, tape_frame(hide))
    style, paper_mm = view.style, view.ratio
    rings = [view.outline(ring) for ring in (hide.ring, *hide.hole_rings)]
    fill = Fill(style.hide_fill) if style.hide_fill else None
    drawing.picture.area(rings, None, fill, layer="hide")
    _regions(drawing)
    drawing.picture.area(rings, style.hide_edge.scaled(paper_mm), layer="hide")
    return drawing


def draw_placements(
    drawing: HideDrawing, plan: Plan, job: Job, steps: Sequence[CuttingStep], *, anchors: bool = True
) -> None:
    """What is cut from the hide: offcuts to keep, strips and pieces with cut and finished line, P and Q."""
    view, style, paper_mm = drawing.view, drawing.view.style, drawing.view.ratio
    for offcut in plan.figures.offcuts if plan.figures else ():
        if offcut.hide == drawing.hide.name:
            rings = [view.outline(np.asarray(ring)) for ring in (offcut.outline, *offcut.holes)]
            fill = Fill(style.offcut_fill) if style.offcut_fill else None
            drawing.picture.area(rings, style.offcut_line.scaled(paper_mm), fill, layer="offcuts")
    for placed in plan.placements:
        if placed.hide == drawing.hide.name and placed.done:
            fill = Fill(style.done_fill) if style.done_fill else None
            drawing.picture.area(
                view.outline(placed.cut_ring), style.done_line.scaled(paper_mm), fill, layer="done"
            )
    for step in steps:
        for member in step.members:
            _placement(drawing, job, plan.placements[member])
    rings = [view.outline(placed.cut_ring) for placed in plan.placements if placed.hide == drawing.hide.name]
    shapes = [shapely.make_valid(shapely.Polygon(ring)) for ring in rings]
    shapes += [shapely.make_valid(shapely.Polygon(view.outline(flaw.ring))) for flaw in drawing.hide.flaws]
    # A word may stand inside an offcut, but not on its edge; nor on the hide's.
    edges = [item.rings[0] for item in drawing.picture.on("offcuts") if isinstance(item, Outline)]
    lines = [shapely.linearrings(ring) for ring in (*edges, view.outline(drawing.hide.ring))]
    shapes += shapely.buffer(lines, 0.3 * paper_mm, quad_segs=2).tolist()
    drawing.covered = shapely.buffer(shapely.union_all(shapes), 0.3 * paper_mm, quad_segs=2)
    if anchors:
        for step in steps:
            for member in (step.members[0],) if step.group == "edge" else step.members:
                p, q = (
                    view.turned_point(point)
                    for point in anchor_points(job, plan.placements[member], drawing.frame)
                )
                drawing.picture.circle(*p, 0.55 * paper_mm, None, Fill(style.ink), layer="anchors")
                drawing.picture.circle(
                    *q,
                    0.5 * paper_mm,
                    style.stroke(0.2).scaled(paper_mm),
                    Fill(style.background),
                    layer="anchors",
                )


def _placement(drawing: HideDrawing, job: Job, placed: Placement) -> None:
    view, style, paper_mm = drawing.view, drawing.view.style, drawing.view.ratio
    layer = "strips" if placed.strip else "pieces"
    color = style.strip_fill if placed.strip else style.piece_fill
    stroke = style.cut_line.scaled(paper_mm)
    if placed.strip and not placed.spiral:
        # Narrow lace side by side would be one black bar under lines of the usual width.
        stroke = style.stroke(
            min(style.cut_line.width, 0.25 * job.strip(placed.strip).width / paper_mm)
        ).scaled(paper_mm)
    drawing.picture.area(
        view.outline(placed.cut_ring),
        stroke,
        Fill(color) if color else None,
        layer=layer,
    )
    if placed.overcut > 0.0:
        drawing.picture.area(
            view.outline(placed.finished_ring), style.finished_line.scaled(paper_mm), layer="finished"
        )
    if not placed.piece:
        if placed.spiral:
            _spiral(drawing, job, placed)
        return
    for line in inner_lines(job.piece(placed.piece), placed.layer, placed.pose):
        _inner_line(drawing, line)


def _inner_line(drawing: HideDrawing, line: InnerLine) -> None:
    """An opening, hole, slit or spot: solid where it is done at the table, dashed where it is drawn for later."""
    view, style, paper_mm = drawing.view, drawing.view.style, drawing.view.ratio
    points, layer = view.turned(line.points), "later" if line.later else "inside"
    stroke = (style.later_line if line.later else style.inner_line).scaled(paper_mm)
    x, y = (float(value) for value in points[0])
    if line.symbol == "opening":
        drawing.picture.area(points, stroke, layer=layer)
    elif line.symbol == "bar":
        drawing.picture.line(points, stroke, layer=layer)
    elif line.symbol == "circle":
        drawing.picture.circle(x, y, line.radius, stroke, layer=layer)
    else:
        half = SPOT_SIZE / 2.0 * paper_mm
        diamond = [(x - half, y), (x, y - half), (x + half, y), (x, y + half)]
        drawing.picture.area(diamond, stroke, layer="spots")


def _spiral(drawing: HideDrawing, job: Job, placed: Placement) -> None:
    """A few turns of the lace, so that a disc is not taken for a round piece."""
    ring = drawing.view.turned(placed.cut_ring)
    low, high = ring.min(axis=0), ring.max(axis=0)
    x, y = (low + high) / 2.0
    outer = float(high[0] - low[0]) / 2.0
    # Drawn no closer than 1.2 mm on the paper: at the lace's own pitch it would be a grey blot.
    pitch = max(job.strip(placed.strip).width, 1.2 * drawing.view.ratio)
    turns = max(1.0, min(3.0, 0.6 * outer / pitch))
    angles = np.linspace(0.0, 2.0 * math.pi * turns, int(48 * turns))
    radius = outer - pitch * angles / (2.0 * math.pi)
    path = np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles)))
    drawing.picture.line(path, drawing.view.style.stroke(0.18).scaled(drawing.view.ratio), layer="strips")


def draw_flaws(drawing: HideDrawing) -> None:
    """Each flaw by its pattern, and its keep-away margin as a dotted line. Its letter is set by `labels`."""
    view, style, paper_mm = drawing.view, drawing.view.style, drawing.view.ratio
    for flaw in drawing.hide.flaws:
        ring = view.outline(flaw.ring)
        fill = style.flaw_fill(flaw)
        # The pattern alone: a piece may lie over a flaw that its face does not show.
        drawing.picture.area(
            ring,
            style.flaw_edge(flaw).scaled(paper_mm),
            Fill(None, fill.hatch).scaled(paper_mm),
            layer="flaws",
        )
        if flaw.margin > 0.5 * paper_mm:
            wider = offset_outward(flaw.ring, flaw.margin, 0.2)
            drawing.picture.area(view.outline(wider), style.margin_line.scaled(paper_mm), layer="margins")


def draw_tape_lines(drawing: HideDrawing) -> None:
    """The backbone or the line A-B, the rear edge's line, and the marked points A and B with their letters."""
    view, style, paper_mm, frame = drawing.view, drawing.view.style, drawing.view.ratio, drawing.frame
    if drawing.hide.backbone is not None:
        path = view.turned(np.asarray(drawing.hide.backbone))
        drawing.picture.line(path, style.backbone.scaled(paper_mm), layer="backbone")
    ends = np.array((frame.a, frame.b))
    if drawing.hide.backbone is None or len(drawing.hide.backbone) > 2:
        drawing.picture.line(view.turned(ends), style.base_line.scaled(paper_mm), layer="tape")
    drawing.picture.line(view.turned(rear_line(drawing)), style.base_line.scaled(paper_mm), layer="tape")
    for point in (frame.a, frame.b):
        x, y = view.turned_point(point)
        drawing.picture.circle(
            x, y, 1.1 * paper_mm, style.stroke(0.3).scaled(paper_mm), Fill(style.background), layer="tape"
        )
        for dx, dy in ((1.8, 0.0), (0.0, 1.8)):
            cross = np.array(((x - dx * paper_mm, y - dy * paper_mm), (x + dx * paper_mm, y + dy * paper_mm)))
            drawing.picture.line(cross, style.stroke(0.2).scaled(paper_mm), layer="tape")


def rear_line(drawing: HideDrawing) -> Points:
    """The rear edge's line (2, 2) as far as the hide's own box goes, hide coordinates; a point where it only
    touches a corner of the box."""
    frame, ring = drawing.frame, drawing.hide.ring
    across = frame.locate(ring)[:, 1]
    line = np.array([frame.point_at(0.0, float(far)) for far in (across.min(), across.max())])
    low, high = ring.min(axis=0), ring.max(axis=0)
    around = 2.0 * drawing.view.ratio
    inside = shapely.LineString(line).intersection(shapely.box(*(low - around), *(high + around)))
    points = shapely.get_coordinates(inside)
    return points if len(points) == 2 else line[:1].repeat(2, axis=0)


def _regions(drawing: HideDrawing) -> None:
    view, style, paper_mm = drawing.view, drawing.view.style, drawing.view.ratio
    # The hide's own edge is drawn once, as its edge, not as a region's.
    outline = shapely.Polygon(drawing.hide.ring)
    inner = outline.buffer(-1.2 * paper_mm)
    drawn: shapely.Geometry = shapely.GeometryCollection()
    for zone in zones_of(drawing.hide):
        edge = zone.area.boundary.intersection(inner).difference(drawn.buffer(0.2 * paper_mm))
        if edge.is_empty:
            continue
        drawn = drawn.union(edge)
        # A region drawn a little inside the hide's edge would leave scraps of line along it.
        along_edge = outline.boundary.buffer(4.0 * paper_mm)
        for part in shapely.get_parts(shapely.line_merge(edge)):
            if isinstance(part, shapely.LineString) and not along_edge.covers(part):
                path = view.turned(shapely.get_coordinates(part))
                drawing.picture.line(path, style.region_line.scaled(paper_mm), layer="regions")
