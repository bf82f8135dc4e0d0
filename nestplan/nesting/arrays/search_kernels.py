"""Kernels of the search itself: where to try an item, how to better a try, passes over all items at fault.

What lives here: sampling, coordinate descent, one pass, the weights of guided local search. What does not: restarts,
limits and goals (`separate`, `gather`), and how a pose is judged (`search_kernels`).

One pass takes every item at fault in random order, samples poses over its whole field and near where it lies, betters
the best few by coordinate descent and moves the item to the best of all. Afterwards the weight of each pair at fault
grows with its share of the worst loss and all others decay toward one: guided local search as in Egeblad, Nielsen and
Odgaard (2007) and Umetani et al. (2009), in the manner of Gardeyn, Vanden Berghe and Wauters (2025).
"""

from __future__ import annotations

import math

from numba import njit

from nestplan.nesting.arrays.collision_kernels import FLAT, INNER
from nestplan.nesting.arrays.lattice_kernels import draw_beside
from nestplan.nesting.arrays.pose_kernels import (
    body_load,
    next_random,
    pose_loss,
    put_item,
    record_all,
    row_holding,
    settle,
    signed_at,
    total_loss,
)

TOPS = 3
"""How many of the sampled poses are bettered."""

EVALUATIONS, PASSES, STALE, DONE, DUE, HALT = 0, 1, 2, 3, 4, 7
"""Places in `State.tally`: poses judged, passes made, passes since the last gain, items tried and to be tried in this
pass, and the flag that ends a run."""

FEASIBLE, SPENT, STUCK = 1, 0, 2
"""What `run_passes` says of its end."""


@njit(**FLAT)
def draw_turn(P, T, allow, near, spread):
    """A turn from an allowance's set: near the given one (within `spread`) if spread > 0, else anywhere."""
    start = P.turn_start[allow]
    stop = P.turn_start[allow + 1]
    if stop == start + 1 and P.turn_hi[start] == P.turn_lo[start]:
        return P.turn_lo[start]
    if spread > 0.0:
        for k in range(start, stop):
            if P.turn_lo[k] <= near <= P.turn_hi[k]:
                if P.turn_hi[k] == P.turn_lo[k]:
                    return near
                return clip_turn(P, allow, near, near + spread * (2.0 * next_random(T.random) - 1.0))
    whole = 0.0
    for k in range(start, stop):
        whole += P.turn_hi[k] - P.turn_lo[k] + 1e-3
    at = next_random(T.random) * whole
    for k in range(start, stop):
        at -= P.turn_hi[k] - P.turn_lo[k] + 1e-3
        if at <= 0.0:
            return min(P.turn_hi[k], max(P.turn_lo[k], P.turn_hi[k] + at))
    return P.turn_lo[start]


@njit(**INNER)
def clip_turn(P, allow, now, wish):
    """The wished turn if the allowance has it (modulo 360), else the end of the interval that holds `now`."""
    start = P.turn_start[allow]
    stop = P.turn_start[allow + 1]
    turn = wish % 360.0
    for k in range(start, stop):
        if P.turn_lo[k] <= turn <= P.turn_hi[k]:
            return turn
    for k in range(start, stop):
        if P.turn_lo[k] <= now <= P.turn_hi[k]:
            return P.turn_hi[k] if wish > now else P.turn_lo[k]
    return now


@njit(**INNER)
def can_turn(P, allow):
    """Whether an allowance has an interval of turns that is not a single one."""
    for k in range(P.turn_start[allow], P.turn_start[allow + 1]):
        if P.turn_hi[k] > P.turn_lo[k]:
            return True
    return False


@njit(**FLAT)
def draw_spot(S, A, P, T, allow, angle):
    """A random (x, y) at which the box of the turned shape lies in the boxes of its areas and within the limit."""
    row = row_holding(S, T, T.field.shape[0], P.allow_shape[allow], angle)
    x0 = y0 = -math.inf
    x1 = y1 = math.inf
    for d in range(P.demand_start[allow], P.demand_start[allow + 1]):
        if P.demand_shape[d] == P.allow_shape[allow] or x0 == -math.inf:
            area = P.demand_area[d]
            x0 = max(x0, A.bx0[area])
            y0 = max(y0, A.by0[area])
            x1 = min(x1, A.bx1[area])
            y1 = min(y1, A.by1[area])
    field = P.allow_field[allow]
    far = T.limit[field, 2]
    nx = T.limit[field, 0]
    ny = T.limit[field, 1]
    if far < math.inf:
        if nx == 1.0:
            x1 = min(x1, far)
        elif nx == -1.0:
            x0 = max(x0, -far)
        elif ny == 1.0:
            y1 = min(y1, far)
        elif ny == -1.0:
            y0 = max(y0, -far)
    x0 -= T.box[row, 0]
    x1 -= T.box[row, 2]
    y0 -= T.box[row, 1]
    y1 -= T.box[row, 3]
    x = y = 0.0
    for _ in range(8):
        x = x0 + (x1 - x0) * next_random(T.random)
        y = y0 + (y1 - y0) * next_random(T.random)
        good = far == math.inf or nx * x + ny * y <= far
        for d in range(P.demand_start[allow], P.demand_start[allow + 1]):
            area = P.demand_area[d]
            if good and not A.plain[area]:
                good = signed_at(A, T, area, row, x, y) > 0.5 * T.pr[row, 0]
        if good:
            break
    return x, y


@njit(**INNER)
def keep_top(T, loss, allow, x, y, angle, reach):
    """Enter a judged pose among the best few, `T.tops (·, 6)`; of two within `reach` only the better stays.

    Gives back the loss a further pose must beat."""
    place = -1
    worst = -1.0
    for k in range(TOPS):
        if T.tops[k, 0] > worst:
            worst = T.tops[k, 0]
            place = k
    for k in range(TOPS):
        if (
            T.tops[k, 0] < math.inf
            and T.tops[k, 1] == allow
            and abs(T.tops[k, 2] - x) < reach
            and abs(T.tops[k, 3] - y) < reach
            and abs(T.tops[k, 4] - angle) < 10.0
        ):
            place = k
            break
    if loss < T.tops[place, 0]:
        T.tops[place, 0] = loss
        T.tops[place, 1] = allow
        T.tops[place, 2] = x
        T.tops[place, 3] = y
        T.tops[place, 4] = angle
    worst = -1.0
    for k in range(TOPS):
        worst = max(worst, T.tops[k, 0])
    return worst


@njit(**INNER)
def descend(S, A, P, T, item, place, step, least, turn_step, least_turn):
    """Better the pose in `T.tops[place]` by coordinate descent with steps that shrink on failure.

    Steps are mm and degrees; a random one of four axes (or the turn) is tried both ways at a time."""
    loss = T.tops[place, 0]
    allow = int(T.tops[place, 1])
    x = T.tops[place, 2]
    y = T.tops[place, 3]
    angle = T.tops[place, 4]
    turning = turn_step > 0.0 and can_turn(P, allow)
    sx = step
    sy = step
    st = turn_step
    while loss > 0.0 and (sx >= least or sy >= least):
        axis = int(next_random(T.random) * (5.0 if turning and st >= least_turn else 4.0))
        ux = uy = ut = 0.0
        if axis == 4:
            ut = st
        elif axis == 0:
            ux = sx
        elif axis == 1:
            uy = sy
        else:
            ux = 0.7 * sx
            uy = 0.7 * sy if axis == 2 else -0.7 * sy
        found = False
        was_x, was_y, was_angle = x, y, angle
        for way in range(2):
            sign = 1.0 - 2.0 * way
            tx = was_x + sign * ux
            ty = was_y + sign * uy
            ta = was_angle if ut == 0.0 else clip_turn(P, allow, was_angle, was_angle + sign * ut)
            value = pose_loss(S, A, P, T, item, allow, tx, ty, ta, loss)
            if value < loss:
                found = True
                loss, x, y, angle = value, tx, ty, ta
        factor = 1.1 if found else 0.5
        if axis == 4:
            st *= factor
        elif axis == 0:
            sx *= factor
        elif axis == 1:
            sy *= factor
        else:
            factor = math.sqrt(factor)
            sx *= factor
            sy *= factor
    T.tops[place, 0] = loss
    T.tops[place, 2] = x
    T.tops[place, 3] = y
    T.tops[place, 4] = angle


@njit(**FLAT)
def seek(S, A, P, T, item, wide, near):
    """Fill `T.tops` with the best poses found for an item, bettered; the place of the best.

    `wide` poses are drawn over everything allowed, `near` ones about where the item lies (if it does), a few beside
    equal items; where it lies is the first pose judged."""
    for k in range(TOPS):
        T.tops[k, 0] = math.inf
    first = P.allow_start[item]
    many = P.allow_start[item + 1] - first
    here = T.allow[item]
    row = T.row[item]
    if here < 0:
        row = row_holding(S, T, T.field.shape[0], P.allow_shape[first], P.turn_lo[P.turn_start[first]])
        near = -1
    step = min(T.box[row, 2] - T.box[row, 0], T.box[row, 3] - T.box[row, 1])
    close = 0.02 * S.span[P.allow_shape[first]]
    bound = math.inf
    for k in range(-1 - near, wide + P.beside_tries[0]):
        if k >= wide:
            allow = first + int(next_random(T.random) * many)
            found, x, y, angle = draw_beside(P, T, item, allow)
            if not found:
                continue
        elif k < 0:
            allow = here
            x = T.x[item]
            y = T.y[item]
            angle = T.angle[item]
            if k > -1 - near:
                spread = 0.5 if k % 2 == 0 else 0.1
                x += spread * step * (2.0 * next_random(T.random) - 1.0)
                y += spread * step * (2.0 * next_random(T.random) - 1.0)
                angle = draw_turn(P, T, here, angle, 20.0 * spread if k % 4 else 0.0)
        else:
            allow = first + int(next_random(T.random) * many)
            angle = draw_turn(P, T, allow, 0.0, 0.0)
            x, y = draw_spot(S, A, P, T, allow, angle)
        loss = pose_loss(S, A, P, T, item, allow, x, y, angle, bound)
        if loss < bound:
            bound = keep_top(T, loss, allow, x, y, angle, close)
    best = 0
    for k in range(TOPS + 1):
        place = k if k < TOPS else best
        if T.tops[place, 0] < math.inf:
            if k < TOPS:
                descend(S, A, P, T, item, place, 0.25 * step, 0.02 * step, 5.0, 0.5)
            else:
                descend(S, A, P, T, item, place, 0.01 * step, 0.001 * step, 0.5, 0.05)
            if T.tops[place, 0] < T.tops[best, 0]:
                best = place
    return best


@njit(**INNER)
def move_item(S, A, P, T, item, wide, near):
    """Move an item to the best pose found if that is better than where it lies; whether it moved."""
    best = seek(S, A, P, T, item, wide, near)
    loss = T.tops[best, 0]
    if loss == math.inf:
        return False
    if T.allow[item] >= 0:
        now = T.wall_weight[item] * T.wall_load[item]
        for j in range(T.load.shape[0]):
            now += T.weight[item, j] * T.load[item, j]
        if loss >= now:
            return False
    settle(S, A, P, T, item, int(T.tops[best, 1]), T.tops[best, 2], T.tops[best, 3], T.tops[best, 4])
    return True


@njit(**INNER)
def raise_weights(T, low, high, decay):
    """Guided local search: weights at fault times low…high by their share of the worst loss, others decay to one.
    Only bodies on one field can overlap: only their pairs are looked at."""
    worst = 0.0
    for field in range(T.filled.shape[0]):
        for m in range(T.filled[field]):
            i = T.members[field, m]
            worst = max(worst, T.wall_load[i])
            for k in range(m + 1, T.filled[field]):
                worst = max(worst, T.load[i, T.members[field, k]])
    if worst <= 0.0:
        return
    for field in range(T.filled.shape[0]):
        for m in range(T.filled[field]):
            i = T.members[field, m]
            T.wall_weight[i] = weight_after(T.wall_weight[i], T.wall_load[i], worst, low, high, decay)
            for k in range(m + 1, T.filled[field]):
                j = T.members[field, k]
                weight = weight_after(T.weight[i, j], T.load[i, j], worst, low, high, decay)
                T.weight[i, j] = weight
                T.weight[j, i] = weight


@njit(**INNER, forceinline=True)
def weight_after(weight, load, worst, low, high, decay):
    """A weight raised by its load's share of the worst one, or decayed toward one where there is none."""
    return weight * (low + (high - low) * load / worst) if load > 0.0 else max(1.0, weight * decay)


@njit(**INNER)
def remember_best(T, total):
    """Note the present poses as the best of this run."""
    T.best_total[0] = total
    for i in range(T.field.shape[0]):
        T.best_x[i] = T.x[i]
        T.best_y[i] = T.y[i]
        T.best_angle[i] = T.angle[i]
        T.best_allow[i] = T.allow[i]


@njit(**FLAT)
def return_to_best(S, A, P, T):
    """Put every movable item back where it lay in the best pose set of this run."""
    for i in range(T.field.shape[0]):
        allow = T.best_allow[i]
        if T.active[i] and allow >= 0:
            put_item(S, P, T, i, allow, T.best_x[i], T.best_y[i], T.best_angle[i])
    record_all(S, A, P, T)


@njit(**FLAT)
def begin_run(T):
    """Forget the counters and the best pose set of an earlier run; weights stay."""
    T.best_total[0] = math.inf
    T.tally[STALE] = 0
    T.tally[DONE] = 0
    T.tally[DUE] = 0


@njit(**INNER)
def list_faults(T):
    """Write the movable items at fault into `T.order` in random order; their number."""
    count = 0
    for i in range(T.field.shape[0]):
        if T.active[i] and T.field[i] >= 0 and body_load(T, i) > 0.0:
            T.order[count] = i
            count += 1
    for k in range(count - 1, 0, -1):
        m = int(next_random(T.random) * (k + 1))
        T.order[k], T.order[m] = T.order[m], T.order[k]
    return count


@njit(**FLAT)
def run_passes(S, A, P, T, wide, near, evaluations, patience):
    """Passes until nothing overlaps (FEASIBLE), `evaluations` are used up (SPENT) or `patience` passes brought no
    gain of 2 % in the total loss (STUCK). Called again, the run goes on where it was, also within a pass."""
    until = T.tally[EVALUATIONS] + evaluations
    while True:
        if T.tally[DONE] >= T.tally[DUE]:
            total = total_loss(T)
            if total < 0.98 * T.best_total[0]:
                T.tally[STALE] = 0
            if total < T.best_total[0] or total == 0.0:
                remember_best(T, total)
            if total == 0.0:
                return FEASIBLE
            if T.tally[STALE] >= patience:
                return STUCK
            T.tally[DUE] = list_faults(T)
            T.tally[DONE] = 0
            if T.tally[DUE] == 0:
                return STUCK
        while T.tally[DONE] < T.tally[DUE]:
            if T.tally[EVALUATIONS] >= until or T.tally[HALT] != 0:
                return SPENT
            item = T.order[T.tally[DONE]]
            T.tally[DONE] += 1
            if body_load(T, item) > 0.0:
                move_item(S, A, P, T, item, wide, near)
        raise_weights(T, 1.2, 2.0, 0.95)
        T.tally[PASSES] += 1
        T.tally[STALE] += 1
