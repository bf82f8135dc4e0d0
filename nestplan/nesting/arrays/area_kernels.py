"""Kernels that ask whether an area holds a turned shape, exactly, and how far the shape sticks out."""

from __future__ import annotations

import math

from nestplan.nesting.arrays.compile_options import INNER
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.overlap_kernels import ring_holds_point, segments_cross
from nestplan.nesting.arrays.records import Areas, TurnedShapes
from nestplan.nesting.arrays.turned_shape_kernels import EDGES_PER_RUN, corner_before, last_of_run

SLACK = 0.72
"""Share of a grid's cell by which `signed_distance` may be wrong at the most."""

SHORT_STEP, LONG_STEP = 0.5, 1.0
"""Along an edge: the clear way, in cells, below which the area's own edges are asked, and over how many cells then."""

OUTSIDE, UNDECIDED, INSIDE = 0, 1, 2
"""Verdicts on some edges of a ring: an edge leaves the area; none does; none does and one lies well inside."""


@kernel(**INNER)
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


@kernel(**INNER, forceinline=True)
def edge_distance(areas: Areas, area: int, x: float, y: float) -> float:
    """Signed distance of a point to the edge of an area, positive inside; exact where the area is a box."""
    if areas.is_box[area]:
        across = min(x - areas.box[area, 0], areas.box[area, 2] - x)
        return min(across, min(y - areas.box[area, 1], areas.box[area, 3] - y))
    return signed_distance(areas, area, x, y)


@kernel(**INNER, forceinline=True)
def box_holds_box(areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float) -> bool:
    """Whether the box of an area holds that of a row at (x, y)."""
    return (
        rows.box[row, 0] + x >= areas.box[area, 0]
        and rows.box[row, 1] + y >= areas.box[area, 1]
        and rows.box[row, 2] + x <= areas.box[area, 2]
        and rows.box[row, 3] + y <= areas.box[area, 3]
    )


@kernel(**INNER, forceinline=True)
def crosses_boundary_near(
    areas: Areas,
    area: int,
    edge: tuple[float, float, float, float],
    box: tuple[float, float, float, float],
) -> bool:
    """Whether an edge (ax, ay, bx, by) crosses the edge of an area in a box (left, bottom, right, top) that holds a
    part of it (exact, through the bins of the area's grid)."""
    ax, ay, bx, by = edge
    x0, y0, x1, y1 = box
    cell = areas.cell[area]
    columns = areas.columns[area]
    i0 = min(max(math.floor((x0 - areas.left[area]) / cell), 0), columns - 1)
    i1 = min(max(math.floor((x1 - areas.left[area]) / cell), 0), columns - 1)
    j0 = min(max(math.floor((y0 - areas.bottom[area]) / cell), 0), areas.rows[area] - 1)
    j1 = min(max(math.floor((y1 - areas.bottom[area]) / cell), 0), areas.rows[area] - 1)
    for j in range(j0, j1 + 1):
        at = areas.bin_start[area] + j * columns
        for i in range(i0, i1 + 1):
            for m in range(areas.bin_edge_start[at + i], areas.bin_edge_start[at + i + 1]):
                other = areas.edge[areas.bin_edge[m]]
                if segments_cross(ax, ay, bx, by, other[0], other[1], other[2], other[3]):
                    return True
    return False


@kernel(**INNER)
def verdict_on_edge(areas: Areas, area: int, ax: float, ay: float, bx: float, by: float) -> int:
    """What is known of the edge ab: OUTSIDE if it leaves an area, else INSIDE if a point of it lies well inside, else
    UNDECIDED.

    Goes along the edge in steps as long as the area's distances allow, and asks the area's own edges only near them.
    """
    cell = areas.cell[area]
    slack = SLACK * cell
    length = math.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
    distance = signed_distance(areas, area, 0.5 * (ax + bx), 0.5 * (ay + by))
    if distance < -slack:
        return OUTSIDE
    if distance > 0.5 * length + slack:
        return INSIDE
    verdict = INSIDE if distance > slack else UNDECIDED
    ux = (bx - ax) / length if length > 0.0 else 0.0
    uy = (by - ay) / length if length > 0.0 else 0.0
    at = 0.0
    while True:
        x = ax + at * ux
        y = ay + at * uy
        distance = signed_distance(areas, area, x, y)
        if distance < -slack:
            return OUTSIDE
        if distance > slack:
            verdict = INSIDE
        clear = distance - slack
        if clear < SHORT_STEP * cell:
            # The last step ends at b itself, so that rounding leaves nothing out.
            step = min(at + LONG_STEP * cell, length)
            x1 = bx if step >= length else ax + step * ux
            y1 = by if step >= length else ay + step * uy
            box = (min(x, x1), min(y, y1), max(x, x1), max(y, y1))
            if crosses_boundary_near(areas, area, (ax, ay, bx, by), box):
                return OUTSIDE
            clear = LONG_STEP * cell
        at += clear
        if at >= length:
            return verdict


@kernel(**INNER, forceinline=True)
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


@kernel(**INNER, forceinline=True)
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


@kernel(**INNER)
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


@kernel(**INNER)
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


@kernel(**INNER)
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


@kernel(**INNER, forceinline=True)
def depth_with_tail(depth: float, tail: float) -> float:
    """A depth, going on below `tail` as a decaying tail (mm)."""
    return depth if depth >= tail else tail * tail / (2.0 * tail - depth)


@kernel(**INNER)
def outside_depth(
    areas: Areas, area: int, rows: TurnedShapes, row: int, x: float, y: float, tail: float
) -> tuple[float, float]:
    """Smooth measure of how far a disc cover sticks out of an area (mm²): sum of depth times radius, with a tail; and
    how far (mm) the disc sticks out that does so most."""
    total = 0.0
    furthest = -math.inf
    for p in range(rows.disc_count[row]):
        radius = rows.disc_radius[row, p]
        depth = radius - edge_distance(areas, area, rows.disc_x[row, p] + x, rows.disc_y[row, p] + y)
        furthest = max(furthest, depth)
        total += depth_with_tail(depth, tail) * radius
    return total, furthest


@kernel(**INNER)
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


@kernel(**INNER)
def furthest_along(rows: TurnedShapes, row: int, nx: float, ny: float) -> float:
    """The largest n·p over a row's corners, mm."""
    far = -1e300
    for k in range(rows.corner_count[row]):
        far = max(far, nx * rows.corner_x[row, k] + ny * rows.corner_y[row, k])
    return far
