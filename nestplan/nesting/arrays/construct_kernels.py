"""Kernels for laying one shape after another: where one more can lie among those that lie already.

A field's occupancy holds what lies there as rows, and a raster of room: at every node the distance to the nearest
shape that lies (mm, negative inside one). The rasters steer and reject; whether a shape fits is decided on its edges.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.area_kernels import area_holds_ring, edge_distance
from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.overlap_kernels import ring_holds_point, rings_overlap, tight_boxes_apart
from nestplan.nesting.arrays.packing_kernels import segment_distance
from nestplan.nesting.arrays.random_kernels import next_random
from nestplan.nesting.arrays.records import (
    Areas,
    FieldOccupancy,
    Grid,
    PlacementOptions,
    PlaceQuery,
    PlaceWorkspace,
    ShapePose,
    Shapes,
    TurnedShapes,
)
from nestplan.nesting.arrays.turned_shape_kernels import cosine_sine, turn_shape
from nestplan.nesting.problem import Floats, Singles

FAR = 1e9
DISC_SLACK = 0.4
"""Share of a raster cell by which an interpolated distance may be wrong before a disc is called blocked."""

FAVOURED_SHARE, SNUG_SHARE = 0.5, 0.7
"""How often a favoured turn is tried, and a place where the largest disc nearly touches something."""

FIRST_STEP, FIRST_TURN, LEAST_STEP = 2.0, 4.0, 0.08
"""Of refining a pose: the first step as a share of a raster cell, the first turn in degrees, the least step in mm."""

SAME_TURN = 5.0
"""Degrees under which two poses at one place count as the same."""


@kernel(**FLAT)
def value_at(raster: Singles, grid: Grid, x: float, y: float) -> float:
    """Bilinear value of a raster `(rows, columns)` at a point; far below zero off it."""
    u = (x - grid.left) / grid.cell
    v = (y - grid.bottom) / grid.cell
    i = math.floor(u)
    j = math.floor(v)
    if i < 0 or j < 0 or i >= raster.shape[1] - 1 or j >= raster.shape[0] - 1:
        return -FAR
    u -= i
    v -= j
    low = raster[j, i] + u * (raster[j, i + 1] - raster[j, i])
    high = raster[j + 1, i] + u * (raster[j + 1, i + 1] - raster[j + 1, i])
    return low + v * (high - low)


@kernel(**FLAT)
def mark_inside(areas: Areas, area: int, grid: Grid, raster: Singles) -> None:
    """Add one to every node of a raster that lies inside an area."""
    for j in range(grid.rows):
        for i in range(grid.columns):
            x = grid.left + i * grid.cell
            if edge_distance(areas, area, x, grid.bottom + j * grid.cell) > 0.0:
                raster[j, i] += 1.0


@kernel(**FLAT)
def add_shape(
    shapes: Shapes, occupancy: FieldOccupancy, shape: int, x: float, y: float, angle: float, reach: float
) -> None:
    """Let a shape lie at a pose: one more row, and less room within `reach` mm of it."""
    rows = occupancy.rows
    row = occupancy.number[0]
    turn_shape(shapes, rows, row, shape, angle)
    occupancy.x[row] = x
    occupancy.y[row] = y
    occupancy.number[0] = row + 1
    grid = occupancy.grid
    left = rows.box[row, 0] + x - reach - grid.left
    bottom = rows.box[row, 1] + y - reach - grid.bottom
    right = rows.box[row, 2] + x + reach - grid.left
    top = rows.box[row, 3] + y + reach - grid.bottom
    for j in range(max(int(bottom / grid.cell), 0), min(int(top / grid.cell) + 2, grid.rows)):
        for i in range(max(int(left / grid.cell), 0), min(int(right / grid.cell) + 2, grid.columns)):
            px = grid.left + i * grid.cell - x
            py = grid.bottom + j * grid.cell - y
            room = distance_to_ring(rows, row, px, py, reach)
            occupancy.room[j, i] = min(occupancy.room[j, i], room)


@kernel(**FLAT)
def distance_to_ring(rows: TurnedShapes, row: int, x: float, y: float, reach: float) -> float:
    """Distance of a point to the ring of a row, negative inside it, at most `reach` outside."""
    count = rows.corner_count[row]
    distance = reach
    ax = rows.corner_x[row, count - 1]
    ay = rows.corner_y[row, count - 1]
    for k in range(count):
        bx = rows.corner_x[row, k]
        by = rows.corner_y[row, k]
        distance = min(distance, segment_distance(x, y, ax, ay, bx, by))
        ax = bx
        ay = by
    box = rows.box[row]
    if box[0] <= x <= box[2] and box[1] <= y <= box[3] and ring_holds_point(rows, row, x, y):
        return -distance
    return distance


@kernel(**FLAT)
def fits(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    workspace: PlaceWorkspace,
    pose: ShapePose,
) -> bool:
    """Whether a shape at a pose lies within all that its option asks and overlaps nothing that lies, exactly."""
    option, x, y, angle = pose
    rows = workspace.rows
    for c in range(options.containment_start[option], options.containment_start[option + 1]):
        turn_shape(shapes, rows, 1, options.containment_shape[c], angle)
        if not area_holds_ring(areas, options.containment_area[c], rows, 1, x, y):
            return False
    turn_shape(shapes, rows, 0, options.shape[option], angle)
    others = occupancy.rows
    for row in range(occupancy.number[0]):
        dx = x - occupancy.x[row]
        dy = y - occupancy.y[row]
        if tight_boxes_apart(rows, 0, others, row, dx, dy):
            continue
        if rings_overlap(rows, 0, others, row, dx, dy):
            return False
    return True


@kernel(**FLAT)
def fill_depth(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    depths: Floats,
    option: int,
    grid: Grid,
    depth: Singles,
) -> None:
    """Fill a raster with how far each node is inside what an option asks for, mm.

    The least, over its containments, of the distance to the area's edge, plus what the ring contained is smaller than
    the shape: so zero means that the shape's rim may just come here. `depths (containments,)` mm: how deep the middle
    of the shape's largest disc lies in the ring contained.
    """
    radius = shapes.disc_radius[options.shape[option], 0]
    for j in range(grid.rows):
        for i in range(grid.columns):
            x = grid.left + i * grid.cell
            y = grid.bottom + j * grid.cell
            least = FAR
            for c in range(options.containment_start[option], options.containment_start[option + 1]):
                if depths[c] > 0.0:
                    distance = edge_distance(areas, options.containment_area[c], x, y)
                    least = min(least, distance + radius - depths[c])
            depth[j, i] = least


@kernel(**FLAT)
def rate(
    shapes: Shapes,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    query: PlaceQuery,
    workspace: PlaceWorkspace,
    pose: ShapePose,
) -> float:
    """How badly a pose uses a field, lower is better.

    The mean clearance at the rim, up to what counts as loose and as a share of it, and the mean of what the leather
    under the shape's discs is worth to others.
    """
    c, s = cosine_sine(pose.angle)
    rim = query.rim
    loose = 0.0
    for k in range(rim.shape[0]):
        x = c * rim[k, 0] - s * rim[k, 1] + pose.x
        y = s * rim[k, 0] + c * rim[k, 1] + pose.y
        loose += max(min(value_at(workspace.clearance, occupancy.grid, x, y), query.loose), 0.0)
    shape = options.shape[pose.option]
    weight = 0.0
    total = 0.0
    for k in range(shapes.disc_count[shape]):
        x = c * shapes.disc_x[shape, k] - s * shapes.disc_y[shape, k] + pose.x
        y = s * shapes.disc_x[shape, k] + c * shapes.disc_y[shape, k] + pose.y
        square = shapes.disc_radius[shape, k] * shapes.disc_radius[shape, k]
        weight += square
        total += square * value_at(query.worth, occupancy.grid, x, y)
    return loose / (query.loose * rim.shape[0]) + total / weight


@kernel(**FLAT)
def allows_turn(options: PlacementOptions, option: int, angle: float) -> bool:
    """Whether an option allows an angle in [0, 360)."""
    for k in range(options.turn_start[option], options.turn_start[option + 1]):
        if options.turn_low[k] - 1e-9 <= angle <= options.turn_high[k] + 1e-9:
            return True
    return False


@kernel(**FLAT)
def random_turn_for(options: PlacementOptions, query: PlaceQuery, random_state: NDArray[np.uint64]) -> float:
    """A turn: half the time one of those favoured if it is allowed, else any allowed one, evenly."""
    option = query.option
    favoured = query.favoured
    if favoured.shape[0] > 0 and next_random(random_state) < FAVOURED_SHARE:
        angle = favoured[int(next_random(random_state) * favoured.shape[0])]
        if allows_turn(options, option, angle):
            return angle
    first, last = options.turn_start[option], options.turn_start[option + 1]
    low = options.turn_low
    high = options.turn_high
    measure = 0.0
    for k in range(first, last):
        measure += high[k] - low[k]
    if measure <= 0.0:
        return low[first + int(next_random(random_state) * (last - first))]
    angle = next_random(random_state) * measure
    for k in range(first, last):
        span = high[k] - low[k]
        if angle <= span:
            return low[k] + angle
        angle -= span
    return high[last - 1]


@kernel(**FLAT)
def disc_blocked(
    shapes: Shapes,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    workspace: PlaceWorkspace,
    pose: ShapePose,
) -> bool:
    """Whether some inscribed disc of the shape surely has no room, by the raster of clearance alone."""
    c, s = cosine_sine(pose.angle)
    shape = options.shape[pose.option]
    slack = DISC_SLACK * occupancy.grid.cell
    for k in range(shapes.disc_count[shape]):
        x = c * shapes.disc_x[shape, k] - s * shapes.disc_y[shape, k] + pose.x
        y = s * shapes.disc_x[shape, k] + c * shapes.disc_y[shape, k] + pose.y
        if value_at(workspace.clearance, occupancy.grid, x, y) < shapes.disc_radius[shape, k] - slack:
            return True
    return False


@kernel(**FLAT)
def find_open_nodes(
    occupancy: FieldOccupancy, depth: Singles, radius: float, workspace: PlaceWorkspace
) -> tuple[int, int]:
    """Fill the raster of clearance, and list the nodes where a disc of `radius` has room: all of them, and again those
    where it nearly touches something. How many there are of each."""
    cell = occupancy.grid.cell
    rows, columns = depth.shape
    open_count = 0
    snug_count = 0
    for j in range(rows):
        for i in range(columns):
            clearance = min(occupancy.room[j, i], depth[j, i])
            workspace.clearance[j, i] = clearance
            if clearance >= radius - cell:
                workspace.open_nodes[open_count] = j * columns + i
                open_count += 1
                if clearance < radius + 2.0 * cell:
                    workspace.snug_nodes[snug_count] = j * columns + i
                    snug_count += 1
    return open_count, snug_count


@kernel(**FLAT)
def pose_beside(
    shapes: Shapes, options: PlacementOptions, pose: ShapePose, way: int, step: float, turn: float
) -> tuple[bool, ShapePose]:
    """The pose one step away in one of eight directions, or turned either way about the shape's largest disc; whether
    it is allowed."""
    option, x, y, angle = pose
    if way < 8:
        x += step * math.cos(way * math.pi / 4.0)
        y += step * math.sin(way * math.pi / 4.0)
        return True, ShapePose(option, x, y, angle)
    angle = (angle + (turn if way == 8 else -turn)) % 360.0
    if not allows_turn(options, option, angle):
        return False, pose
    shape = options.shape[option]
    px, py = shapes.disc_x[shape, 0], shapes.disc_y[shape, 0]
    c0, s0 = cosine_sine(pose.angle)
    c1, s1 = cosine_sine(angle)
    x += (c0 - c1) * px - (s0 - s1) * py
    y += (s0 - s1) * px + (c0 - c1) * py
    return True, ShapePose(option, x, y, angle)


@kernel(**FLAT)
def refine(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    query: PlaceQuery,
    workspace: PlaceWorkspace,
    pose: ShapePose,
    score: float,
) -> tuple[ShapePose, float]:
    """A pose and its score, made better by a shrinking pattern search that never leaves what fits."""
    step = FIRST_STEP * occupancy.grid.cell
    turn = FIRST_TURN
    while step > LEAST_STEP:
        moved = False
        for way in range(10):
            allowed, tried = pose_beside(shapes, options, pose, way, step, turn)
            if not allowed:
                continue
            value = rate(shapes, options, occupancy, query, workspace, tried)
            if value < score - 1e-7 and not disc_blocked(shapes, options, occupancy, workspace, tried):
                if fits(shapes, areas, options, occupancy, workspace, tried):
                    pose = tried
                    score = value
                    moved = True
        if not moved:
            step *= 0.5
            turn *= 0.5
    return pose, score


@kernel(**FLAT)
def keep_pose(poses: Floats, count: int, pose: ShapePose, score: float) -> None:
    """Enter a pose among the `count` kept in `poses (·, 4)` (x, y, angle, score), by rising score."""
    place = count - 1
    while place > 0 and poses[place - 1, 3] > score:
        for m in range(4):
            poses[place, m] = poses[place - 1, m]
        place -= 1
    poses[place, 0] = pose.x
    poses[place, 1] = pose.y
    poses[place, 2] = pose.angle
    poses[place, 3] = score


@kernel(**FLAT)
def has_twin(poses: Floats, number: int, near: float) -> bool:
    """Whether an earlier pose lies within `near` mm and a few degrees of the numbered one."""
    for other in range(number):
        apart = abs(poses[other, 0] - poses[number, 0]) + abs(poses[other, 1] - poses[number, 1])
        if apart < near and abs(poses[other, 2] - poses[number, 2]) < SAME_TURN:
            return True
    return False


@kernel(**FLAT)
def random_pose(
    shapes: Shapes,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    query: PlaceQuery,
    workspace: PlaceWorkspace,
    open_count: int,
    snug_count: int,
) -> ShapePose:
    """A pose whose largest disc lies at a node where it has room, more often where it nearly touches something."""
    random_state = workspace.random_state
    if snug_count > 0 and next_random(random_state) < SNUG_SHARE:
        node = workspace.snug_nodes[int(next_random(random_state) * snug_count)]
    else:
        node = workspace.open_nodes[int(next_random(random_state) * open_count)]
    angle = random_turn_for(options, query, random_state)
    c, s = cosine_sine(angle)
    grid = occupancy.grid
    columns = workspace.clearance.shape[1]
    shape = options.shape[query.option]
    px, py = shapes.disc_x[shape, 0], shapes.disc_y[shape, 0]
    x = grid.left + (node % columns + next_random(random_state) - 0.5) * grid.cell - (c * px - s * py)
    y = grid.bottom + (node // columns + next_random(random_state) - 0.5) * grid.cell - (s * px + c * py)
    return ShapePose(query.option, x, y, angle)


@kernel(**FLAT)
def sample_places(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    query: PlaceQuery,
    workspace: PlaceWorkspace,
    counts: tuple[int, int],
) -> None:
    """Fill `workspace.best` with the best poses that fit among those drawn, by rising score. `counts`: of open and of
    snug nodes."""
    open_count, snug_count = counts
    best = workspace.best
    kept = best.shape[0]
    for k in range(kept):
        best[k, 3] = FAR
    for _ in range(query.samples):
        pose = random_pose(shapes, options, occupancy, query, workspace, open_count, snug_count)
        if disc_blocked(shapes, options, occupancy, workspace, pose):
            continue
        score = rate(shapes, options, occupancy, query, workspace, pose)
        if score < best[kept - 1, 3] and fits(shapes, areas, options, occupancy, workspace, pose):
            keep_pose(best, kept, pose, score)


@kernel(**FLAT)
def find_places(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    occupancy: FieldOccupancy,
    query: PlaceQuery,
    workspace: PlaceWorkspace,
    places: Floats,
) -> int:
    """Poses at which the shape of an option fits, best first, in `places (n, 4)`: x, y, angle, score.

    Sampled widely with the largest disc where it has room, thinned to n that differ, each refined. Returns how many
    there are.
    """
    radius = shapes.disc_radius[options.shape[query.option], 0]
    counts = find_open_nodes(occupancy, query.depth, radius, workspace)
    if counts[0] == 0:
        return 0
    sample_places(shapes, areas, options, occupancy, query, workspace, counts)
    best = workspace.best
    near = 2.0 * occupancy.grid.cell
    found = 0
    for b in range(best.shape[0]):
        if best[b, 3] >= FAR or found == places.shape[0]:
            break
        if not has_twin(best, b, near):
            start = ShapePose(query.option, best[b, 0], best[b, 1], best[b, 2])
            pose, score = refine(shapes, areas, options, occupancy, query, workspace, start, best[b, 3])
            found += 1
            keep_pose(places, found, pose, score)
    return found
