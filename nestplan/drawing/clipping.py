"""A drawing cut to a window: nothing is left outside it, and what is inside keeps its exact place.

Used for tiles of full-size sheets and for detail drawings. Lines are cut segment by segment (Liang and
Barsky 1984), areas with GEOS.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import shapely

from nestplan.drawing.lettering import text_width
from nestplan.drawing.primitives import Box, Circle, Outline, Points, Primitive, Text, bounds_of, circle_ring

__all__ = [
    "clipped",
    "clipped_line",
]


def clipped(items: Iterable[Primitive], window: Box) -> Iterator[Primitive]:
    """The parts of `items` inside `window` (xmin, ymin, xmax, ymax), mm.

    A closed outline that the window cuts becomes a fill of its inner part and open lines of its inner edges:
    the window's own edge is never drawn. A circle that is cut becomes such lines. A text stays if it
    lies wholly inside.
    """
    for item in items:
        if isinstance(item, Text):
            if _text_inside(item, window):
                yield item
            continue
        box = bounds_of((item,))
        if box[0] > window[2] or box[2] < window[0] or box[1] > window[3] or box[3] < window[1]:
            continue
        if box[0] >= window[0] and box[1] >= window[1] and box[2] <= window[2] and box[3] <= window[3]:
            yield item
        elif isinstance(item, Circle):
            ring = circle_ring(item.x, item.y, item.radius, 144)
            yield from _cut(Outline((ring,), True, item.stroke, item.fill, item.layer), window)
        else:
            yield from _cut(item, window)


def _text_inside(text: Text, window: Box) -> bool:
    width = text_width(text.words, text.size, text.bold)
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * width
    turn = np.radians(text.angle)
    along, across = np.array((np.cos(turn), np.sin(turn))), np.array((-np.sin(turn), np.cos(turn)))
    corners = [
        np.array((text.x, text.y)) + along * reach + across * rise * text.size
        for reach in (start, start + width)
        for rise in (-0.25, 0.8)
    ]
    return all(window[0] <= x <= window[2] and window[1] <= y <= window[3] for x, y in corners)


def _cut(item: Outline, window: Box) -> Iterator[Outline]:
    if item.fill is not None:
        region = _region(item.rings).intersection(shapely.box(*window))
        for part in shapely.get_parts(region):
            if isinstance(part, shapely.Polygon) and part.area > 0.0:
                rings = tuple(
                    np.asarray(ring.coords, dtype=np.float64)[:-1]
                    for ring in (part.exterior, *part.interiors)
                )
                yield Outline(rings, True, None, item.fill, item.layer)
    if item.stroke is not None:
        for ring in item.rings:
            path = np.vstack((ring, ring[:1])) if item.closed else ring
            stretches = clipped_line(path, window)
            # A ring that starts inside the window is not to be broken there.
            if item.closed and len(stretches) > 1 and np.array_equal(stretches[-1][-1], stretches[0][0]):
                stretches[0] = np.vstack((stretches.pop(), stretches[0][1:]))
            for stretch in stretches:
                yield Outline((stretch,), False, item.stroke, None, item.layer)


def _region(rings: tuple[Points, ...]) -> shapely.Geometry:
    """The area inside the rings by the even-odd rule."""
    region: shapely.Geometry = shapely.make_valid(shapely.Polygon(rings[0]))
    for ring in rings[1:]:
        region = region.symmetric_difference(shapely.make_valid(shapely.Polygon(ring)))
    return region


def clipped_line(path: Points, window: Box) -> list[Points]:
    """The stretches (m, 2) of an open line (n, 2) inside the window, in order."""
    starts, steps = path[:-1], np.diff(path, axis=0)
    enter, leave = np.zeros(len(steps)), np.ones(len(steps))
    inside = np.ones(len(steps), dtype=bool)
    for axis in (0, 1):
        for sign, edge in ((-1.0, window[axis]), (1.0, window[axis + 2])):
            speed = sign * steps[:, axis]
            room = sign * (edge - starts[:, axis])
            level = speed == 0.0
            inside &= ~(level & (room < 0.0))
            with np.errstate(divide="ignore", invalid="ignore"):
                at = np.where(level, 0.0, room / np.where(level, 1.0, speed))
            enter = np.where(speed < 0.0, np.maximum(enter, at), enter)
            leave = np.where(speed > 0.0, np.minimum(leave, at), leave)
    inside &= enter < leave
    stretches: list[Points] = []
    current: list[Points] = []
    for number in np.flatnonzero(inside):
        first = starts[number] + enter[number] * steps[number]
        # The very vertex is taken where nothing is cut, so that uncut points stay exact.
        last = path[number + 1] if leave[number] == 1.0 else starts[number] + leave[number] * steps[number]
        if current and enter[number] == 0.0 and np.array_equal(current[-1], path[number]):
            current.append(last)
        else:
            if current:
                stretches.append(np.array(current))
            current = [first, last]
    if current:
        stretches.append(np.array(current))
    return stretches
