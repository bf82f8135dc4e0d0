"""Kernels that judge and change one pose: the loss of a candidate, and putting a body where it says.

The loss of a pair that collides is the root of `disc_overlap` times the root of the product of the shapes' sizes: a
length times a length. That the smooth part only counts when the exact test says so is what makes a loss of zero a
proof of no overlap.
"""

from __future__ import annotations

import math

import numpy as np

from nestplan.nesting.arrays.area_kernels import (
    SLACK,
    area_holds_ring,
    beyond_limit,
    box_holds_box,
    furthest_along,
    outside_depth,
    signed_distance,
)
from nestplan.nesting.arrays.broad_phase_kernels import (
    bodies_near,
    cells_touched,
    lowest_bit,
    mark_cells,
    touches_body,
)
from nestplan.nesting.arrays.compile_options import FLAT, INNER
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.overlap_kernels import TAIL, disc_overlap, rings_overlap
from nestplan.nesting.arrays.pair_table_kernels import APART, HIT, look_up
from nestplan.nesting.arrays.records import (
    POSES_JUDGED,
    Areas,
    PlacementOptions,
    SearchState,
    ShapePose,
    Shapes,
    TurnedShapes,
)
from nestplan.nesting.arrays.turned_shape_kernels import turn_shape
from nestplan.nesting.problem import Floats, Ints

SURELY_PIERCED = 0.001
"""Penetration of two discs (mm) from which on their shapes surely overlap, so that no edge need be asked."""


@kernel(**INNER, forceinline=True)
def row_holding(shapes: Shapes, state: SearchState, own: int, shape: int, angle: float) -> int:
    """The row that holds a shape turned by an angle: its variant's row if it has one, else `own`, turned now."""
    tables = shapes.tables
    for k in range(tables.variant_start[shape], tables.variant_start[shape + 1]):
        if tables.variant_angle[k] == angle:
            return state.field.shape[0] + 2 + k
    turn_shape(shapes, state.rows, own, shape, angle)
    return own


@kernel(**INNER, forceinline=True)
def rows_overlap(shapes: Shapes, rows: TurnedShapes, first: int, second: int, dx: float, dy: float) -> bool:
    """Whether the shapes in two rows overlap, exactly, the first at (dx, dy); their circles and largest discs tell many
    pairs apart or together before an edge is asked."""
    reach = 0.5 * (shapes.diameter[rows.shape[first]] + shapes.diameter[rows.shape[second]])
    if dx * dx + dy * dy > reach * reach:
        return False
    ex = dx + rows.disc_x[first, 0] - rows.disc_x[second, 0]
    ey = dy + rows.disc_y[first, 0] - rows.disc_y[second, 0]
    deep = rows.disc_radius[first, 0] + rows.disc_radius[second, 0] - SURELY_PIERCED
    if deep > 0.0 and ex * ex + ey * ey < deep * deep:
        return True
    return rings_overlap(rows, first, rows, second, dx, dy)


@kernel(**INNER, forceinline=True)
def pair_loss(shapes: Shapes, state: SearchState, row: int, x: float, y: float, other: int) -> float:
    """Loss of the shape held in `row`, lying at (x, y), against a placed body; 0 if they do not collide."""
    dx = x - state.x[other]
    dy = y - state.y[other]
    rows = state.rows
    held = state.row[other]
    first = row - state.field.shape[0] - 2
    second = held - state.field.shape[0] - 2
    if first >= 0 and second >= 0:
        tables = shapes.tables
        c = tables.cosine[first, second]
        s = tables.sine[first, second]
        table = tables.table_of_pair[first, second]
        verdict, loss = look_up(tables, table, c * dx + s * dy, c * dy - s * dx)
        if verdict == APART:
            return 0.0
        if verdict == HIT or rings_overlap(rows, row, rows, held, dx, dy):
            return loss
        return 0.0
    if not rows_overlap(shapes, rows, row, held, dx, dy):
        return 0.0
    a = rows.shape[row]
    b = rows.shape[held]
    tail = np.float32(TAIL * max(shapes.diameter[a], shapes.diameter[b]))
    depth = disc_overlap(rows, row, held, np.float32(dx), np.float32(dy), tail)
    return math.sqrt(depth * shapes.hull_size[a] * shapes.hull_size[b])


@kernel(**INNER, forceinline=True)
def boundary_loss(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    option: int,
    row: int,
    x: float,
    y: float,
) -> float:
    """Loss of the shape held in `row` at (x, y) against what an option asks and its field's limit; 0 if all holds."""
    rows = state.rows
    shape = rows.shape[row]
    tail = TAIL * shapes.diameter[shape]
    depth = 0.0
    for c in range(options.containment_start[option], options.containment_start[option + 1]):
        contained = options.containment_shape[c]
        area = options.containment_area[c]
        # A disc about the row's origin that the area holds needs neither a turn of the shape nor a look at its edges.
        far_inside = 0.5 * shapes.diameter[contained] + SLACK * areas.cell[area]
        if not areas.is_box[area] and signed_distance(areas, area, x, y) > far_inside:
            continue
        held = row
        if contained != shape:
            held = state.field.shape[0] + 1
            turn_shape(shapes, rows, held, contained, rows.angle[row])
        # The boxes first, in place: handing all the arrays on costs more than the test.
        within = box_holds_box(areas, area, rows, held, x, y)
        if within and not areas.is_box[area]:
            within = area_holds_ring(areas, area, rows, held, x, y)
        if not within:
            depth += outside_depth(areas, area, rows, held, x, y, tail)
    field = options.field[option]
    far = state.limit[field, 2]
    if far < math.inf:
        nx = state.limit[field, 0]
        ny = state.limit[field, 1]
        if furthest_along(rows, row, nx, ny) + nx * x + ny * y > far:
            depth += beyond_limit(rows, row, x, y, (nx, ny, far), tail)
    return math.sqrt(depth) * shapes.hull_size[shape]


@kernel(**FLAT, forceinline=True)
def pose_loss(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    pose: ShapePose,
    worst: float,
) -> float:
    """Weighted loss of an item at a `ShapePose`; evaluation ends early once it passes `worst`.

    Zero means: no overlap, all areas and limits hold.
    """
    state.counters[POSES_JUDGED] += 1
    x = pose.x
    y = pose.y
    row = row_holding(shapes, state, state.field.shape[0], options.shape[pose.option], pose.angle)
    at_boundary = boundary_loss(shapes, areas, options, state, pose.option, row, x, y)
    loss = state.boundary_weight[item] * at_boundary
    if loss > worst:
        return loss
    own = state.rows.box[row]
    box = (own[0] + x, own[1] + y, own[2] + x, own[3] + y)
    field = options.field[pose.option]
    cells = cells_touched(state, field, box)
    for word in range(state.cell_bodies.shape[3]):
        bits = bodies_near(state, field, word, cells)
        while bits != np.uint64(0):
            other = (word << 6) + lowest_bit(bits)
            bits &= bits - np.uint64(1)
            if not touches_body(state, other, box) or other == item:
                continue
            part = pair_loss(shapes, state, row, x, y, other)
            if part > 0.0:
                loss += state.pair_weight[item, other] * part
                if loss > worst:
                    return loss
    return loss


@kernel(**FLAT)
def lift_body(state: SearchState, body: int) -> None:
    """Take a body off its field; its losses become zero."""
    field = state.field[body]
    if field < 0:
        return
    mark_cells(state, body, field, False)
    last = state.field_count[field] - 1
    moved = state.field_bodies[field, last]
    state.field_bodies[field, state.place_in_field[body]] = moved
    state.place_in_field[moved] = state.place_in_field[body]
    state.field_count[field] = last
    state.place_in_field[body] = -1
    state.field[body] = -1
    state.option[body] = -1
    state.boundary_loss[body] = 0.0
    clear_pair_losses(state, body, field)


@kernel(**INNER)
def clear_pair_losses(state: SearchState, body: int, field: int) -> None:
    """Let a body have no loss with any other on a field: with those on other fields it has none."""
    for m in range(state.field_count[field]):
        other = state.field_bodies[field, m]
        state.pair_loss[body, other] = 0.0
        state.pair_loss[other, body] = 0.0


@kernel(**FLAT)
def put_body(
    shapes: Shapes, state: SearchState, body: int, field: int, shape: int, x: float, y: float, angle: float
) -> None:
    """Put a body on a field without looking at losses."""
    if state.field[body] != field:
        lift_body(state, body)
        state.field_bodies[field, state.field_count[field]] = body
        state.place_in_field[body] = state.field_count[field]
        state.field_count[field] += 1
        state.field[body] = field
    else:
        mark_cells(state, body, field, False)
    row = row_holding(shapes, state, body, shape, angle)
    box = state.rows.box
    state.row[body] = row
    state.x[body] = x
    state.y[body] = y
    state.angle[body] = angle
    state.body_box[body, 0] = box[row, 0] + x
    state.body_box[body, 1] = box[row, 1] + y
    state.body_box[body, 2] = box[row, 2] + x
    state.body_box[body, 3] = box[row, 3] + y
    mark_cells(state, body, field, True)


@kernel(**INNER)
def record_losses(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, body: int
) -> None:
    """Compute the unweighted losses of a placed body at its boundary and with all others."""
    field = state.field[body]
    option = state.option[body]
    row = state.row[body]
    x = state.x[body]
    y = state.y[body]
    clear_pair_losses(state, body, field)
    if option >= 0:
        state.boundary_loss[body] = boundary_loss(shapes, areas, options, state, option, row, x, y)
    own = state.body_box[body]
    box = (own[0], own[1], own[2], own[3])
    for m in range(state.field_count[field]):
        other = state.field_bodies[field, m]
        if other != body and touches_body(state, other, box):
            loss = pair_loss(shapes, state, row, x, y, other)
            state.pair_loss[body, other] = loss
            state.pair_loss[other, body] = loss


@kernel(**INNER, forceinline=True)
def put_item(
    shapes: Shapes, options: PlacementOptions, state: SearchState, item: int, pose: ShapePose
) -> None:
    """Put an item at a `ShapePose` without looking at losses."""
    option = pose.option
    put_body(shapes, state, item, options.field[option], options.shape[option], pose.x, pose.y, pose.angle)
    state.option[item] = option


@kernel(**FLAT)
def place_items(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    option: Ints,
    x: Floats,
    y: Floats,
    angle: Floats,
) -> None:
    """Let all items lie under the options and at the poses given, (I,) each; those with option -1 do not lie."""
    for item in range(option.shape[0]):
        lift_body(state, item)
    for item in range(option.shape[0]):
        if option[item] >= 0:
            put_item(shapes, options, state, item, ShapePose(option[item], x[item], y[item], angle[item]))
    record_all_losses(shapes, areas, options, state)


@kernel(**FLAT)
def place_item(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, item: int, pose: ShapePose
) -> None:
    """Put an item at a `ShapePose`, and record its losses."""
    put_item(shapes, options, state, item, pose)
    record_losses(shapes, areas, options, state, item)


@kernel(**FLAT)
def record_all_losses(shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState) -> None:
    """Record the losses of every placed body anew (after limits or many poses changed)."""
    for body in range(state.field.shape[0]):
        if state.field[body] >= 0:
            record_losses(shapes, areas, options, state, body)


@kernel(**FLAT)
def total_loss(state: SearchState) -> float:
    """Sum of all unweighted losses; zero if and only if the layout is feasible."""
    total = 0.0
    for field in range(state.field_count.shape[0]):
        for m in range(state.field_count[field]):
            i = state.field_bodies[field, m]
            total += state.boundary_loss[i]
            for k in range(m + 1, state.field_count[field]):
                total += state.pair_loss[i, state.field_bodies[field, k]]
    return total


@kernel(**INNER)
def body_loss(state: SearchState, body: int) -> float:
    """Unweighted loss of one placed body: at its boundary and with all others."""
    field = state.field[body]
    loss = np.float64(state.boundary_loss[body])
    for m in range(state.field_count[field]):
        loss += state.pair_loss[body, state.field_bodies[field, m]]
    return loss


@kernel(**INNER)
def weighted_loss(state: SearchState, body: int) -> float:
    """Weighted loss of one placed body: at its boundary and with all others."""
    loss = state.boundary_weight[body] * state.boundary_loss[body]
    for other in range(state.pair_loss.shape[0]):
        loss += state.pair_weight[body, other] * state.pair_loss[body, other]
    return loss
