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
from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.overlap_kernels import TAIL, disc_overlap, rings_overlap, tight_boxes_apart
from nestplan.nesting.arrays.pair_table_kernels import APART, HIT, look_up
from nestplan.nesting.arrays.records import (
    BODIES_NEAR,
    POSES_JUDGED,
    Areas,
    PlacementOptions,
    SearchState,
    ShapePose,
    Shapes,
    TurnedShapes,
)
from nestplan.nesting.arrays.turned_shape_kernels import (
    turn_discs_and_box,
    turn_outline,
    turn_shape,
)
from nestplan.nesting.problem import Floats, Ints

SURELY_BEYOND = 0.01
"""How far (mm) a disc lies beyond a limit from which on its shape surely does: more than float32 can be wrong."""


@kernel(**FLAT, forceinline=True)
def row_holding(shapes: Shapes, state: SearchState, own: int, shape: int, angle: float) -> int:
    """The row that holds a shape turned by an angle: its variant's row if it has one, else `own`, its discs and its box
    turned now."""
    tables = shapes.tables
    for k in range(tables.variant_start[shape], tables.variant_start[shape + 1]):
        if tables.variant_angle[k] == angle:
            return state.field.shape[0] + 2 + k
    turn_discs_and_box(shapes, state.rows, own, shape, angle)
    return own


@kernel(**FLAT, forceinline=True)
def within_reach(shapes: Shapes, rows: TurnedShapes, first: int, second: int, dx: float, dy: float) -> bool:
    """Whether the smallest enclosing circles of the shapes in two rows meet, the first at (dx, dy), and the smallest
    boxes too."""
    reach = 0.5 * (shapes.diameter[rows.shape[first]] + shapes.diameter[rows.shape[second]])
    return dx * dx + dy * dy <= reach * reach and not tight_boxes_apart(rows, first, rows, second, dx, dy)


@kernel(**FLAT, forceinline=True)
def depth_of_pair(
    shapes: Shapes, rows: TurnedShapes, first: int, second: int, dx: float, dy: float
) -> tuple[np.float32, np.float32]:
    """What `disc_overlap` says of the shapes in two rows, the first at (dx, dy)."""
    larger = max(shapes.diameter[rows.shape[first]], shapes.diameter[rows.shape[second]])
    return disc_overlap(rows, first, second, np.float32(dx), np.float32(dy), np.float32(TAIL * larger))


@kernel(**FLAT, forceinline=True)
def loss_of_depth(shapes: Shapes, rows: TurnedShapes, first: int, second: int, depth: float) -> float:
    """The loss of a pair that overlaps so deep (mm²)."""
    return math.sqrt(depth * shapes.hull_size[rows.shape[first]] * shapes.hull_size[rows.shape[second]])


@kernel(**FLAT, forceinline=True)
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
    return turned_pair_loss(shapes, rows, row, held, dx, dy)


@kernel(**FLAT)
def turned_pair_loss(
    shapes: Shapes, rows: TurnedShapes, first: int, second: int, dx: float, dy: float
) -> float:
    """Loss of the shape in one row at (dx, dy) against that in another, without tables; 0 if they do not collide."""
    if not within_reach(shapes, rows, first, second, dx, dy):
        return 0.0
    depth, pierced = depth_of_pair(shapes, rows, first, second, dx, dy)
    if pierced == 0.0:
        turn_outline(shapes, rows, first)
        if not rings_overlap(rows, first, rows, second, dx, dy):
            return 0.0
    return loss_of_depth(shapes, rows, first, second, depth)


@kernel(**FLAT, forceinline=True)
def surely_holds(shapes: Shapes, areas: Areas, contained: int, area: int, x: float, y: float) -> bool:
    """Whether an area that is no box holds the smallest enclosing circle of a shape at (x, y), by its distances: then
    neither a turn of the shape nor a look at its edges is needed."""
    far_inside = 0.5 * shapes.diameter[contained] + SLACK * areas.cell[area]
    return not areas.is_box[area] and signed_distance(areas, area, x, y) > far_inside


@kernel(**FLAT, forceinline=True)
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
    if not rows.outlined[row]:
        turn_outline(shapes, rows, row)
    for c in range(options.containment_start[option], options.containment_start[option + 1]):
        contained = options.containment_shape[c]
        area = options.containment_area[c]
        if surely_holds(shapes, areas, contained, area, x, y):
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
            depth += outside_depth(areas, area, rows, held, x, y, tail)[0]
    field = options.field[option]
    far = state.limit[field, 2]
    if far < math.inf:
        nx = state.limit[field, 0]
        ny = state.limit[field, 1]
        if furthest_along(rows, row, nx, ny) + nx * x + ny * y > far:
            depth += beyond_limit(rows, row, x, y, (nx, ny, far), tail)[0]
    return math.sqrt(depth) * shapes.hull_size[shape]


@kernel(**FLAT, forceinline=True)
def sure_boundary_loss(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    option: int,
    row: int,
    x: float,
    y: float,
) -> tuple[float, bool]:
    """As `boundary_loss`, of what box and discs of a shape prove to stick out; and whether edges may show more."""
    rows = state.rows
    shape = rows.shape[row]
    tail = TAIL * shapes.diameter[shape]
    depth = 0.0
    open_ = False
    for c in range(options.containment_start[option], options.containment_start[option + 1]):
        contained = options.containment_shape[c]
        area = options.containment_area[c]
        if surely_holds(shapes, areas, contained, area, x, y):
            continue
        held = row
        if contained != shape:
            held = state.field.shape[0] + 1
            turn_discs_and_box(shapes, rows, held, contained, rows.angle[row])
        within = box_holds_box(areas, area, rows, held, x, y)
        if within and areas.is_box[area]:
            continue
        outside, furthest = outside_depth(areas, area, rows, held, x, y, tail)
        if not within or furthest > SLACK * areas.cell[area]:
            depth += outside
        else:
            open_ = True
    field = options.field[option]
    far = state.limit[field, 2]
    if far < math.inf:
        limit = (state.limit[field, 0], state.limit[field, 1], far)
        outside, furthest = beyond_limit(rows, row, x, y, limit, tail)
        if furthest > SURELY_BEYOND:
            depth += outside
        else:
            open_ = True
    return math.sqrt(depth) * shapes.hull_size[shape], open_


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
    row = row_holding(shapes, state, state.field.shape[0], options.shape[pose.option], pose.angle)
    if row == state.field.shape[0]:
        return turned_pose_loss(shapes, areas, options, state, item, pose, worst)
    x = pose.x
    y = pose.y
    at_boundary = boundary_loss(shapes, areas, options, state, pose.option, row, x, y)
    loss = state.boundary_weight[item] * at_boundary
    if loss > worst:
        return loss
    box = box_at(state.rows, row, x, y)
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


@kernel(**FLAT, forceinline=True)
def turned_pose_loss(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    pose: ShapePose,
    worst: float,
) -> float:
    """As `pose_loss`, of a shape held in the row of the pose being judged, its discs and its box turned already.

    Most poses are worse than the worst that would be kept. So what is cheapest to prove, or likeliest, comes first: the
    discs against the bodies that were in the way last, against the areas, against all others near; edges are asked only
    where no disc proves an overlap, of poses that are still good enough.
    """
    row = state.field.shape[0]
    x = pose.x
    y = pose.y
    field = options.field[pose.option]
    loss, known = loss_by_bodies_known(shapes, state, item, field, (x, y), 0.0, worst)
    state.counters[BODIES_NEAR] = known
    if loss > worst:
        return loss
    at_boundary, at_edges = sure_boundary_loss(shapes, areas, options, state, pose.option, row, x, y)
    weight = state.boundary_weight[item]
    loss += weight * at_boundary
    if loss > worst:
        return loss
    loss, count = loss_by_bodies_near(shapes, state, item, field, (x, y), loss, worst)
    state.counters[BODIES_NEAR] = count
    if loss > worst:
        return loss
    loss = loss_by_edges(shapes, state, item, (x, y), loss, worst)
    if at_edges and loss <= worst:
        whole = boundary_loss(shapes, areas, options, state, pose.option, row, x, y)
        loss += weight * (whole - at_boundary)
    return loss


@kernel(**FLAT, forceinline=True)
def loss_by_bodies_known(
    shapes: Shapes,
    state: SearchState,
    item: int,
    field: int,
    at: tuple[float, float],
    loss: float,
    worst: float,
) -> tuple[float, int]:
    """A loss with what discs of the pose being judged, at (x, y), prove to be added against the bodies that the pose
    judged last overlapped; and how many of them are near. Ends early beyond `worst`.

    Poses are often judged close to each other, so that the same few bodies are in the way."""
    rows = state.rows
    row = state.field.shape[0]
    box = box_at(rows, row, at[0], at[1])
    known = 0
    for k in range(state.counters[BODIES_NEAR]):
        other = state.near[k]
        if not state.near_overlapped[k] or other == item or state.field[other] != field:
            continue
        if loss <= worst:
            dx = at[0] - state.x[other]
            dy = at[1] - state.y[other]
            held = state.row[other]
            if not touches_body(state, other, box) or not within_reach(shapes, rows, row, held, dx, dy):
                continue
            loss += noted_loss(shapes, state, item, known, other, (dx, dy))
        else:
            # Not compared any more, but remembered for the pose that is judged next.
            state.near[known] = other
            state.near_overlapped[known] = True
        known += 1
    return loss, known


@kernel(**FLAT, forceinline=True)
def box_at(rows: TurnedShapes, row: int, x: float, y: float) -> tuple[float, float, float, float]:
    """The box of the shape in a row, lying at (x, y)."""
    return rows.box[row, 0] + x, rows.box[row, 1] + y, rows.box[row, 2] + x, rows.box[row, 3] + y


@kernel(**FLAT, forceinline=True)
def noted_loss(
    shapes: Shapes, state: SearchState, item: int, place: int, other: int, offset: tuple[float, float]
) -> float:
    """Note a body near the pose being judged, which lies at an `offset` from it, at a place among those near, and how
    deep the discs are in it; the weighted loss that they prove, or 0."""
    rows = state.rows
    row = state.field.shape[0]
    held = state.row[other]
    depth, pierced = depth_of_pair(shapes, rows, row, held, offset[0], offset[1])
    state.near[place] = other
    state.near_depth[place] = depth
    state.near_overlapped[place] = pierced > 0.0
    if pierced > 0.0:
        return state.pair_weight[item, other] * loss_of_depth(shapes, rows, row, held, depth)
    return 0.0


@kernel(**FLAT, forceinline=True)
def is_known(state: SearchState, other: int, known: int) -> bool:
    """Whether a body is among the first so many that are noted."""
    for k in range(known):
        if state.near[k] == other:
            return True
    return False


@kernel(**FLAT, forceinline=True)
def loss_by_bodies_near(
    shapes: Shapes,
    state: SearchState,
    item: int,
    field: int,
    at: tuple[float, float],
    loss: float,
    worst: float,
) -> tuple[float, int]:
    """A loss with what discs of the pose being judged, at (x, y), prove to be added against the bodies near that are
    not noted yet, which are noted now; and how many are noted then. Ends early beyond `worst`."""
    rows = state.rows
    row = state.field.shape[0]
    x, y = at
    box = box_at(rows, row, x, y)
    cells = cells_touched(state, field, box)
    known = state.counters[BODIES_NEAR]
    count = known
    for word in range(state.cell_bodies.shape[3]):
        bits = bodies_near(state, field, word, cells)
        while bits != np.uint64(0):
            other = (word << 6) + lowest_bit(bits)
            bits &= bits - np.uint64(1)
            if not touches_body(state, other, box) or other == item or is_known(state, other, known):
                continue
            dx = x - state.x[other]
            dy = y - state.y[other]
            held = state.row[other]
            if not within_reach(shapes, rows, row, held, dx, dy):
                continue
            loss += noted_loss(shapes, state, item, count, other, (dx, dy))
            count += 1
            if loss > worst:
                return loss, count
    return loss, count


@kernel(**FLAT, forceinline=True)
def loss_by_edges(
    shapes: Shapes, state: SearchState, item: int, at: tuple[float, float], loss: float, worst: float
) -> float:
    """A loss with that of the bodies noted of which only their edges tell whether they are overlapped; ends early."""
    rows = state.rows
    row = state.field.shape[0]
    for k in range(state.counters[BODIES_NEAR]):
        if state.near_overlapped[k]:
            continue
        other = state.near[k]
        held = state.row[other]
        dx = at[0] - state.x[other]
        dy = at[1] - state.y[other]
        turn_outline(shapes, rows, row)
        if rings_overlap(rows, row, rows, held, dx, dy):
            state.near_overlapped[k] = True
            part = loss_of_depth(shapes, rows, row, held, state.near_depth[k])
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


@kernel(**FLAT)
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
    turn_outline(shapes, state.rows, row)
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


@kernel(**FLAT)
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


@kernel(**FLAT, forceinline=True)
def put_item(
    shapes: Shapes, options: PlacementOptions, state: SearchState, item: int, pose: ShapePose
) -> None:
    """Put an item at a `ShapePose` without looking at losses."""
    option = pose.option
    put_body(shapes, state, item, options.field[option], options.shape[option], pose.x, pose.y, pose.angle)
    state.option[item] = option


@kernel(**FLAT)
def put_items(
    shapes: Shapes, options: PlacementOptions, state: SearchState, items: Ints, poses: Floats, lifted: bool
) -> None:
    """Put items, given by their numbers (m,), at poses (m, 4) of option, x, y and angle without looking at losses;
    `lifted`: all of them are lifted before. Those with option -1 are not put."""
    for k in range(items.shape[0]):
        if lifted:
            lift_body(state, items[k])
    for k in range(items.shape[0]):
        option = int(poses[k, 0])
        if option >= 0:
            put_item(
                shapes, options, state, items[k], ShapePose(option, poses[k, 1], poses[k, 2], poses[k, 3])
            )


@kernel(**FLAT)
def place_item(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, item: int, pose: ShapePose
) -> None:
    """Put an item at a `ShapePose`, and record its losses."""
    put_item(shapes, options, state, item, pose)
    record_losses(shapes, areas, options, state, item)


@kernel(**FLAT)
def record_losses_of(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, bodies: Ints
) -> None:
    """Record the losses of placed bodies, given by their numbers (m,)."""
    for body in bodies:
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


@kernel(**FLAT)
def body_loss(state: SearchState, body: int) -> float:
    """Unweighted loss of one placed body: at its boundary and with all others."""
    field = state.field[body]
    loss = np.float64(state.boundary_loss[body])
    for m in range(state.field_count[field]):
        loss += state.pair_loss[body, state.field_bodies[field, m]]
    return loss


@kernel(**FLAT)
def weighted_loss(state: SearchState, body: int) -> float:
    """Weighted loss of one placed body: at its boundary and with all others."""
    loss = state.boundary_weight[body] * state.boundary_loss[body]
    for other in range(state.pair_loss.shape[0]):
        loss += state.pair_weight[body, other] * state.pair_loss[body, other]
    return loss
