"""Kernels of ejection: poses that areas hold, learnt once, and the one among them that drives out what is worth least.

A pool holds for each option some poses at which all that the option asks for lies in its areas. A piece that has no
place is tried at poses drawn from the pools; each costs what the pieces are worth that would have to give way.
"""

from __future__ import annotations

import math

import numpy as np

from nestplan.nesting.arrays.broad_phase_kernels import bodies_near, cells_touched, lowest_bit, touches_body
from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.pose_kernels import pair_loss, pose_loss, row_holding
from nestplan.nesting.arrays.random_kernels import next_random
from nestplan.nesting.arrays.records import (
    POSES_JUDGED,
    Areas,
    PlacementOptions,
    PosePool,
    SearchState,
    ShapePose,
    Shapes,
)
from nestplan.nesting.arrays.sampling_kernels import random_option, random_position, random_turn
from nestplan.nesting.arrays.search_kernels import improve_candidate
from nestplan.nesting.problem import Floats


@kernel(**FLAT)
def fill_pool(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    pool: PosePool,
    item: int,
    option: int,
    tries: int,
) -> int:
    """Add poses at which the areas of an option hold all that it asks; nothing may lie in `state`. How many there are.

    Drawn by chance and improved until they fit, so that many touch an edge. The oldest are replaced where the pool is
    full."""
    which = pool.pool_of[option]
    row = row_holding(shapes, state, state.field.shape[0], options.shape[option], 0.0)
    own = state.rows.box[row]
    step = min(own[2] - own[0], own[3] - own[1])
    most = pool.pose.shape[1]
    for _ in range(tries):
        angle = random_turn(options, state, option, 0.0, 0.0)
        x, y = random_position(shapes, areas, options, state, option, angle)
        loss = pose_loss(shapes, areas, options, state, item, ShapePose(option, x, y, angle), math.inf)
        state.candidates[0, 0] = loss
        state.candidates[0, 1] = option
        state.candidates[0, 2] = x
        state.candidates[0, 3] = y
        state.candidates[0, 4] = angle
        if loss > 0.0:
            improve_candidate(shapes, areas, options, state, item, 0, (0.25 * step, 5.0), (0.005 * step, 0.2))
        if state.candidates[0, 0] == 0.0:
            place = pool.known[which] % most
            for m in range(3):
                pool.pose[which, place, m] = state.candidates[0, 2 + m]
            pool.known[which] += 1
    return pool.known[which]


@kernel(**FLAT)
def ejection_cost(
    shapes: Shapes,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    pose: ShapePose,
    worth: Floats,
    most: float,
) -> float:
    """What bodies an item overlaps at a pose are worth, and how deep it overlaps them (mm²), its areas not looked at;
    ends early beyond `most`."""
    state.counters[POSES_JUDGED] += 1
    row = row_holding(shapes, state, state.field.shape[0], options.shape[pose.option], pose.angle)
    own = state.rows.box[row]
    box = (own[0] + pose.x, own[1] + pose.y, own[2] + pose.x, own[3] + pose.y)
    field = options.field[pose.option]
    cells = cells_touched(state, field, box)
    cost = 0.0
    for word in range(state.cell_bodies.shape[3]):
        bits = bodies_near(state, field, word, cells)
        while bits != np.uint64(0):
            other = (word << 6) + lowest_bit(bits)
            bits &= bits - np.uint64(1)
            if other == item or not touches_body(state, other, box):
                continue
            part = pair_loss(shapes, state, row, pose.x, pose.y, other)
            if part > 0.0:
                cost += worth[other] + part
                if cost > most:
                    return cost
    return cost


@kernel(**FLAT)
def cheapest_pose(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    item: int,
    worth: Floats,
    draws: int,
) -> float:
    """Put the cheapest of so many poses drawn from the pools of an item into the first of `state.candidates`; its cost,
    infinite where there is none."""
    best = math.inf
    pool = state.pool
    for _ in range(draws):
        option = random_option(options, state, item)
        which = pool.pool_of[option]
        held = min(pool.known[which], pool.pose.shape[1])
        if held == 0 or not state.open_field[options.field[option]]:
            continue
        drawn = pool.pose[which, int(next_random(state.random_state) * held)]
        pose = ShapePose(option, drawn[0], drawn[1], drawn[2])
        cost = ejection_cost(shapes, options, state, item, pose, worth, best)
        if cost < best:
            best = cost
            state.candidates[0, 0] = cost
            state.candidates[0, 1] = option
            state.candidates[0, 2] = pose.x
            state.candidates[0, 3] = pose.y
            state.candidates[0, 4] = pose.angle
            if cost == 0.0:
                break
    return best
