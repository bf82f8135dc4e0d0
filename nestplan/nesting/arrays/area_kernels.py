"""Kernels that ask whether an area holds a turned shape, exactly, and how far the shape sticks out."""

from __future__ import annotations

import math

import numpy as np

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.overlap_kernels import ring_holds_point, segments_cross
from nestplan.nesting.arrays.records import RUNS_PER_GROUP, Areas, TurnedShapes
from nestplan.nesting.arrays.turned_shape_kernels import EDGES_PER_RUN, corner_before, filled_up, last_of_run
from nestplan.nesting.problem import Floats

SLACK = 0.72
"""Share of a grid's cell by which `signed_distance` may be wrong at the most."""

SAFE_SIDE = 1e-12
"""How much wider a line is taken than it is, as a share of what it is compared with: more than rounding."""

OUTSIDE, UNDECIDED, INSIDE = 0, 1, 2
"""Verdicts on some edges of a ring: an edge leaves the area; none does; none does and one lies well inside."""


@kernel(**FLAT)
def signed_distance(areas: Areas, area: int, x: float, y: float) -> float:
    """Signed distance of a point to the edge of an area, positive inside, by the area's grid.

    Within the grid the error is at most `SLACK` of the grid's cell; beyond it the distance to the grid is taken off.
    """
    cell = areas.cell[area]
    u = (x - areas.left[area]) / cell
    v = (y - areas.bottom[area]) / cell
    columns = areas.columns[area]
    rows = areas.rows[area]
    beyond = 0.0
    if u < 0.0:
        beyond += -u
        u = 0.0
    elif u > columns:
        beyond += u - columns
        u = float(columns)
    if v < 0.0:
        beyond += -v
        v = 0.0
    elif v > rows:
        beyond += v - rows
        v = float(rows)
    i = min(int(u), columns - 1)
    j = min(int(v), rows - 1)
    u -= i
    v -= j
    at = areas.node_start[area] + j * (columns + 1) + i
    low = areas.distance[at] * (1.0 - u) + areas.distance[at + 1] * u
    at += columns + 1
    high = areas.distance[at] * (1.0 - u) + areas.distance[at + 1] * u
    return low * (1.0 - v) + high * v - beyond * cell


@kernel(**FLAT, forceinline=True)
def edge_distance(areas: Areas, area: int, x: float, y: float) -> float:
    """Signed distance of a point to the edge of an area, positive inside; exact where the area is a box."""
    if areas.is_box[area]:
        across = min(x - areas.box[area, 0], areas.box[area, 2] - x)
        return min(across, min(y - areas.box[area, 1], areas.box[area, 3] - y))
    return signed_distance(areas, area, x, y)


@kernel(**FLAT, forceinline=True)
def box_holds_box(areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float) -> bool:
    """Whether the box of an area holds that of a row at (x, y)."""
    return (
        rows.box[row, 0] + x >= areas.box[area, 0]
        and rows.box[row, 1] + y >= areas.box[area, 1]
        and rows.box[row, 2] + x <= areas.box[area, 2]
        and rows.box[row, 3] + y <= areas.box[area, 3]
    )


@kernel(**FLAT, forceinline=True)
def boxes_meet(box: tuple[float, float, float, float], boxes: Floats, number: int) -> bool:
    """Whether a box (left, bottom, right, top) meets one of `boxes (n, 4)`."""
    return (
        boxes[number, 0] <= box[2]
        and boxes[number, 2] >= box[0]
        and boxes[number, 1] <= box[3]
        and boxes[number, 3] >= box[1]
    )


@kernel(**FLAT, forceinline=True)
def line_passes_box(edge: tuple[float, float, float, float], boxes: Floats, number: int) -> bool:
    """Whether the line through an edge (ax, ay, bx, by) may pass one of `boxes (n, 4)`; rounding is on the safe
    side."""
    ux = edge[2] - edge[0]
    uy = edge[3] - edge[1]
    x = 0.5 * (boxes[number, 0] + boxes[number, 2]) - edge[0]
    y = 0.5 * (boxes[number, 1] + boxes[number, 3]) - edge[1]
    across = abs(uy) * (boxes[number, 2] - boxes[number, 0]) + abs(ux) * (boxes[number, 3] - boxes[number, 1])
    size = abs(ux) + abs(uy)
    return abs(ux * y - uy * x) <= 0.5 * across + SAFE_SIDE * size * (abs(x) + abs(y) + size)


@kernel(**FLAT, forceinline=True)
def crosses_run(areas: Areas, run: int, edge: tuple[float, float, float, float]) -> bool:
    """Whether an edge (ax, ay, bx, by) crosses one of a run of an area's edges."""
    ax, ay, bx, by = edge
    for e in range(areas.run_edge[run], areas.run_edge[run + 1]):
        cx, cy, dx, dy = areas.edge[e, 0], areas.edge[e, 1], areas.edge[e, 2], areas.edge[e, 3]
        if segments_cross(ax, ay, bx, by, cx, cy, dx, dy):
            return True
    return False


@kernel(**FLAT, forceinline=True)
def crosses_boundary(areas: Areas, area: int, edge: tuple[float, float, float, float]) -> bool:
    """Whether an edge (ax, ay, bx, by) crosses an edge of an area, exactly: asked are the edges of those runs alone
    whose box it may pass."""
    ax, ay, bx, by = edge
    box = (min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))
    last = areas.run_start[area + 1]
    for group in range(areas.group_start[area], areas.group_start[area + 1]):
        if not boxes_meet(box, areas.group_box, group):
            continue
        first = areas.run_start[area] + (group - areas.group_start[area]) * RUNS_PER_GROUP
        for run in range(first, min(first + RUNS_PER_GROUP, last)):
            near = boxes_meet(box, areas.run_box, run) and line_passes_box(edge, areas.run_box, run)
            if near and crosses_run(areas, run, edge):
                return True
    return False


@kernel(**FLAT, forceinline=True)
def verdict_on_edge(areas: Areas, area: int, ax: float, ay: float, bx: float, by: float) -> int:
    """What is known of the edge ab: OUTSIDE if it leaves an area, else INSIDE if its middle lies well inside, else
    UNDECIDED. The area's own edges are asked only where its distances do not tell."""
    slack = SLACK * areas.cell[area]
    half = 0.5 * math.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
    distance = signed_distance(areas, area, 0.5 * (ax + bx), 0.5 * (ay + by))
    if distance < -slack:
        return OUTSIDE
    if distance > half + slack:
        return INSIDE
    if crosses_boundary(areas, area, (ax, ay, bx, by)):
        return OUTSIDE
    return INSIDE if distance > slack else UNDECIDED


@kernel(**FLAT, forceinline=True)
def disc_about_run_held(
    areas: Areas, area: int, rows: TurnedShapes, row: int, run: int, x: float, y: float
) -> bool:
    """Whether the disc about the box of a run of edges, moved by (x, y), surely lies in an area."""
    x0 = rows.run_box[row, run, 0] + x
    y0 = rows.run_box[row, run, 1] + y
    x1 = rows.run_box[row, run, 2] + x
    y1 = rows.run_box[row, run, 3] + y
    half = 0.5 * math.sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2)
    distance = signed_distance(areas, area, 0.5 * (x0 + x1), 0.5 * (y0 + y1))
    return distance > half + SLACK * areas.cell[area]


@kernel(**FLAT, forceinline=True)
def verdict_on_run(
    areas: Areas, area: int, rows: TurnedShapes, row: int, run: int, x: float, y: float
) -> int:
    """What is known of the edges of a run, moved by (x, y): OUTSIDE, UNDECIDED or INSIDE."""
    count = rows.corner_count[row]
    start = run * EDGES_PER_RUN
    before = corner_before(start, count)
    ax = rows.corner_x[row, before] + x
    ay = rows.corner_y[row, before] + y
    verdict = UNDECIDED
    for k in range(start, last_of_run(run, count)):
        bx = rows.corner_x[row, k] + x
        by = rows.corner_y[row, k] + y
        found = verdict_on_edge(areas, area, ax, ay, bx, by)
        if found == OUTSIDE:
            return OUTSIDE
        verdict = max(verdict, found)
        ax = bx
        ay = by
    return verdict


@kernel(**FLAT)
def area_holds_point(areas: Areas, area: int, x: float, y: float) -> bool:
    """Whether an area holds a point (ray casting over all its edges)."""
    inside = False
    for e in range(areas.edge_start[area], areas.edge_start[area + 1]):
        ax = areas.edge[e, 0]
        ay = areas.edge[e, 1]
        bx = areas.edge[e, 2]
        by = areas.edge[e, 3]
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            inside = not inside
    return inside


@kernel(**FLAT)
def surrounds_hole(areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float) -> bool:
    """Whether the ring of a row, moved by (x, y), surrounds a hole of an area."""
    for h in range(areas.hole_start[area], areas.hole_start[area + 1]):
        hole_x = areas.hole[h, 0]
        hole_y = areas.hole[h, 1]
        across = hole_x > rows.box[row, 0] + x and hole_x < rows.box[row, 2] + x
        if across and hole_y > rows.box[row, 1] + y and hole_y < rows.box[row, 3] + y:
            if ring_holds_point(rows, row, hole_x - x, hole_y - y):
                return True
    return False


@kernel(**FLAT)
def area_holds_ring(areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float) -> bool:
    """Whether an area holds the ring of a row moved by (x, y), exactly."""
    if not box_holds_box(areas, area, rows, row, x, y):
        return False
    if areas.is_box[area]:
        return True
    count = rows.corner_count[row]
    inside = False
    for run in range((count + EDGES_PER_RUN - 1) // EDGES_PER_RUN):
        # Where a run of edges lies in a disc that the area holds, none of them need be asked.
        if disc_about_run_held(areas, area, rows, row, run, x, y):
            inside = True
            continue
        verdict = verdict_on_run(areas, area, rows, row, run, x, y)
        if verdict == OUTSIDE:
            return False
        inside = inside or verdict == INSIDE
    if not inside:
        x_last = rows.corner_x[row, count - 1] + x
        if not area_holds_point(areas, area, x_last, rows.corner_y[row, count - 1] + y):
            return False
    return not surrounds_hole(areas, area, rows, row, x, y)


@kernel(**FLAT, forceinline=True)
def depth_with_tail(depth: float, tail: float) -> float:
    """A depth, going on below `tail` as a decaying tail (mm)."""
    return depth if depth >= tail else tail * tail / (2.0 * tail - depth)


@kernel(**FLAT, forceinline=True)
def outside_depth(
    areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float, tail: float
) -> tuple[float, float]:
    """Smooth measure of how far a disc cover sticks out of an area (mm²): sum of depth times radius, with a tail; and
    how far (mm) the disc sticks out that does so most."""
    if areas.is_box[area]:
        return outside_box_depth(areas, area, rows, row, x, y, tail)
    grid_x = np.float32(x - areas.left[area])
    grid_y = np.float32(y - areas.bottom[area])
    return outside_grid_depth(areas, area, rows, row, grid_x, grid_y, np.float32(tail))


@kernel(**FLAT)
def outside_box_depth(
    areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float, tail: float
) -> tuple[float, float]:
    """`outside_depth` of an area that is a box."""
    total = 0.0
    furthest = -math.inf
    for p in range(rows.disc_count[row]):
        radius = rows.disc_radius[row, p]
        depth = radius - edge_distance(areas, area, rows.disc_x[row, p] + x, rows.disc_y[row, p] + y)
        furthest = max(furthest, depth)
        total += depth_with_tail(depth, tail) * radius
    return total, furthest


@kernel(**FLAT, fastmath={"nnan", "nsz", "reassoc", "contract"}, error_model="numpy", forceinline=True)
def outside_grid_depth(
    areas: Areas, area: int, rows: TurnedShapes, row: int, x: np.float32, y: np.float32, tail: np.float32
) -> tuple[np.float32, np.float32]:
    """`outside_depth` by an area's grid, whose lower left corner (x, y) is counted from. As `signed_distance`, in
    float32, without branches and over rows filled up to whole vectors: compiled to vector instructions."""
    cell = np.float32(areas.cell[area])
    per_cell = np.float32(1.0) / cell
    columns = areas.columns[area]
    high_u = np.float32(columns)
    high_v = np.float32(areas.rows[area])
    none = np.float32(0.0)
    half = np.float32(0.5)
    square = tail * tail
    start = areas.node_start[area]
    disc_x = rows.disc_x[row]
    disc_y = rows.disc_y[row]
    disc_radius = rows.disc_radius[row]
    total = none
    furthest = np.float32(-1e30)
    for p in range(filled_up(rows.disc_count[row])):
        wish_u = (disc_x[p] + x) * per_cell
        wish_v = (disc_y[p] + y) * per_cell
        u = min(max(wish_u, none), high_u)
        v = min(max(wish_v, none), high_v)
        beyond = (abs(wish_u - u) + abs(wish_v - v)) * cell
        i = min(np.int32(u), np.int32(columns - 1))
        j = min(np.int32(v), np.int32(areas.rows[area] - 1))
        u -= np.float32(i)
        v -= np.float32(j)
        at = start + j * (columns + 1) + i
        low = areas.distance[at] + (areas.distance[at + 1] - areas.distance[at]) * u
        at += columns + 1
        high = areas.distance[at] + (areas.distance[at + 1] - areas.distance[at]) * u
        radius = disc_radius[p]
        depth = radius + beyond - (low + (high - low) * v)
        furthest = max(furthest, depth)
        under = depth - tail
        over = half * (under + abs(under))
        total += (over + square / (tail - (under - over))) * radius
    return total, furthest


@kernel(**FLAT)
def beyond_limit(
    rows: TurnedShapes, row: int, x: float, y: float, limit: tuple[float, float, float], tail: float
) -> tuple[float, float]:
    """Smooth measure of how far a disc cover lies beyond a limit (nx, ny, distance), and its furthest disc, as of
    `outside_depth`."""
    nx, ny, distance = limit
    total = 0.0
    furthest = -math.inf
    for p in range(rows.disc_count[row]):
        radius = rows.disc_radius[row, p]
        depth = radius + nx * (rows.disc_x[row, p] + x) + ny * (rows.disc_y[row, p] + y) - distance
        furthest = max(furthest, depth)
        total += depth_with_tail(depth, tail) * radius
    return total, furthest


@kernel(**FLAT)
def furthest_along(rows: TurnedShapes, row: int, nx: float, ny: float) -> float:
    """The largest n·p over a row's corners, mm."""
    far = -1e300
    for k in range(rows.corner_count[row]):
        far = max(far, nx * rows.corner_x[row, k] + ny * rows.corner_y[row, k])
    return far
