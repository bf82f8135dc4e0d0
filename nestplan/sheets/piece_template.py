"""One piece at its true size, as drawn, grain side up: lines to cut and to finish, everything done at its marks.

What is done at a mark is told by its shape and by a letter that the caption explains, never by colour: a punched
hole is a circle at its true diameter with a cross through its centre, a slit a bar of its true length with ends, a
mark a small diamond. What is done only once the layers are glued and trimmed is dashed. Of several layers, a template
shows those that it serves and nothing of the others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from nestplan.drawing.label_placement import OccupiedBoxes, boxes_inside, centred_box
from nestplan.drawing.lettering import CAP_HEIGHT, text_width
from nestplan.drawing.primitives import Box, Fill, LineStyle, Picture, Points
from nestplan.geometry.pose import Pose
from nestplan.model import Job, Mark, Part, Piece
from nestplan.model.piece import cut_ring
from nestplan.sheets.piece_layers import PieceLayers, PlannedOvercuts
from nestplan.sheets.tape_positions import piece_anchors
from nestplan.sheets.template_caption import letters_for, template_caption, template_groups
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["Template", "draw_template", "write_inside"]

_CUT_STROKE = LineStyle(0.35)
_WIDEST_STROKE = LineStyle(0.2, "#000000", (0.3, 1.0))
_FINISHED_STROKE = LineStyle(0.25, "#000000", (3.0, 1.5))
_PART_STROKE = LineStyle(0.18, "#555555", (2.2, 1.0, 0.4, 1.0))
_LATER_DASH = (1.0, 0.7)
"""Dashes of what is done after trimming, mm."""
_NAME = 4.2
"""Size of a piece's name where there is room for it, mm."""


@dataclass
class Template:
    """A piece drawn at 1:1 in mm for some of its layers: its picture, the words of its caption, its turn on the paper.

    `picture` has its origin where the piece has its own, turned by `turn` degrees ccw.
    """

    subject: PieceLayers
    turn: float
    picture: Picture = field(default_factory=Picture)
    caption: list[tuple[str, bool]] = field(default_factory=list)
    occupied: OccupiedBoxes = field(default_factory=OccupiedBoxes)

    @property
    def piece(self) -> Piece:
        """The piece that is drawn."""
        return self.subject.piece

    def turned(self, points: Points) -> Points:
        """The piece's own coordinates (n, 2) as the template has them."""
        return np.asarray(Pose(0.0, 0.0, self.turn).apply(points)) if self.turn else points


def draw_template(
    job: Job,
    subject: PieceLayers,
    formatter: UnitFormatter,
    *,
    turn: float = 0.0,
    planned: PlannedOvercuts | None = None,
) -> Template:
    """The piece at 1:1 with everything that is cut, punched or marked on the layers it serves, and its caption.

    Of an overcut the least is drawn, and the widest: that of the plan, or the one that is wished.
    """
    template, planned = Template(subject, turn), planned or {}
    widest = subject.widest_overcuts(planned)
    for overcut in sorted(widest):
        ring = template.turned(cut_ring(subject.piece.ring, overcut))
        template.picture.area(ring, _WIDEST_STROKE, layer="widest cut line")
    for overcut in sorted(subject.least_overcuts()):
        ring = template.turned(cut_ring(subject.piece.ring, overcut))
        template.picture.area(ring, _CUT_STROKE, layer="cut line")
    cut_outside = all(cut.overcut is not None and cut.overcut.least > 0.0 for cut in subject.cuts)
    stroke = _FINISHED_STROKE if cut_outside else _CUT_STROKE
    template.picture.area(template.turned(subject.piece.ring), stroke, layer="finished line")
    _line_words(template, formatter, widest)
    for opening in subject.at_table.openings:
        template.picture.area(template.turned(opening.ring), _CUT_STROKE, layer="openings")
    for opening in subject.for_later.openings:
        later = replace(_CUT_STROKE, dash=_LATER_DASH)
        template.picture.area(template.turned(opening.ring), later, layer="openings")
    for part in _parts(template):
        template.picture.area(template.turned(part.ring), _PART_STROKE, layer="parts")
    _marks(template)
    _anchors(template)
    template.caption = template_caption(job, subject, formatter, planned)
    return template


def _parts(template: Template) -> list[Part]:
    """The parts that ask for more in one of the layers that the template serves."""
    layers = [cut.layer for cut in template.subject.cuts]
    return [
        part
        for part in template.piece.parts
        if not part.layers or any(layer in part.layers for layer in layers)
    ]


def write_inside(template: Template, windows: Sequence[Box] = (), keep_off: Sequence[Box] = ()) -> None:
    """The words inside a template: stretch arrow, names of parts, and its own name, once in each window.

    `windows` are the tiles that show it (none: it is whole on one sheet); the name for tile n stands on the layer
    `names n`, since a neighbour that shares its place shows its own. `keep_off` are boxes where nothing may
    stand, such as the tiles' crosses; both in the template's mm.
    """
    for box in keep_off:
        template.occupied.take(box)
    _stretch(template, windows)
    _part_names(template)
    if not windows:
        _name(template, None, "names")
    for number, window in enumerate(windows, start=1):
        _name(template, window, f"names {number}")


def _line_words(template: Template, formatter: UnitFormatter, widest: dict[float, list[str]]) -> None:
    """Which cut line is whose, along the longest straight edge, where the band inside the line has room."""
    ring = template.turned(template.piece.ring)
    edges = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    longest = int(np.argmax(lengths))
    along = edges[longest] / lengths[longest]
    outward = np.array((along[1], -along[0]))
    middle, size = ring[longest] + edges[longest] / 2.0, 2.3
    angle = math.degrees(math.atan2(along[1], along[0]))
    lines = [("cut line", *entry) for entry in template.subject.least_overcuts().items()]
    lines += [("at most", *entry) for entry in widest.items()]
    before = 0.0
    for what, overcut, layers in sorted(lines, key=lambda line: line[1]):
        words = f"{what}: {', '.join(layers)}, {formatter.length(overcut)} outside"
        if overcut - before >= size + 1.2 and text_width(words, size) <= lengths[longest]:
            upright = -90.0 < angle <= 90.0
            shift = (before + overcut) / 2.0 + (-1.0 if not upright else 1.0) * size * CAP_HEIGHT / 2.0
            x, y = middle + outward * shift
            turn = angle if upright else angle - math.copysign(180.0, angle)
            template.picture.text(float(x), float(y), words, size, anchor="middle", angle=turn, layer="names")
        before = overcut


def _marks(template: Template) -> None:
    boxes = []
    groups = template_groups(template.subject)
    for letter, (later, _, marks) in zip(letters_for(len(groups)), groups, strict=True):
        for mark in marks:
            x, y = (float(value) for value in template.turned(np.array((mark.at,)))[0])
            reach = _draw_mark(template, mark, x, y, _LATER_DASH if later else ())
            template.occupied.take(centred_box(x, y, 2 * reach[0], 2 * reach[1]))
            boxes.append((letter, x, y, reach))
    for letter, x, y, (reach_x, reach_y) in boxes:
        size = 2.6
        width, height = text_width(letter, size) + 0.5, size * CAP_HEIGHT + 0.5
        around = [
            centred_box(
                x + dx * (reach_x + 0.1 + width / 2), y + dy * (reach_y + 0.1 + height / 2), width, height
            )
            for dx, dy in ((1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1), (0, 1), (0, -1))
        ]
        box = template.occupied.take_first_clear(around) or around[0]
        template.picture.text(
            (box[0] + box[2]) / 2, box[1] + 0.2, letter, size, anchor="middle", layer="marks", halo="#ffffff"
        )


def _draw_mark(
    template: Template, mark: Mark, x: float, y: float, dash: tuple[float, ...]
) -> tuple[float, float]:
    """Draw one mark; returns half the width and half the height it takes."""
    picture = template.picture
    if mark.kind.symbol == "circle" and mark.diameter:
        radius = mark.diameter / 2.0
        arm = radius + 1.2
        picture.circle(x, y, radius, LineStyle(0.25, dash=dash), layer="marks")
        picture.line([(x - arm, y), (x + arm, y)], LineStyle(0.13), layer="marks")
        picture.line([(x, y - arm), (x, y + arm)], LineStyle(0.13), layer="marks")
        return arm + 0.1, arm + 0.1
    if mark.kind.symbol == "bar" and mark.length:
        angle = math.radians(mark.angle + template.turn)
        along = np.array((math.cos(angle), math.sin(angle))) * mark.length / 2.0
        across = np.array((-math.sin(angle), math.cos(angle))) * 1.2
        middle = np.array((x, y))
        picture.line(np.array((middle - along, middle + along)), LineStyle(0.5, dash=dash), layer="marks")
        for end in (middle - along, middle + along):
            picture.line(np.array((end - across, end + across)), LineStyle(0.18), layer="marks")
        return abs(float(along[0])) + 1.2, abs(float(along[1])) + 1.2
    diamond = [(x - 1.4, y), (x, y - 1.4), (x + 1.4, y), (x, y + 1.4)]
    picture.area(diamond, LineStyle(0.18, dash=dash), layer="marks")
    picture.circle(x, y, 0.25, None, Fill("#000000"), layer="marks")
    return 1.4, 1.4


def _anchors(template: Template) -> None:
    """P and Q, the points the tape table measures to, just inside their corners."""
    middle = template.turned(template.piece.ring).mean(axis=0)
    for letter, spot in zip("PQ", piece_anchors(template.piece.ring), strict=True):
        x, y = (float(value) for value in template.turned(np.array((spot,)))[0])
        fill = Fill("#000000") if letter == "P" else Fill("#ffffff")
        template.picture.circle(x, y, 0.7, LineStyle(0.2), fill, layer="anchors")
        size, away = 3.0, middle - (x, y)
        away = away / max(float(np.hypot(*away)), 1e-9)
        boxes = [
            centred_box(
                x + away[0] * far + side * away[1] * far, y + away[1] * far - side * away[0] * far, 2.6, 2.8
            )
            for far in (3.0, 4.5, 6.0)
            for side in (0.0, 0.6, -0.6)
        ]
        box = template.occupied.take_first_clear(boxes)
        if box is not None:
            template.picture.text(
                (box[0] + box[2]) / 2,
                box[1] + 0.25,
                letter,
                size,
                anchor="middle",
                bold=True,
                layer="anchors",
            )


def _free(template: Template, clearance: float) -> shapely.Geometry:
    """The piece without its openings, parts' edges, marks and whatever words stand there already."""
    shape = shapely.Polygon(template.turned(template.piece.ring)).buffer(-clearance)
    openings = (*template.subject.at_table.openings, *template.subject.for_later.openings)
    taken = [shapely.Polygon(template.turned(opening.ring)).buffer(clearance) for opening in openings]
    taken += [shapely.LinearRing(template.turned(part.ring)).buffer(0.6) for part in _parts(template)]
    return shape.difference(shapely.union_all(taken))


def _stretch(template: Template, windows: Sequence[Box]) -> None:
    """A double arrow for each different stretch axis, with the layers it holds for where they differ."""
    axes: dict[float, list[str]] = {}
    for cut in template.subject.cuts:
        if cut.stretch is not None:
            axes.setdefault(round(cut.stretch.axis % 180.0, 2), []).append(cut.layer)
    differ = len(axes) > 1 or any(cut.stretch is None for cut in template.subject.cuts)
    for axis, layers in axes.items():
        words = "stretch" + (f" ({', '.join(layers)})" if differ else "")
        turn = math.radians(axis + template.turn)
        for length in (30.0, 20.0, 12.0):
            width = max(abs(math.cos(turn)) * length + 3.0, text_width(words, 2.6) + 1.0)
            height = abs(math.sin(turn)) * length + 6.5
            places = boxes_inside(_free(template, 0.8), width, height, most=600)
            # An arrow that two sheets share would be cut in half.
            whole = [box for box in places if not windows or any(_within(box, window) for window in windows)]
            box = template.occupied.take_first_clear(whole, 0.5)
            if box is None:
                continue
            x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2 + 1.7
            along = np.array((math.cos(turn), math.sin(turn)))
            across = np.array((-along[1], along[0]))
            ends = [np.array((x, y)) + side * along * length / 2.0 for side in (-1.0, 1.0)]
            template.picture.line(np.array(ends), LineStyle(0.3), layer="stretch")
            for end, side in zip(ends, (-1.0, 1.0), strict=True):
                back = end - side * along * 2.4
                template.picture.line(
                    np.array((back + across, end, back - across)), LineStyle(0.3), layer="stretch"
                )
            template.picture.text(x, box[1] + 0.8, words, 2.6, anchor="middle", layer="stretch")
            break


def _within(box: Box, window: Box) -> bool:
    return box[0] >= window[0] and box[1] >= window[1] and box[2] <= window[2] and box[3] <= window[3]


def _part_names(template: Template) -> None:
    for part in _parts(template):
        if not part.name:
            continue
        shape = shapely.Polygon(template.turned(part.ring)).buffer(-0.8)
        width = text_width(part.name, 2.6) + 0.6
        box = template.occupied.take_first_clear(boxes_inside(shape, width, 2.6))
        if box is not None:
            template.picture.text(
                (box[0] + box[2]) / 2, box[1] + 0.4, part.name, 2.6, anchor="middle", layer="parts"
            )


def _name(template: Template, window: Box | None, layer: str) -> None:
    """The piece's name, and that this is its grain side, inside it as large as it fits."""
    lines = [(template.subject.title, True), ("grain side, as drawn", False)]
    free = _free(template, 1.0)
    if window is not None:
        free = free.intersection(shapely.box(*window).buffer(-1.0))
    for size, count in ((_NAME, 2), (3.2, 2), (2.6, 2), (3.2, 1), (2.6, 1), (2.3, 1)):
        words = lines[:count]
        width = max(text_width(text, size * (1.0 if bold else 0.75), bold) for text, bold in words) + 0.8
        height = count * size * 1.25 + 0.4
        box = template.occupied.take_first_clear(boxes_inside(free, width, height, most=600), 0.4)
        if box is not None:
            y = box[3] - 0.2
            for text, bold in words:
                scale = size if bold else size * 0.75
                y -= size * 1.05
                template.picture.text(
                    (box[0] + box[2]) / 2, y, text, scale, anchor="middle", bold=bold, layer=layer
                )
            return
