"""A problem as arrays for the kernels: shapes, areas, and the leave of each item.

What lives here: the named tuples the kernels only read, and how they are made from a `Problem`. What does not: what
changes in a search (`state`), and tables of pairs (`tables`).

Shapes are held about the middle of their smallest circle, so that a turn moves them little; `Pieces.middle` leads
back to the item's own frame. Every ring is grown by `INFLATION`, so that touching counts as contact and rounding
of a pose to micrometres cannot make an overlap.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from nestplan.geometry.ring import mirror
from nestplan.nesting.arrays.packing_kernels import bin_edges, distance_nodes, inscribed_discs
from nestplan.nesting.arrays.pair_tables import Masters, Tables, no_tables, pair_tables
from nestplan.nesting.problem import Bools, Floats, Ints, Problem, Ring, Singles

INFLATION = 0.002
MOST_DISCS = 16
COVERED_SHARE = 0.92
NODES_PER_AREA = 60_000


class Shapes(NamedTuple):
    """Master shapes, one a row: `vx, vy (S, V)` ring, `vn (S,)` its points; `px, py, pr (S, P)` inscribed discs,
    `pn (S,)` their number; `scale (S,)` root of the hull's area, `span (S,)` diameter of the smallest circle;
    `tables` of pairs, if any."""

    vx: Floats
    vy: Floats
    vn: Ints
    px: Singles
    py: Singles
    pr: Singles
    pn: Ints
    scale: Floats
    span: Floats
    tables: Tables


class Areas(NamedTuple):
    """Areas that hold rings: box `bx0 … by1 (G,)`, `plain (G,)` if the area is its box; edges a→b in
    `ex0 … ey1`, from `edge_start[g]`; a grid of `nx × ny` cells of size `cell` from (x0, y0) with signed distances at
    nodes from `node_start[g]` and edges by cell from `bin_start[g]`; a point of each hole from `hole_start[g]`."""

    bx0: Floats
    by0: Floats
    bx1: Floats
    by1: Floats
    plain: Bools
    edge_start: Ints
    ex0: Floats
    ey0: Floats
    ex1: Floats
    ey1: Floats
    x0: Floats
    y0: Floats
    cell: Floats
    nx: Ints
    ny: Ints
    node_start: Ints
    distance: Singles
    bin_start: Ints
    bin_edges: Ints
    edge_of: Ints
    hole_start: Ints
    hole_x: Floats
    hole_y: Floats


class Pieces(NamedTuple):
    """What each item is allowed: allowances from `allow_start[i]`, each with its field, shape, and middle of that
    shape in the item's frame; demands (shape, area) from `demand_start[a]`, turns [lo, hi] from `turn_start[a]`. Items
    of one kind are a `group (I,)`, its items from `group_start[g]`; places beside an equal one, in that one's frame,
    from `beside_start[s]` by shape (none unless `lattice` put them there), of which `beside_tries` are tried a move."""

    allow_start: Ints
    allow_field: Ints
    allow_shape: Ints
    allow_flipped: Bools
    middle: Floats
    demand_start: Ints
    demand_shape: Ints
    demand_area: Ints
    turn_start: Ints
    turn_lo: Floats
    turn_hi: Floats
    kind: Ints
    group: Ints
    group_start: Ints
    group_item: Ints
    beside_start: Ints
    beside_x: Floats
    beside_y: Floats
    beside_turn: Floats
    beside_tries: Ints


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


def pack(problem: Problem) -> tuple[Shapes, Areas, Pieces, list[int]]:
    """Arrays of a problem, and the shape of each fixed ring (held unmoved: their middles are their positions)."""
    shapes = _ShapeRack()
    areas = _AreaRack()
    allow_start, demand_start, turn_start = [0], [0], [0]
    allow_field: list[int] = []
    allow_shape: list[int] = []
    allow_flipped: list[bool] = []
    middles: list[tuple[float, float]] = []
    demand_shape: list[int] = []
    demand_area: list[int] = []
    turns: list[tuple[float, float]] = []
    for item in problem.items:
        for allowance in item.options:
            ring = mirror(item.ring) if allowance.flipped else item.ring
            shape, middle = shapes.put(ring)
            allow_field.append(allowance.field)
            allow_shape.append(shape)
            allow_flipped.append(allowance.flipped)
            middles.append(middle)
            for demand in allowance.constraints:
                same = np.array_equal(demand.ring, ring)
                demand_shape.append(shape if same else shapes.put(demand.ring, middle)[0])
                demand_area.append(areas.put(demand.area))
            turns.extend(allowance.turns.intervals)
            demand_start.append(len(demand_shape))
            turn_start.append(len(turns))
        allow_start.append(len(allow_field))
    fixed = [shapes.put(ring)[0] for _, ring in problem.fixed]
    kind = _ints([item.kind for item in problem.items])
    group = np.unique(kind, return_inverse=True)[1]
    pieces = Pieces(
        allow_start=_ints(allow_start),
        allow_field=_ints(allow_field),
        allow_shape=_ints(allow_shape),
        allow_flipped=np.array(allow_flipped, bool),
        middle=np.array(middles, float).reshape(-1, 2),
        demand_start=_ints(demand_start),
        demand_shape=_ints(demand_shape),
        demand_area=_ints(demand_area),
        turn_start=_ints(turn_start),
        turn_lo=np.array([lo for lo, _ in turns], float),
        turn_hi=np.array([hi for _, hi in turns], float),
        kind=kind,
        group=group,
        group_start=np.concatenate([[0], np.cumsum(np.bincount(group))]).astype(np.int64),
        group_item=np.argsort(group, kind="stable"),
        beside_start=np.zeros(len(shapes.rings) + 1, np.int64),
        beside_x=np.zeros(0),
        beside_y=np.zeros(0),
        beside_turn=np.zeros(0),
        beside_tries=np.zeros(1, np.int64),
    )
    plain = shapes.packed()
    masters = Masters(*(getattr(plain, name) for name in Masters._fields))
    tables = pair_tables(masters, _single_turns(pieces, len(plain.vn)))
    return plain._replace(tables=tables), areas.packed(), pieces, fixed


def _single_turns(pieces: Pieces, shapes: int) -> list[list[float] | None]:
    """The single turns of each shape that items are made of; None for one that has other turns or is no item's."""
    turns: list[list[float] | None] = [None] * shapes
    wide: set[int] = set()
    for allow, shape in enumerate(pieces.allow_shape):
        span = slice(pieces.turn_start[allow], pieces.turn_start[allow + 1])
        lo, hi = pieces.turn_lo[span], pieces.turn_hi[span]
        if np.array_equal(lo, hi):
            turns[shape] = [*(turns[shape] or ()), *lo.tolist()]
        else:
            wide.add(int(shape))
    return [None if shape in wide else angles for shape, angles in enumerate(turns)]


def _ints(values: list[int]) -> Ints:
    return np.array(values, np.int64)


class _ShapeRack:
    """Master shapes, each ring once."""

    def __init__(self) -> None:
        self.known: dict[bytes, tuple[int, tuple[float, float]]] = {}
        self.rings: list[Ring] = []

    def put(self, ring: Ring, middle: tuple[float, float] | None = None) -> tuple[int, tuple[float, float]]:
        ring = np.ascontiguousarray(ring, np.float64)
        key = ring.tobytes() + (b"" if middle is None else np.array(middle).tobytes())
        if key not in self.known:
            at = middle_of(ring) if middle is None else middle
            self.known[key] = (len(self.rings), at)
            self.rings.append(grown(ring) - at)
        return self.known[key]

    def packed(self) -> Shapes:
        count = len(self.rings)
        discs = [inscribed_discs(ring, MOST_DISCS, COVERED_SHARE, 60) for ring in self.rings]
        wide = max((len(ring) for ring in self.rings), default=1)
        deep = max((len(row) for row in discs), default=1)
        vx, vy = np.zeros((count, wide)), np.zeros((count, wide))
        px, py, pr = (np.zeros((count, deep), np.float32) for _ in range(3))
        for k, (ring, row) in enumerate(zip(self.rings, discs, strict=True)):
            vx[k, : len(ring)], vy[k, : len(ring)] = ring.T
            px[k, : len(row)], py[k, : len(row)], pr[k, : len(row)] = row.T
        hulls = [Polygon(ring).convex_hull.area for ring in self.rings]
        spans = [2.0 * float(np.hypot(ring[:, 0], ring[:, 1]).max()) for ring in self.rings]
        return Shapes(
            vx=vx,
            vy=vy,
            vn=_ints([len(ring) for ring in self.rings]),
            px=px,
            py=py,
            pr=pr,
            pn=_ints([len(row) for row in discs]),
            scale=np.sqrt(np.array(hulls, float)),
            span=np.array(spans, float),
            tables=no_tables(count),
        )


class _AreaRack:
    """Areas, each geometry once."""

    def __init__(self) -> None:
        self.known: dict[int, int] = {}
        self.areas: list[Polygon | MultiPolygon] = []

    def put(self, area: Polygon | MultiPolygon) -> int:
        if id(area) not in self.known:
            self.known[id(area)] = len(self.areas)
            self.areas.append(area)
        return self.known[id(area)]

    def packed(self) -> Areas:
        boxes, plain, grids = [], [], []
        starts = {"edge": [0], "node": [0], "bin": [0], "hole": [0]}
        edges, nodes, bins, edge_of, holes = [], [], [], [], []
        kept_edges = 0
        for area in self.areas:
            box = area.bounds if not area.is_empty else (0.0, 0.0, 0.0, 0.0)
            boxes.append(box)
            width, height = box[2] - box[0], box[3] - box[1]
            is_box = abs(width * height - area.area) <= 1e-9 * max(area.area, 1.0) and not area.is_empty
            plain.append(is_box)
            own = _edges_of(area)
            edges.append(own)
            cell = max(np.sqrt(width * height / NODES_PER_AREA), 1e-6)
            nx, ny = (1, 1) if is_box or area.is_empty else (int(width / cell) + 3, int(height / cell) + 3)
            x0, y0 = box[0] - cell, box[1] - cell
            grids.append((x0, y0, cell, nx, ny))
            columns = tuple(np.ascontiguousarray(own[:, k]) for k in range(4))
            if is_box or area.is_empty:
                nodes.append(np.full(4, -1e9))
                row, of = np.zeros(2, np.int64), np.zeros(0, np.int64)
            else:
                nodes.append(distance_nodes(*columns, x0, y0, cell, nx, ny).ravel())
                row, of = bin_edges(*columns, x0, y0, cell, nx, ny)
            bins.append(row + kept_edges)
            edge_of.append(of + starts["edge"][-1])
            kept_edges += len(of)
            parts = area.geoms if isinstance(area, MultiPolygon) else (area,)
            points = [hole.coords[0] for part in parts for hole in part.interiors]
            holes.append(np.array(points, float).reshape(-1, 2))
            for name, rows in (("edge", own), ("node", nodes[-1]), ("bin", row), ("hole", holes[-1])):
                starts[name].append(starts[name][-1] + len(rows))
        corners = np.array(boxes, float).reshape(-1, 4)
        grid = np.array([row[:3] for row in grids], float).reshape(-1, 3)
        sizes = np.array([row[3:] for row in grids], np.int64).reshape(-1, 2)
        every = np.vstack(edges) if edges else np.zeros((0, 4))
        hole = np.vstack(holes) if holes else np.zeros((0, 2))
        return Areas(
            bx0=np.ascontiguousarray(corners[:, 0]),
            by0=np.ascontiguousarray(corners[:, 1]),
            bx1=np.ascontiguousarray(corners[:, 2]),
            by1=np.ascontiguousarray(corners[:, 3]),
            plain=np.array(plain, bool),
            edge_start=_ints(starts["edge"]),
            ex0=np.ascontiguousarray(every[:, 0]),
            ey0=np.ascontiguousarray(every[:, 1]),
            ex1=np.ascontiguousarray(every[:, 2]),
            ey1=np.ascontiguousarray(every[:, 3]),
            x0=np.ascontiguousarray(grid[:, 0]),
            y0=np.ascontiguousarray(grid[:, 1]),
            cell=np.ascontiguousarray(grid[:, 2]),
            nx=np.ascontiguousarray(sizes[:, 0]),
            ny=np.ascontiguousarray(sizes[:, 1]),
            node_start=_ints(starts["node"]),
            distance=np.concatenate(nodes).astype(np.float32) if nodes else np.zeros(0, np.float32),
            bin_start=_ints(starts["bin"]),
            bin_edges=np.concatenate(bins) if bins else np.zeros(0, np.int64),
            edge_of=np.concatenate(edge_of) if edge_of else np.zeros(0, np.int64),
            hole_start=_ints(starts["hole"]),
            hole_x=np.ascontiguousarray(hole[:, 0]),
            hole_y=np.ascontiguousarray(hole[:, 1]),
        )


def _edges_of(area: Polygon | MultiPolygon) -> Floats:
    """All edges `(m, 4)` (ax, ay, bx, by) of an area's exterior and interior rings."""
    rings = shapely.get_rings(shapely.get_parts(area))
    rows = [np.zeros((0, 4))]
    for ring in rings:
        points = shapely.get_coordinates(ring)
        rows.append(np.hstack([points[:-1], points[1:]]))
    return np.vstack(rows)
