"""A problem as arrays for the kernels: its shapes, its areas, and the options of each item.

Shapes are held about the middle of their smallest enclosing circle, so that a turn moves them little;
`PlacementOptions.middle` leads back to the item's own frame. Every ring is grown by `INFLATION`, so that touching
counts as contact and rounding of a pose to micrometres cannot make an overlap. Outlines of many points are drawn with
fewer, on the safe side, where the problem allows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from nestplan.geometry.areas import polygons_in, simplified_inside
from nestplan.geometry.ring import mirror, simplify_outside
from nestplan.geometry.roughness import area_without_bumps, without_dips
from nestplan.nesting.arrays.packing_kernels import Raster, inscribed_discs, signed_distances
from nestplan.nesting.arrays.pair_tables import no_tables, pair_tables
from nestplan.nesting.arrays.records import RUNS_PER_GROUP, Areas, Grid, PlacementOptions, Shapes
from nestplan.nesting.arrays.turned_shape_kernels import EDGES_PER_RUN, filled_up
from nestplan.nesting.problem import Containment, Floats, Ints, Item, PlacementOption, Problem, Ring, Singles

__all__ = ["PackedProblem", "areas_cut_to", "draws_simpler", "grown", "middle_of", "pack"]

INFLATION = 0.002
"""mm by which every ring is grown."""

MOST_DISCS = 16
MOST_TURNED_DISCS = 8
"""Discs of a shape at most, and how many of them are compared at any turn; where tables serve, it is all of them. With
half the discs the search needs as many poses and takes two thirds of the time for each."""

COVERED_SHARE = 0.92
"""Share of a ring's area that its inscribed discs are to cover, if so many suffice."""

DISC_RASTER = 60
"""Points along a side of the raster on which the middles of discs are sought."""

MANY_IN_RING, MANY_IN_AREA = 100, 300
"""Points from which a ring, or an area, is drawn with fewer where the problem has a tolerance."""

NODES_PER_AREA = 60_000
"""About how many nodes an area's grid of distances has."""


class PackedProblem(NamedTuple):
    """Arrays of a problem. `fixed_shapes`: the shape of each fixed ring, held unmoved: its middle is its position."""

    shapes: Shapes
    areas: Areas
    options: PlacementOptions
    fixed_shapes: list[int]


def grown(ring: Ring) -> Ring:
    """The ring grown by `INFLATION` with mitred corners."""
    bigger = Polygon(ring).buffer(INFLATION, join_style="mitre", mitre_limit=3.0)
    if isinstance(bigger, MultiPolygon):
        bigger = max(bigger.geoms, key=lambda part: part.area)
    points = shapely.get_coordinates(bigger.exterior)[:-1]
    if shapely.is_ccw(bigger.exterior):
        return np.ascontiguousarray(points)
    return np.ascontiguousarray(points[::-1])


def middle_of(ring: Ring) -> tuple[float, float]:
    """Middle of the ring's smallest enclosing circle."""
    circle = shapely.minimum_bounding_circle(Polygon(ring))
    return float(circle.centroid.x), float(circle.centroid.y)


def pack(problem: Problem) -> PackedProblem:
    """The arrays of a problem."""
    shapes, areas = _ShapeCollection(problem.tolerance), _AreaCollection(problem.tolerance)
    options = _packed_options(problem, shapes, areas)
    fixed = [shapes.add(ring)[0] for _, ring in problem.fixed]
    packed = shapes.packed()
    turns = _single_turns(options, len(packed.corner_count))
    turned = np.array([angles is None for angles in turns], bool)
    compared = np.where(turned, np.minimum(packed.disc_count, MOST_TURNED_DISCS), packed.disc_count)
    packed = packed._replace(compared_discs=compared.astype(np.int64))
    packed = packed._replace(tables=pair_tables(packed, turns))
    return PackedProblem(packed, areas.packed(), options, fixed)


def areas_cut_to(problem: Problem, room: Polygon) -> Areas:
    """The arrays of a problem's areas, in the order in which `pack` numbers them, each cut to what lies in `room`."""
    areas = _AreaCollection(problem.tolerance)
    _packed_options(problem, _ShapeCollection(problem.tolerance), areas)
    areas.areas = [polygons_in(shapely.intersection(area, room)) for area in areas.areas]
    return areas.packed()


def draws_simpler(problem: Problem) -> bool:
    """Whether some outline of a problem is packed with fewer points than it has."""
    if problem.tolerance <= 0.0:
        return False
    items = {id(item): item for item in problem.items}.values()
    return any(
        _is_long(containment.ring) or _has_many_points(containment.area)
        for item in items
        for option in item.options
        for containment in option.constraints
    )


def _is_long(ring: Ring) -> bool:
    return len(ring) >= MANY_IN_RING


def _has_many_points(area: Polygon | MultiPolygon) -> bool:
    return bool(shapely.get_num_coordinates(area) >= MANY_IN_AREA)


def _packed_options(problem: Problem, shapes: _ShapeCollection, areas: _AreaCollection) -> PlacementOptions:
    """The options of all items; their shapes and areas are added to the collections."""
    start, containment_start, turn_start = [0], [0], [0]
    rows: list[tuple[int, int, bool, tuple[float, float]]] = []
    contained: list[tuple[int, int]] = []
    turns: list[tuple[float, float]] = []
    made: dict[int, list[_PackedOption]] = {}
    for item in problem.items:
        if id(item) not in made:
            made[id(item)] = [_packed_option(item, option, shapes, areas) for option in item.options]
        for option in made[id(item)]:
            rows.append(option.row)
            contained.extend(option.contained)
            turns.extend(option.turns)
            containment_start.append(len(contained))
            turn_start.append(len(turns))
        start.append(len(rows))
    return PlacementOptions(
        start=_ints(start),
        field=_ints([field for field, _, _, _ in rows]),
        shape=_ints([shape for _, shape, _, _ in rows]),
        flipped=np.array([flipped for _, _, flipped, _ in rows], bool),
        middle=np.array([middle for _, _, _, middle in rows], float).reshape(-1, 2),
        containment_start=_ints(containment_start),
        containment_shape=_ints([shape for shape, _ in contained]),
        containment_area=_ints([area for _, area in contained]),
        turn_start=_ints(turn_start),
        turn_low=np.array([low for low, _ in turns], float),
        turn_high=np.array([high for _, high in turns], float),
        kind=_ints([item.kind for item in problem.items]),
    )


class _PackedOption(NamedTuple):
    """One option of an item: its field, shape, whether it is flipped, and middle; the shapes that areas must contain,
    with these; its turns."""

    row: tuple[int, int, bool, tuple[float, float]]
    contained: list[tuple[int, int]]
    turns: Sequence[tuple[float, float]]


def _packed_option(
    item: Item, option: PlacementOption, shapes: _ShapeCollection, areas: _AreaCollection
) -> _PackedOption:
    ring = mirror(item.ring) if option.flipped else item.ring
    shape, middle = shapes.add(ring)
    contained = []
    for containment in areas.needed(option.constraints):
        same = np.array_equal(containment.ring, ring)
        inner = shape if same else shapes.add(containment.ring, middle)[0]
        contained.append((inner, areas.add(containment.area)))
    return _PackedOption((option.field, shape, option.flipped, middle), contained, option.turns.intervals)


def _single_turns(options: PlacementOptions, shapes: int) -> list[list[float] | None]:
    """The single turns of each shape that items are made of; None for one that has other turns or is no item's."""
    turns: list[list[float] | None] = [None] * shapes
    wide: set[int] = set()
    for option, shape in enumerate(options.shape):
        span = slice(options.turn_start[option], options.turn_start[option + 1])
        low, high = options.turn_low[span], options.turn_high[span]
        if np.array_equal(low, high):
            turns[shape] = [*(turns[shape] or ()), *low.tolist()]
        else:
            wide.add(int(shape))
    return [None if shape in wide else angles for shape, angles in enumerate(turns)]


def _ints(values: list[int]) -> Ints:
    return np.array(values, np.int64)


class _ShapeCollection:
    """Master shapes, each ring once."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self.known: dict[bytes, tuple[int, tuple[float, float]]] = {}
        self.rings: list[Ring] = []

    def add(self, ring: Ring, middle: tuple[float, float] | None = None) -> tuple[int, tuple[float, float]]:
        """The number of a ring's shape and its middle in the ring's own frame, unless the middle is given."""
        ring = np.ascontiguousarray(ring, np.float64)
        key = ring.tobytes() + (b"" if middle is None else np.array(middle).tobytes())
        if key not in self.known:
            at = middle_of(ring) if middle is None else middle
            self.known[key] = (len(self.rings), at)
            simpler = self.tolerance > 0.0 and _is_long(ring)
            drawn = simplify_outside(without_dips(ring), self.tolerance) if simpler else ring
            self.rings.append(grown(drawn) - at)
        return self.known[key]

    def packed(self) -> Shapes:
        """The arrays of all shapes; without tables of pairs."""
        count = len(self.rings)
        discs = [inscribed_discs(ring, MOST_DISCS, COVERED_SHARE, DISC_RASTER) for ring in self.rings]
        corners = max((len(ring) for ring in self.rings), default=1)
        hulls = [shapely.get_coordinates(Polygon(ring).convex_hull.exterior)[:-1] for ring in self.rings]
        most_discs = int(filled_up.py_func(max((len(own) for own in discs), default=1)))
        most_hull = int(filled_up.py_func(max((len(hull) for hull in hulls), default=1)))
        corner_x, corner_y = np.zeros((count, corners)), np.zeros((count, corners))
        disc_x, disc_y, radius = (np.zeros((count, most_discs), np.float32) for _ in range(3))
        hull_x, hull_y = np.zeros((count, most_hull)), np.zeros((count, most_hull))
        for k, (ring, own, hull) in enumerate(zip(self.rings, discs, hulls, strict=True)):
            corner_x[k, : len(ring)], corner_y[k, : len(ring)] = ring.T
            if len(own):
                disc_x[k], disc_y[k] = own[0, :2, np.newaxis]
            disc_x[k, : len(own)], disc_y[k, : len(own)], radius[k, : len(own)] = own.T
            hull_x[k], hull_y[k] = hull[-1, :, np.newaxis]
            hull_x[k, : len(hull)], hull_y[k, : len(hull)] = hull.T
        hull_areas = [Polygon(hull).area for hull in hulls]
        diameters = [2.0 * float(np.hypot(ring[:, 0], ring[:, 1]).max()) for ring in self.rings]
        return Shapes(
            corner_x=corner_x,
            corner_y=corner_y,
            corner_count=_ints([len(ring) for ring in self.rings]),
            hull_x=hull_x,
            hull_y=hull_y,
            hull_count=_ints([int(filled_up.py_func(len(hull))) for hull in hulls]),
            disc_x=disc_x,
            disc_y=disc_y,
            disc_radius=radius,
            disc_count=_ints([len(own) for own in discs]),
            compared_discs=_ints([len(own) for own in discs]),
            tight_box=_stacked([_tight_box(hull) for hull in hulls], 6),
            hull_size=np.sqrt(np.array(hull_areas, float)),
            diameter=np.array(diameters, float),
            tables=no_tables(count),
        )


def _tight_box(hull: Ring) -> Floats:
    """The smallest box about a convex hull, one side of it along a side of the hull: one row of `Shapes.tight_box`."""
    sides = np.roll(hull, -1, axis=0) - hull
    sides /= np.maximum(np.hypot(sides[:, 0], sides[:, 1]), 1e-300)[:, np.newaxis]
    along = hull @ sides.T
    across = hull @ np.column_stack([-sides[:, 1], sides[:, 0]]).T
    wide, high = np.ptp(along, axis=0), np.ptp(across, axis=0)
    best = int(np.argmin(wide * high))
    (ux, uy), u, v = (
        sides[best],
        *(0.5 * (way[:, best].min() + way[:, best].max()) for way in (along, across)),
    )
    return np.array([ux * u - uy * v, uy * u + ux * v, ux, uy, 0.5 * wide[best], 0.5 * high[best]])


class _PackedArea(NamedTuple):
    """The arrays of one area; numbers of edges count from its own first, `run_edge` ends where the last run does."""

    box: tuple[float, float, float, float]
    is_box: bool
    edges: Floats
    grid: Grid
    distances: Floats
    run_edge: Ints
    run_box: Floats
    group_box: Floats
    holes: Floats


class _AreaCollection:
    """Areas, each geometry once."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self.known: dict[int, int] = {}
        self.areas: list[Polygon | MultiPolygon] = []
        self.within: dict[tuple[int, int], bool] = {}
        """Whether the first of two areas, by their ids, lies within the second."""

    def add(self, area: Polygon | MultiPolygon) -> int:
        """The number of an area."""
        if id(area) not in self.known:
            self.known[id(area)] = len(self.areas)
            self.areas.append(area)
        return self.known[id(area)]

    def needed(self, constraints: Sequence[Containment]) -> list[Containment]:
        """The constraints without those that follow from another one: of one ring, the wider of two areas."""
        kept: list[Containment] = []
        for each in constraints:
            if any(self._implies(other, each) for other in kept):
                continue
            kept = [other for other in kept if not self._implies(each, other)]
            kept.append(each)
        return kept

    def _implies(self, one: Containment, other: Containment) -> bool:
        """Whether what lies as one constraint says lies as another says, too."""
        if one.ring is not other.ring and not np.array_equal(one.ring, other.ring):
            return False
        key = (id(one.area), id(other.area))
        if key not in self.within:
            self.within[key] = one.area is other.area or bool(shapely.covers(other.area, one.area))
        return self.within[key]

    def _drawn(self, area: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
        simpler = self.tolerance > 0.0 and _has_many_points(area)
        return simplified_inside(area_without_bumps(area), self.tolerance) if simpler else area

    def packed(self) -> Areas:
        """The arrays of all areas."""
        parts = [_packed_area(self._drawn(area)) for area in self.areas]
        edge_start = _starts([len(part.edges) for part in parts])
        return Areas(
            box=np.array([part.box for part in parts], float).reshape(-1, 4),
            is_box=np.array([part.is_box for part in parts], bool),
            edge_start=edge_start,
            edge=_stacked([part.edges for part in parts], 4),
            left=np.array([part.grid.left for part in parts], float),
            bottom=np.array([part.grid.bottom for part in parts], float),
            cell=np.array([part.grid.cell for part in parts], float),
            columns=_ints([part.grid.columns for part in parts]),
            rows=_ints([part.grid.rows for part in parts]),
            node_start=_starts([len(part.distances) for part in parts]),
            distance=_joined_singles([part.distances for part in parts]),
            run_start=_starts([len(part.run_box) for part in parts]),
            run_edge=np.append(
                _joined([part.run_edge + edge_start[k] for k, part in enumerate(parts)]), edge_start[-1]
            ),
            run_box=_stacked([part.run_box for part in parts], 4),
            group_start=_starts([len(part.group_box) for part in parts]),
            group_box=_stacked([part.group_box for part in parts], 4),
            hole_start=_starts([len(part.holes) for part in parts]),
            hole=_stacked([part.holes for part in parts], 2),
        )


def _packed_area(area: Polygon | MultiPolygon) -> _PackedArea:
    box = area.bounds if not area.is_empty else (0.0, 0.0, 0.0, 0.0)
    width, height = box[2] - box[0], box[3] - box[1]
    is_box = abs(width * height - area.area) <= 1e-9 * max(area.area, 1.0) and not area.is_empty
    edges, run_edge = _edges_of(area)
    ends = edges[:, :2], edges[:, 2:]
    run_box = _boxes_about(np.hstack([np.minimum(*ends), np.maximum(*ends)]), run_edge)
    group_box = _boxes_about(run_box, np.arange(0, len(run_box), RUNS_PER_GROUP))
    cell = max(float(np.sqrt(width * height / NODES_PER_AREA)), 1e-6)
    parts = area.geoms if isinstance(area, MultiPolygon) else (area,)
    holes = np.array([hole.coords[0] for part in parts for hole in part.interiors], float).reshape(-1, 2)
    if is_box or area.is_empty:
        grid = Grid(box[0] - cell, box[1] - cell, cell, 1, 1)
        distances = np.full(4, -1e9)
    else:
        grid = Grid(box[0] - cell, box[1] - cell, cell, int(width / cell) + 3, int(height / cell) + 3)
        nodes = Raster(grid.left, grid.bottom, cell, cell, grid.columns + 1, grid.rows + 1)
        distances = signed_distances(edges, nodes).ravel()
    return _PackedArea(box, is_box, edges, grid, distances, run_edge, run_box, group_box, holes)


def _edges_of(area: Polygon | MultiPolygon) -> tuple[Floats, Ints]:
    """All edges `(m, 4)` (ax, ay, bx, by) of an area's exterior and interior rings, and the first edge of each run."""
    rows, runs, count = [np.zeros((0, 4))], [np.zeros(0, np.int64)], 0
    for ring in shapely.get_rings(shapely.get_parts(area)):
        points = shapely.get_coordinates(ring)
        rows.append(np.hstack([points[:-1], points[1:]]))
        runs.append(np.arange(count, count + len(points) - 1, EDGES_PER_RUN))
        count += len(points) - 1
    return np.vstack(rows), np.concatenate(runs)


def _boxes_about(boxes: Floats, firsts: Ints) -> Floats:
    """The boxes (left, bottom, right, top) about runs of boxes, by the first of each run."""
    if not len(firsts):
        return np.zeros((0, 4))
    least, most = np.minimum.reduceat(boxes, firsts), np.maximum.reduceat(boxes, firsts)
    return np.hstack([least[:, :2], most[:, 2:]])


def _starts(counts: list[int]) -> Ints:
    """Where each of some runs begins when they stand one after another, and where the last ends."""
    return np.concatenate([[0], np.cumsum(np.array(counts, np.int64))]).astype(np.int64)


def _joined(parts: list[Ints]) -> Ints:
    return np.concatenate(parts) if parts else np.zeros(0, np.int64)


def _joined_singles(parts: list[Floats]) -> Singles:
    return np.concatenate(parts).astype(np.float32) if parts else np.zeros(0, np.float32)


def _stacked(parts: list[Floats], columns: int) -> Floats:
    return np.ascontiguousarray(np.vstack(parts)) if parts else np.zeros((0, columns))
