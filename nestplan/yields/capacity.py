"""How many copies of a shape an area can hold at most: proofs by area and by the spacing of inscribed discs.

Pure geometry, any turn and either side up. Every figure here errs upward: areas that can be reached are never
drawn too small, areas that are used up never too large. Which shapes a job asks for and where they may lie is
in `nestplan.yields.bounds`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.areas import grown
from nestplan.geometry.inscribed import largest_disc
from nestplan.geometry.ring import simplify_inside
from nestplan.geometry.roughness import area_without_dips, without_bumps

__all__ = [
    "OutlineMeasures",
    "most_by_area",
    "most_by_spacing",
    "most_strips_along",
    "outline_measures",
    "within_reaches",
]

Array = npt.NDArray[np.float64]

SLACK = 0.02
"""mm and mm² by which a shape in an audited plan may be nearer to, or over, its neighbour or its limit."""

QUARTER_SEGMENTS = 6
"""Chords to a quarter circle when an area is grown: a bound errs upward, and few points keep it quick."""
_SIMPLER = 0.5
_COARSEST = 4.0
"""mm by which an area is simplified at least and at most when it is drawn roughly."""
_FEW_POINTS = 150
"""Points that an area drawn coarsely has, unless that takes more than `_COARSEST`."""
_MANY_POINTS, _INSIDE = 100, 0.28
"""Points from which an outline is drawn with fewer, and by how much inside (mm), before its discs are sought."""
_SHARES = (1.0, 0.5)
_STEP = 1.04
"""The discs of outlines and how far they reach are steps of a ladder, each so many times the one before, so that what
is worked out with them serves other outlines too."""
_GRID_SHIFTS = 4

LINES_ACROSS = 240
"""Places along a part of an area at which a line across is looked at."""

LONG_SHARE = 0.5
MOST_CHORDS = 20_000
"""Chords are only looked at for strips that are so long, as a share of the area's diameter, and with so many chords at
most: thin laces would ask for many."""

_FEW = 12
"""Up to this many points the count of hexagons can beat Oler's inequality."""


@dataclass(frozen=True, eq=False)
class OutlineMeasures:
    """What a proof needs to know of a finished outline: its discs, and how far it reaches beyond them.

    `radius` (mm) of its largest disc, less than the true one by at most 0.02 mm (of an outline of many points 0.3);
    `reaches` holds pairs (r, e): every point of the outline is within e mm of a disc of radius r that lies inside it.
    `area` mm² of the outline.
    """

    radius: float
    reaches: tuple[tuple[float, float], ...]
    area: float


def outline_measures(ring: Array) -> OutlineMeasures:
    """What the proofs need of an outline (n, 2), mm."""
    polygon = shapely.Polygon(
        ring if len(ring) < _MANY_POINTS else simplify_inside(without_bumps(ring), _INSIDE)
    )
    radius = largest_disc(polygon, SLACK)[2]
    reaches = []
    for share in _SHARES:
        r = _step_below(radius * share * 0.999)
        # Drawn too small, it puts the outline too far from its discs: on the safe side.
        inner = shapely.buffer(shapely.buffer(polygon, -r, quad_segs=8), r * 0.98, quad_segs=8)
        step = max(radius / 20, polygon.length / 500)
        edge = shapely.points(shapely.get_coordinates(shapely.segmentize(shapely.linearrings(ring), step)))
        if not inner.is_empty:
            farthest = float(shapely.distance(inner, edge).max()) + step / 2
            reaches.append((r, _step_below((r + farthest) * _STEP) - r))
    return OutlineMeasures(radius, tuple(reaches), float(shapely.Polygon(ring).area))


def _step_below(length: float) -> float:
    """The highest step of the ladder that is no longer than a length (mm), but for rounding; 0 for none."""
    return 0.0 if length <= 0.0 else float(_STEP ** math.floor(math.log(length, _STEP) + 1e-9))


def drawn_roughly(area: BaseGeometry, tolerance: float = _SIMPLER) -> BaseGeometry:
    """An area with fewer points all around `area`, nowhere more than a few times the tolerance (mm) larger."""
    # A mitre stands outside the round corner and has no points of its own.
    return shapely.buffer(shapely.simplify(area, tolerance), tolerance, join_style="mitre")


def drawn_coarsely(area: BaseGeometry) -> BaseGeometry:
    """The area itself where it has few points; else one all around it, as rough as few points ask for."""
    area = area_without_dips(area) if shapely.get_num_coordinates(area) > _FEW_POINTS else area
    tolerance, drawn = _SIMPLER, area
    while shapely.get_num_coordinates(drawn) > _FEW_POINTS and tolerance <= _COARSEST:
        drawn = drawn_roughly(area, tolerance)
        tolerance *= 2.0
    return drawn


def within_reaches(
    area: BaseGeometry, shape: OutlineMeasures, near: Callable[[float, float], BaseGeometry]
) -> BaseGeometry:
    """What of an area lies in `near(r, e)` for each of the shape's reaches: within e of a disc of radius r in it."""
    found = area
    for r, e in shape.reaches:
        found = shapely.intersection(found, near(r, e))
    return found


def eroded(area: BaseGeometry, r: float) -> BaseGeometry:
    """Where the middle of a disc of radius r (mm) inside `area` may lie."""
    return shapely.buffer(area, -0.98 * r, quad_segs=QUARTER_SEGMENTS)


def near_discs(middles: BaseGeometry, r: float, e: float) -> BaseGeometry:
    """What is within e of a disc of radius r (mm) with its middle in an area: outside it nothing has a point that is
    within e of such a disc inside itself."""
    return grown(middles, r + e + SLACK, quarter_segments=QUARTER_SEGMENTS)


def large_enough(area: BaseGeometry, shape: OutlineMeasures) -> BaseGeometry:
    """The parts of an area that are as large as the shape."""
    parts = [part for part in shapely.get_parts(area) if part.area >= shape.area - SLACK]
    return shapely.MultiPolygon([part for part in parts if part.geom_type == "Polygon"])


def most_by_area(area: BaseGeometry, used: float) -> int:
    """How many shapes that each use up `used` mm² without sharing go into `area`, each whole in one of its
    parts.
    """
    if used <= 0:
        return 10**9
    return sum(math.floor(part.area / used + 1e-9) for part in shapely.get_parts(area))


def most_by_spacing(centers: BaseGeometry, apart: float) -> int:
    """How many points at least `apart` mm from each other can lie in the area `centers`.

    The lesser of two proofs for each part: Oler's inequality on its convex hull, N <= 2A/(√3 d²) + P/(2d) + 1
    (N. Oler, An inequality in the geometry of numbers, Acta Math. 105, 1961), and a count of hexagons less
    than `apart` across that cover it, each of which holds one point at most.
    """
    if apart <= 0:
        return 10**9
    # Edges may be nearer by rounding; a hair less distance keeps the proof true.
    parts = [part for part in shapely.get_parts(centers) if not part.is_empty]
    return sum(_most_in_part(part, apart * (1 - 1e-9)) for part in parts)


def most_strips_along(area: BaseGeometry, axis: float, tolerance: float, length: float, width: float) -> int:
    """How many straight strips (mm) fit into `area` that lie at most `tolerance` off an `axis` (degrees); 90: any way.

    A strip crosses, with its whole width, every line square to the axis over a stretch of at least length · cos(turn) -
    width · sin(turn). So of lines no further apart than that it crosses one at least, and takes up its width there. Of
    all such sets of lines the one that the area leaves least room on is chosen (by a dynamic programme), part by part.
    Parts with no chord as long as the strip hold none.
    """
    off = min(max(tolerance, 0.0), 90.0)
    turn = math.radians(off)
    stretch = (length - SLACK) * math.cos(turn) - width * math.sin(turn) - SLACK
    turned = shapely.affinity.rotate(area, -axis, origin=(0.0, 0.0))
    parts = [part for part in shapely.get_parts(turned) if part.area > 0.0]
    parts = [part for part in parts if _may_hold_strip(part, off, length - SLACK, width - SLACK)]
    if stretch <= 0.0:
        return 10**9 if parts else 0
    return sum(_most_across(part, stretch, width - SLACK) for part in parts)


def _may_hold_strip(part: BaseGeometry, off: float, length: float, width: float) -> bool:
    """Whether it is not proven that no strip at most `off` degrees from the x axis lies in a part of an area.

    A strip at most atan(width / 2 length) off some direction holds a stretch along it, as long as itself, of any line
    no further than a quarter of its width from its middle: of lines half a width apart, of one at least.
    """
    diameter = _diameter(part)
    if diameter < math.hypot(length, width):
        return False
    reach = math.degrees(math.atan(0.5 * width / length))
    apart = 0.49 * width * math.cos(math.radians(reach))
    directions = np.linspace(-off, off, 1 + math.ceil(off / reach))
    if length < LONG_SHARE * diameter or len(directions) * diameter / apart > MOST_CHORDS:
        return True
    return any(_longest_chord(part, float(angle), apart) >= length for angle in directions)


def _longest_chord(part: BaseGeometry, angle: float, apart: float) -> float:
    """The longest stretch within a part of an area of lines at an angle (degrees), so far apart (mm)."""
    turned = shapely.affinity.rotate(part, -angle, origin=(0.0, 0.0))
    low, bottom, high, top = turned.bounds
    rows = np.arange(bottom + 0.5 * apart, top, apart)
    ends = np.array([[(low - 1.0, y), (high + 1.0, y)] for y in rows.tolist()])
    chords = shapely.get_parts(shapely.intersection(shapely.linestrings(ends), turned))
    return float(shapely.length(chords).max(initial=0.0))


def _diameter(part: BaseGeometry) -> float:
    corners = shapely.get_coordinates(part.convex_hull)
    return float(np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1)).max())


def _most_across(part: BaseGeometry, stretch: float, width: float) -> int:
    """The least sum, over sets of lines x = c across a part with no wider gap than `stretch`, of how many widths go
    into what of each line lies in the part."""
    low, bottom, high, top = part.bounds
    if high - low < stretch:
        return 0
    places = np.linspace(low, high, LINES_ACROSS)
    ends = np.array([[(x, bottom - 1.0), (x, top + 1.0)] for x in places.tolist()])
    crossed = shapely.intersection(shapely.linestrings(ends), part)
    pieces, of_line = shapely.get_parts(crossed, return_index=True)
    held = np.floor((shapely.length(pieces) + SLACK) / width)
    counts = np.bincount(of_line, weights=held, minlength=LINES_ACROSS)
    least = np.empty(LINES_ACROSS)
    for k in range(LINES_ACROSS):
        before = least[:k][places[:k] > places[k] - stretch]
        least[k] = counts[k] + (0.0 if places[k] - low < stretch else before.min(initial=np.inf))
    found = float(least[high - places < stretch].min())
    return int(found) if np.isfinite(found) else 10**9


def center_area(area: BaseGeometry, shape: OutlineMeasures) -> BaseGeometry:
    """Where the middle of the shape's largest disc can lie while the shape is inside `area`."""
    return shapely.buffer(area, -(shape.radius - SLACK) * 0.99, quad_segs=QUARTER_SEGMENTS)


def least_area(ring: Array, band: float) -> float:
    """No more than what a copy of `ring` grown by `band` mm uses up, mm², less the audit's tolerance."""
    polygon = shapely.Polygon(ring)
    wide = shapely.buffer(polygon, 0.98 * band, quad_segs=16) if band > 0 else polygon
    return float(wide.area - SLACK * (polygon.length + 1.0))


def _most_in_part(part: BaseGeometry, apart: float) -> int:
    hull = part.convex_hull
    if _diameter(hull) < apart:
        return 1
    oler = 2 * hull.area / (math.sqrt(3) * apart**2) + hull.length / (2 * apart) + 1
    most: int = math.floor(oler + 1e-9)
    return min(most, _hexagons_over(part, apart)) if most <= _FEW else most


def _hexagons_over(part: BaseGeometry, apart: float) -> int:
    """The fewest hexagons just under `apart` across that cover `part`, over a few shifts of two grids."""
    side = apart / 2 * (1 - 1e-6)
    xmin, ymin, xmax, ymax = part.bounds
    turns = np.radians(np.arange(6) * 60.0 + 30.0)
    fewest = 10**9
    for turned in (False, True):
        low, high = (
            (np.array((ymin, xmin)), np.array((ymax, xmax)))
            if turned
            else (np.array((xmin, ymin)), np.array((xmax, ymax)))
        )
        wide, rise = math.sqrt(3) * side, 1.5 * side
        rows = np.arange(-2, int((high[1] - low[1]) / rise) + 4)
        columns = np.arange(-2, int((high[0] - low[0]) / wide) + 4)
        grid = np.array([((c + (r % 2) / 2) * wide, r * rise) for r in rows for c in columns])
        for i in range(_GRID_SHIFTS):
            for j in range(_GRID_SHIFTS):
                middles = grid + low + np.array((i * wide, j * 2 * rise)) / _GRID_SHIFTS
                cells = middles[:, None, :] + side * np.column_stack((np.cos(turns), np.sin(turns)))
                cells = cells[..., ::-1] if turned else cells
                fewest = min(fewest, int(shapely.intersects(shapely.polygons(cells), part).sum()))
    return fewest
