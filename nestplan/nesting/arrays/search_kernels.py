"""Kernels of the search itself: where to try an item, how to improve a try, passes over all items that overlap.

One pass takes every item that overlaps or sticks out, in random order, samples poses over its whole field and near
where it lies, improves the best few by coordinate descent and moves the item to the best of all. Afterwards the weight
of each pair that overlaps grows with its share of the worst loss and all others decay toward one: guided local search
as in Egeblad, Nielsen and Odgaard (2007) and Umetani et al. (2009), in the manner of Gardeyn, Vanden Berghe and Wauters
(2025).
"""

from __future__ import annotations

import math

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.pose_kernels import (
    body_loss,
    place_item,
    pose_loss,
    row_holding,
    total_loss,
    weighted_loss,
)
from nestplan.nesting.arrays.random_kernels import next_random
from nestplan.nesting.arrays.records import (
    CANDIDATES,
    HALT,
    ITEMS_DUE,
    ITEMS_TRIED,
    PASSES_WITHOUT_GAIN,
    POSES_JUDGED,
    Areas,
    PlacementOptions,
    SearchState,
    ShapePose,
    Shapes,
)
from nestplan.nesting.arrays.sampling_kernels import allowed_turn, can_turn, pose_anywhere, pose_nearby

FEASIBLE, SPENT, STUCK, GOING = 1, 0, 2, 3
"""What a run says of its end: nothing overlaps; the poses it may judge are used up; passes brought no gain. GOING is
said of a pass that is to be made."""

GAIN = 0.98
"""A total loss below this share of the best counts as a gain."""

LEAST_WEIGHT_GROWTH, MOST_WEIGHT_GROWTH, WEIGHT_DECAY = 1.2, 2.0, 0.95
"""Factors of the weights after a pass: of pairs that overlap, by their share of the worst loss, and of all others."""


@kernel(**FLAT)
def keep_candidate(state: SearchState, loss: float, pose: ShapePose, near: float) -> float:
    """Enter a judged pose among the candidates; of two within `near` (mm) only the better stays.

    Returns the loss that a further pose must be under."""
    candidates = state.candidates
    place = -1
    worst = -1.0
    for k in range(CANDIDATES):
        if candidates[k, 0] > worst:
            worst = candidates[k, 0]
            place = k
    for k in range(CANDIDATES):
        if (
            candidates[k, 0] < math.inf
            and candidates[k, 1] == pose.option
            and abs(candidates[k, 2] - pose.x) < near
            and abs(candidates[k, 3] - pose.y) < near
            and abs(candidates[k, 4] - pose.angle) < 10.0
        ):
            place = k
            break
    if loss < candidates[place, 0]:
        candidates[place, 0] = loss
        candidates[place, 1] = pose.option
        candidates[place, 2] = pose.x
        candidates[place, 3] = pose.y
        candidates[place, 4] = pose.angle
    worst = -1.0
    for k in range(CANDIDATES):
        worst = max(worst, candidates[k, 0])
    return worst


@kernel(**FLAT, forceinline=True)
def candidate_pose(state: SearchState, place: int) -> ShapePose:
    """The pose of a candidate."""
    kept = state.candidates[place]
    return ShapePose(int(kept[1]), kept[2], kept[3], kept[4])


@kernel(**FLAT, forceinline=True)
def move_along(axis: int, step_x: float, step_y: float, step_turn: float) -> tuple[float, float, float]:
    """How far (x, y, turn) a step along one of five axes goes: across, up, two diagonals, the turn."""
    if axis == 4:
        return 0.0, 0.0, step_turn
    if axis == 0:
        return step_x, 0.0, 0.0
    if axis == 1:
        return 0.0, step_y, 0.0
    return 0.7 * step_x, 0.7 * step_y if axis == 2 else -0.7 * step_y, 0.0


@kernel(**FLAT, forceinline=True)
def changed_steps(axis: int, found: bool, steps: tuple[float, float, float]) -> tuple[float, float, float]:
    """The steps (x, y, turn) after one was tried along an axis: longer if it was for the better, else half."""
    step_x, step_y, step_turn = steps
    factor = 1.1 if found else 0.5
    if axis == 4:
        return step_x, step_y, step_turn * factor
    if axis == 0:
        return step_x * factor, step_y, step_turn
    if axis == 1:
        return step_x, step_y * factor, step_turn
    factor = math.sqrt(factor)
    return step_x * factor, step_y * factor, step_turn


@kernel(**FLAT)
def improve_candidate(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    place: int,
    steps: tuple[float, float],
    least: tuple[float, float],
) -> None:
    """Improve a candidate by coordinate descent with steps that shrink on failure.

    `steps` and `least` are the first and the least (mm, degrees); a random one of four axes (or the turn) is tried
    both ways at a time."""
    loss = state.candidates[place, 0]
    pose = candidate_pose(state, place)
    turning = steps[1] > 0.0 and can_turn(options, pose.option)
    now = (steps[0], steps[0], steps[1])
    while loss > 0.0 and (now[0] >= least[0] or now[1] >= least[0]):
        axis = int(next_random(state.random_state) * (5.0 if turning and now[2] >= least[1] else 4.0))
        ux, uy, turn = move_along(axis, now[0], now[1], now[2])
        found = False
        before = pose
        for way in range(2):
            sign = 1.0 - 2.0 * way
            angle = before.angle
            if turn != 0.0:
                angle = allowed_turn(options, before.option, before.angle, before.angle + sign * turn)
            tried = ShapePose(before.option, before.x + sign * ux, before.y + sign * uy, angle)
            value = pose_loss(shapes, areas, options, state, item, tried, loss)
            if value < loss:
                found = True
                loss = value
                pose = tried
        now = changed_steps(axis, found, now)
    state.candidates[place, 0] = loss
    state.candidates[place, 2] = pose.x
    state.candidates[place, 3] = pose.y
    state.candidates[place, 4] = pose.angle


@kernel(**FLAT)
def improve_candidates(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, item: int, step: float
) -> int:
    """Improve all candidates coarsely, then the best finely; its place. `step` (mm) is the item's own measure."""
    best = 0
    coarse, fine = (0.25 * step, 5.0), (0.01 * step, 0.5)
    for k in range(CANDIDATES + 1):
        place = k if k < CANDIDATES else best
        if state.candidates[place, 0] < math.inf:
            steps = coarse if k < CANDIDATES else fine
            least = (0.02 * step, 0.5) if k < CANDIDATES else (0.001 * step, 0.05)
            improve_candidate(shapes, areas, options, state, item, place, steps, least)
            if state.candidates[place, 0] < state.candidates[best, 0]:
                best = place
    return best


@kernel(**FLAT)
def find_best_candidate(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    anywhere: int,
    nearby: int,
) -> int:
    """Fill `state.candidates` with the best poses found for an item, improved; the place of the best.

    `anywhere` poses are drawn over everything allowed, `nearby` ones about where the item lies (if it does); where it
    lies is the first pose judged."""
    for k in range(CANDIDATES):
        state.candidates[k, 0] = math.inf
    first = options.start[item]
    row = state.row[item]
    if state.option[item] < 0:
        angle = options.turn_low[options.turn_start[first]]
        row = row_holding(shapes, state, state.field.shape[0], options.shape[first], angle)
        nearby = -1
    own = state.rows.box[row]
    step = min(own[2] - own[0], own[3] - own[1])
    close = 0.02 * shapes.diameter[options.shape[first]]
    bound = math.inf
    for k in range(-1 - nearby, anywhere):
        if k >= 0:
            pose = pose_anywhere(shapes, areas, options, state, item)
        elif k > -1 - nearby:
            pose = pose_nearby(options, state, item, k, step)
        else:
            pose = ShapePose(state.option[item], state.x[item], state.y[item], state.angle[item])
        loss = pose_loss(shapes, areas, options, state, item, pose, bound)
        if loss < bound:
            bound = keep_candidate(state, loss, pose, close)
    return improve_candidates(shapes, areas, options, state, item, step)


@kernel(**FLAT)
def move_item(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    anywhere: int,
    nearby: int,
) -> bool:
    """Move an item to the best pose found if that is better than where it lies; whether it moved."""
    best = find_best_candidate(shapes, areas, options, state, item, anywhere, nearby)
    loss = state.candidates[best, 0]
    if loss == math.inf:
        return False
    if state.option[item] >= 0 and loss >= weighted_loss(state, item):
        return False
    place_item(shapes, areas, options, state, item, candidate_pose(state, best))
    return True


@kernel(**FLAT)
def worst_loss(state: SearchState) -> float:
    """The largest unweighted loss of any pair or boundary."""
    worst = 0.0
    for field in range(state.field_count.shape[0]):
        for m in range(state.field_count[field]):
            i = state.field_bodies[field, m]
            worst = max(worst, state.boundary_loss[i])
            for k in range(m + 1, state.field_count[field]):
                worst = max(worst, state.pair_loss[i, state.field_bodies[field, k]])
    return worst


@kernel(**FLAT)
def change_weights(state: SearchState) -> None:
    """Guided local search: weights of pairs that overlap grow by their share of the worst loss, others decay to one.
    Only bodies on one field can overlap: only their pairs are looked at."""
    worst = worst_loss(state)
    if worst <= 0.0:
        return
    for field in range(state.field_count.shape[0]):
        for m in range(state.field_count[field]):
            i = state.field_bodies[field, m]
            state.boundary_weight[i] = weight_after(state.boundary_weight[i], state.boundary_loss[i], worst)
            for k in range(m + 1, state.field_count[field]):
                j = state.field_bodies[field, k]
                weight = weight_after(state.pair_weight[i, j], state.pair_loss[i, j], worst)
                state.pair_weight[i, j] = weight
                state.pair_weight[j, i] = weight


@kernel(**FLAT, forceinline=True)
def weight_after(weight: float, loss: float, worst: float) -> float:
    """A weight raised by its loss's share of the worst one, or decayed toward one where there is none."""
    if loss > 0.0:
        return weight * (LEAST_WEIGHT_GROWTH + (MOST_WEIGHT_GROWTH - LEAST_WEIGHT_GROWTH) * loss / worst)
    return max(1.0, weight * WEIGHT_DECAY)


@kernel(**FLAT)
def remember_best(state: SearchState, total: float) -> None:
    """Note the present poses as the best of this run."""
    state.best_loss[0] = total
    for i in range(state.field.shape[0]):
        state.best_x[i] = state.x[i]
        state.best_y[i] = state.y[i]
        state.best_angle[i] = state.angle[i]
        state.best_option[i] = state.option[i]


@kernel(**FLAT)
def begin_run(state: SearchState) -> None:
    """Forget the counters and the best poses of an earlier run; weights stay."""
    state.best_loss[0] = math.inf
    state.counters[PASSES_WITHOUT_GAIN] = 0
    state.counters[ITEMS_TRIED] = 0
    state.counters[ITEMS_DUE] = 0


@kernel(**FLAT)
def queue_items(state: SearchState) -> int:
    """Queue the movable items that overlap or stick out, in random order; their number."""
    count = 0
    for i in range(state.field.shape[0]):
        if state.movable[i] and state.field[i] >= 0 and body_loss(state, i) > 0.0:
            state.queue[count] = i
            count += 1
    for k in range(count - 1, 0, -1):
        m = int(next_random(state.random_state) * (k + 1))
        state.queue[k], state.queue[m] = state.queue[m], state.queue[k]
    return count


@kernel(**FLAT)
def begin_pass(state: SearchState, most_without_gain: int) -> int:
    """Begin a pass unless the run is at its end: FEASIBLE, STUCK or GOING."""
    total = total_loss(state)
    if total < GAIN * state.best_loss[0]:
        state.counters[PASSES_WITHOUT_GAIN] = 0
    if total < state.best_loss[0] or total == 0.0:
        remember_best(state, total)
    if total == 0.0:
        return FEASIBLE
    if state.counters[PASSES_WITHOUT_GAIN] >= most_without_gain:
        return STUCK
    state.counters[ITEMS_DUE] = queue_items(state)
    state.counters[ITEMS_TRIED] = 0
    return STUCK if state.counters[ITEMS_DUE] == 0 else GOING


@kernel(**FLAT)
def run_passes(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    anywhere: int,
    nearby: int,
    poses: int,
    most_without_gain: int,
) -> int:
    """Passes until nothing overlaps (FEASIBLE), so many `poses` have been judged (SPENT) or `most_without_gain` passes
    brought no gain in the total loss (STUCK). Called again, the run goes on where it was, also within a pass."""
    until = state.counters[POSES_JUDGED] + poses
    while True:
        if state.counters[ITEMS_TRIED] >= state.counters[ITEMS_DUE]:
            how = begin_pass(state, most_without_gain)
            if how != GOING:
                return how
        while state.counters[ITEMS_TRIED] < state.counters[ITEMS_DUE]:
            if state.counters[POSES_JUDGED] >= until or state.counters[HALT] != 0:
                return SPENT
            item = state.queue[state.counters[ITEMS_TRIED]]
            state.counters[ITEMS_TRIED] += 1
            if body_loss(state, item) > 0.0:
                move_item(shapes, areas, options, state, item, anywhere, nearby)
        change_weights(state)
        state.counters[PASSES_WITHOUT_GAIN] += 1
