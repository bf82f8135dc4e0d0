"""Kernels that judge and change one pose: the loss of a candidate, and putting a body where it says.

What lives here: the loss of one item at one pose against everything else, exact yes/no gating included, and the
book-keeping of a state (rows turned, boxes, members of a field, pair losses). What does not: where to try an item
next (`move_kernels`). Arrays are the named tuples of `packed`: S shapes, A areas, P pieces, T state.

The loss of a pair that collides is the root of `disc_depth` times the root of the product of the shapes' scales: a
length times a length. That the smooth part only counts when the exact test says so is what makes a loss of zero a
proof of no overlap.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from nestplan.nesting.arrays.broad_phase_kernels import bits_near, cell_at, lowest_bit, mark_cells
from nestplan.nesting.arrays.collision_kernels import (
    FLAT,
    INNER,
    SLACK,
    area_holds_ring,
    beyond_depth,
    cosine_sine,
    disc_depth,
    outside_depth,
    reach,
    signed_distance,
    turn_row,
)
from nestplan.nesting.arrays.edge_run_kernels import chunk_boxes, chunked_overlap
from nestplan.nesting.arrays.pair_table_kernels import APART, HIT, look_up
from nestplan.nesting.arrays.pair_tables import TAIL


@njit(**INNER, forceinline=True)
def next_random(random):
    """Next uniform number in [0, 1) of a splitmix64 generator whose state is `random (1,) uint64`."""
    random[0] += np.uint64(0x9E3779B97F4A7C15)
    z = random[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return np.float64(z >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(**FLAT)
def turn_shape(S, T, row, shape, angle):
    """Let a row hold a shape turned by an angle; nothing is done if it does already."""
    if T.shape[row] == shape and T.turned[row] == angle:
        return
    cosine, sine = cosine_sine(angle)
    n = S.vn[shape]
    for k in range(n):
        px = S.vx[shape, k]
        py = S.vy[shape, k]
        T.vx[row, k] = cosine * px - sine * py
        T.vy[row, k] = sine * px + cosine * py
    m = S.pn[shape]
    turn_row(S.px, S.py, shape, m, np.float32(cosine), np.float32(sine), T.px, T.py, row)
    if T.shape[row] != shape:
        for k in range(m):
            T.pr[row, k] = S.pr[shape, k]
        T.vn[row] = n
        T.pn[row] = m
        T.shape[row] = shape
    T.turned[row] = angle
    chunk_boxes(T.vx, T.vy, row, n, T.chunk[row], T.box[row])


@njit(**INNER, forceinline=True)
def row_holding(S, T, own, shape, angle):
    """The row that holds a shape turned by an angle: its variant's row if it has one, else `own`, turned now."""
    for k in range(S.tables.variant_start[shape], S.tables.variant_start[shape + 1]):
        if S.tables.variant_angle[k] == angle:
            return T.field.shape[0] + 2 + k
    turn_shape(S, T, own, shape, angle)
    return own


@njit(**INNER, forceinline=True)
def pair_loss(S, T, row, x, y, other):
    """Loss of the shape held in `row`, lying at (x, y), against a placed body; 0 if they do not collide."""
    dx = x - T.x[other]
    dy = y - T.y[other]
    held = T.row[other]
    first = row - T.field.shape[0] - 2
    second = held - T.field.shape[0] - 2
    loss = 0.0
    if first >= 0 and second >= 0:
        c = S.tables.cosine[first, second]
        s = S.tables.sine[first, second]
        code, loss = look_up(S.tables, S.tables.pair[first, second], c * dx + s * dy, c * dy - s * dx)
        if code == APART:
            return 0.0
        if code == HIT:
            return loss
    else:
        a = T.shape[row]
        b = T.shape[held]
        eps = np.float32(TAIL * max(S.span[a], S.span[b]))
        depth, pierced = disc_depth(
            T.px,
            T.py,
            T.pr,
            row,
            T.pn[row],
            T.px,
            T.py,
            T.pr,
            held,
            T.pn[held],
            np.float32(dx),
            np.float32(dy),
            eps,
        )
        loss = math.sqrt(depth * S.scale[a] * S.scale[b])
        if pierced > 0.002:
            return loss
    if chunked_overlap(
        T, row, np.float64(T.px[row, 0]), np.float64(T.py[row, 0]),
        held, np.float64(T.px[held, 0]), np.float64(T.py[held, 0]), dx, dy,
    ):  # fmt: skip
        return loss
    return 0.0


@njit(**INNER, forceinline=True)
def wall_loss(S, A, P, T, allow, row, x, y):
    """Loss of the shape held in `row` at (x, y) against its demands and its field's limit; 0 if all hold."""
    shape = T.shape[row]
    eps = TAIL * S.span[shape]
    depth = 0.0
    for d in range(P.demand_start[allow], P.demand_start[allow + 1]):
        demanded = P.demand_shape[d]
        area = P.demand_area[d]
        # A disc about the row's origin that the area holds needs neither a turn of the shape nor a look at its edges.
        if (
            not A.plain[area]
            and signed_distance(A, area, x, y) > 0.5 * S.span[demanded] + SLACK * A.cell[area]
        ):
            continue
        held = row
        if demanded != shape:
            held = T.field.shape[0] + 1
            turn_shape(S, T, held, demanded, T.turned[row])
        # The boxes first, in place: handing all the arrays on costs more than the test.
        held_in = (
            T.box[held, 0] + x >= A.bx0[area]
            and T.box[held, 1] + y >= A.by0[area]
            and T.box[held, 2] + x <= A.bx1[area]
            and T.box[held, 3] + y <= A.by1[area]
        )
        if held_in and not A.plain[area]:
            held_in = area_holds_ring(A, area, T.vx, T.vy, held, T.vn[held], x, y, T.box[held])
        if not held_in:
            depth += outside_depth(A, area, T.px, T.py, T.pr, held, T.pn[held], x, y, eps)
    field = P.allow_field[allow]
    far = T.limit[field, 2]
    if far < math.inf:
        nx = T.limit[field, 0]
        ny = T.limit[field, 1]
        if reach(T.vx, T.vy, row, T.vn[row], nx, ny) + nx * x + ny * y > far:
            depth += beyond_depth(nx, ny, far, T.px, T.py, T.pr, row, T.pn[row], x, y, eps)
    return math.sqrt(depth) * S.scale[shape]


@njit(**FLAT, forceinline=True)
def pose_loss(S, A, P, T, item, allow, x, y, angle, worst):
    """Weighted loss of an item at a pose under one allowance; evaluation ends early once it passes `worst`.

    Zero means: no overlap, all demands and limits hold.
    """
    T.tally[0] += 1
    row = row_holding(S, T, T.field.shape[0], P.allow_shape[allow], angle)
    loss = T.wall_weight[item] * wall_loss(S, A, P, T, allow, row, x, y)
    if loss > worst:
        return loss
    x0 = T.box[row, 0] + x
    y0 = T.box[row, 1] + y
    x1 = T.box[row, 2] + x
    y1 = T.box[row, 3] + y
    field = P.allow_field[allow]
    cx0 = cell_at(x0, T.grid[field, 0], T.grid[field, 2], T.cells.shape[2])
    cx1 = cell_at(x1, T.grid[field, 0], T.grid[field, 2], T.cells.shape[2])
    cy0 = cell_at(y0, T.grid[field, 1], T.grid[field, 3], T.cells.shape[1])
    cy1 = cell_at(y1, T.grid[field, 1], T.grid[field, 3], T.cells.shape[1])
    for word in range(T.cells.shape[3]):
        bits = bits_near(T, field, word, cx0, cy0, cx1, cy1)
        while bits != np.uint64(0):
            j = (word << 6) + lowest_bit(bits)
            bits &= bits - np.uint64(1)
            if (
                T.world[j, 0] < x1
                and T.world[j, 2] > x0
                and T.world[j, 1] < y1
                and T.world[j, 3] > y0
                and j != item
            ):
                part = pair_loss(S, T, row, x, y, j)
                if part > 0.0:
                    loss += T.weight[item, j] * part
                    if loss > worst:
                        return loss
    return loss


@njit(**FLAT)
def lift(T, body):
    """Take a body off its field; its losses become zero."""
    field = T.field[body]
    if field < 0:
        return
    mark_cells(T, body, field, False)
    last = T.filled[field] - 1
    moved = T.members[field, last]
    T.members[field, T.slot[body]] = moved
    T.slot[moved] = T.slot[body]
    T.filled[field] = last
    T.slot[body] = -1
    T.field[body] = -1
    T.allow[body] = -1
    T.wall_load[body] = 0.0
    clear_loads(T, body, field)


@njit(**INNER)
def clear_loads(T, body, field):
    """Let a body have no loss with any other on a field: with those on other fields it has none."""
    for m in range(T.filled[field]):
        j = T.members[field, m]
        T.load[body, j] = 0.0
        T.load[j, body] = 0.0


@njit(**FLAT)
def put_row(S, T, body, field, shape, x, y, angle):
    """Put a body on a field without looking at losses."""
    if T.field[body] != field:
        lift(T, body)
        T.members[field, T.filled[field]] = body
        T.slot[body] = T.filled[field]
        T.filled[field] += 1
        T.field[body] = field
    else:
        mark_cells(T, body, field, False)
    row = row_holding(S, T, body, shape, angle)
    T.row[body] = row
    T.x[body] = x
    T.y[body] = y
    T.angle[body] = angle
    T.world[body, 0] = T.box[row, 0] + x
    T.world[body, 1] = T.box[row, 1] + y
    T.world[body, 2] = T.box[row, 2] + x
    T.world[body, 3] = T.box[row, 3] + y
    mark_cells(T, body, field, True)


@njit(**INNER)
def record_losses(S, A, P, T, body):
    """Compute the unweighted losses of a placed body with its walls and all others."""
    field = T.field[body]
    row = T.row[body]
    clear_loads(T, body, field)
    if T.allow[body] >= 0:
        T.wall_load[body] = wall_loss(S, A, P, T, T.allow[body], row, T.x[body], T.y[body])
    for m in range(T.filled[field]):
        j = T.members[field, m]
        if (
            j != body
            and T.world[j, 0] < T.world[body, 2]
            and T.world[j, 2] > T.world[body, 0]
            and T.world[j, 1] < T.world[body, 3]
            and T.world[j, 3] > T.world[body, 1]
        ):
            part = pair_loss(S, T, row, T.x[body], T.y[body], j)
            T.load[body, j] = part
            T.load[j, body] = part


@njit(**INNER, forceinline=True)
def put_item(S, P, T, item, allow, x, y, angle):
    """Put an item at a pose under an allowance without looking at losses."""
    put_row(S, T, item, P.allow_field[allow], P.allow_shape[allow], x, y, angle)
    T.allow[item] = allow


@njit(**FLAT)
def put_all(S, A, P, T, allow, x, y, angle):
    """Let all items lie under the allowances and at the poses given, (N,) each; those with allowance -1 do not lie."""
    for item in range(allow.shape[0]):
        lift(T, item)
    for item in range(allow.shape[0]):
        leave = allow[item]
        if leave >= 0:
            put_item(S, P, T, item, leave, x[item], y[item], angle[item])
    record_all(S, A, P, T)


@njit(**FLAT)
def settle(S, A, P, T, item, allow, x, y, angle):
    """Put an item at a pose under an allowance, and record its losses."""
    put_item(S, P, T, item, allow, x, y, angle)
    record_losses(S, A, P, T, item)


@njit(**FLAT)
def record_all(S, A, P, T):
    """Record the losses of every placed body anew (after limits or many poses changed)."""
    for body in range(T.field.shape[0]):
        if T.field[body] >= 0:
            record_losses(S, A, P, T, body)


@njit(**FLAT)
def total_loss(T):
    """Sum of all unweighted losses; zero if and only if the layout is feasible."""
    total = 0.0
    for field in range(T.filled.shape[0]):
        for m in range(T.filled[field]):
            i = T.members[field, m]
            total += T.wall_load[i]
            for k in range(m + 1, T.filled[field]):
                total += T.load[i, T.members[field, k]]
    return total


@njit(**INNER)
def body_load(T, body):
    """Unweighted loss of one placed body: walls and pairs."""
    field = T.field[body]
    load = np.float64(T.wall_load[body])
    for m in range(T.filled[field]):
        load += T.load[body, T.members[field, m]]
    return load


@njit(**INNER, forceinline=True)
def signed_at(A, T, area, row, x, y):
    """Signed distance to an area's edge at the first disc of the shape in a row lying at (x, y)."""
    return signed_distance(A, area, T.px[row, 0] + x, T.py[row, 0] + y)
