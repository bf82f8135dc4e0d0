"""Kernels that draw poses by chance: a turn, a place over everything an item is allowed, a pose about where it lies."""

from __future__ import annotations

import math

from nestplan.nesting.arrays.area_kernels import signed_distance
from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.pose_kernels import row_holding
from nestplan.nesting.arrays.random_kernels import next_random
from nestplan.nesting.arrays.records import Areas, PlacementOptions, SearchState, ShapePose, Shapes

TRIES_FOR_POSITION = 8
TRIES_FOR_OPEN_FIELD = 8

POOL_SHARE = 0.8
"""Share of the poses drawn anywhere that come from the pool, where there is one."""


@kernel(**FLAT)
def random_turn(
    options: PlacementOptions, state: SearchState, option: int, near: float, spread: float
) -> float:
    """A turn that an option allows: near the given one (within `spread`) if spread > 0, else anywhere."""
    start = options.turn_start[option]
    stop = options.turn_start[option + 1]
    low = options.turn_low
    high = options.turn_high
    if stop == start + 1 and high[start] == low[start]:
        return low[start]
    if spread > 0.0:
        for k in range(start, stop):
            if low[k] <= near <= high[k]:
                if high[k] == low[k]:
                    return near
                wish = near + spread * (2.0 * next_random(state.random_state) - 1.0)
                return allowed_turn(options, option, near, wish)
    whole = 0.0
    for k in range(start, stop):
        whole += high[k] - low[k] + 1e-3
    at = next_random(state.random_state) * whole
    for k in range(start, stop):
        at -= high[k] - low[k] + 1e-3
        if at <= 0.0:
            return min(high[k], max(low[k], high[k] + at))
    return low[start]


@kernel(**FLAT)
def allowed_turn(options: PlacementOptions, option: int, now: float, wish: float) -> float:
    """The wished turn if the option allows it (modulo 360), else the end of the interval that holds `now`."""
    start = options.turn_start[option]
    stop = options.turn_start[option + 1]
    low = options.turn_low
    high = options.turn_high
    turn = wish % 360.0
    for k in range(start, stop):
        if low[k] <= turn <= high[k]:
            return turn
    for k in range(start, stop):
        if low[k] <= now <= high[k]:
            return high[k] if wish > now else low[k]
    return now


@kernel(**FLAT)
def can_turn(options: PlacementOptions, option: int) -> bool:
    """Whether an option allows an interval of turns that is not a single one."""
    for k in range(options.turn_start[option], options.turn_start[option + 1]):
        if options.turn_high[k] > options.turn_low[k]:
            return True
    return False


@kernel(**FLAT, forceinline=True)
def window_for(
    areas: Areas, options: PlacementOptions, state: SearchState, option: int, row: int
) -> tuple[float, float, float, float]:
    """The rectangle (left, bottom, right, top) that holds the middle of a row's shape wherever its box lies within the
    boxes of its areas and the limit."""
    x0 = y0 = -math.inf
    x1 = y1 = math.inf
    for c in range(options.containment_start[option], options.containment_start[option + 1]):
        if options.containment_shape[c] == options.shape[option] or x0 == -math.inf:
            box = areas.box[options.containment_area[c]]
            x0 = max(x0, box[0])
            y0 = max(y0, box[1])
            x1 = min(x1, box[2])
            y1 = min(y1, box[3])
    field = options.field[option]
    far = state.limit[field, 2]
    if far < math.inf:
        nx = state.limit[field, 0]
        ny = state.limit[field, 1]
        if nx == 1.0:
            x1 = min(x1, far)
        elif nx == -1.0:
            x0 = max(x0, -far)
        elif ny == 1.0:
            y1 = min(y1, far)
        elif ny == -1.0:
            y0 = max(y0, -far)
    own = state.rows.box[row]
    return x0 - own[0], y0 - own[1], x1 - own[2], y1 - own[3]


@kernel(**FLAT, forceinline=True)
def likely_within(
    areas: Areas, options: PlacementOptions, state: SearchState, option: int, row: int, x: float, y: float
) -> bool:
    """Whether the middle of the largest disc of a row's shape at (x, y) lies well inside all its areas."""
    rows = state.rows
    for c in range(options.containment_start[option], options.containment_start[option + 1]):
        area = options.containment_area[c]
        if not areas.is_box[area]:
            distance = signed_distance(areas, area, rows.disc_x[row, 0] + x, rows.disc_y[row, 0] + y)
            if not distance > 0.5 * rows.disc_radius[row, 0]:
                return False
    return True


@kernel(**FLAT)
def random_position(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, option: int, angle: float
) -> tuple[float, float]:
    """A random (x, y) at which the box of the turned shape lies in the boxes of its areas and within the limit."""
    row = row_holding(shapes, state, state.field.shape[0], options.shape[option], angle)
    x0, y0, x1, y1 = window_for(areas, options, state, option, row)
    limit = state.limit[options.field[option]]
    x = y = 0.0
    for _ in range(TRIES_FOR_POSITION):
        x = x0 + (x1 - x0) * next_random(state.random_state)
        y = y0 + (y1 - y0) * next_random(state.random_state)
        within_limit = limit[2] == math.inf or limit[0] * x + limit[1] * y <= limit[2]
        if within_limit and likely_within(areas, options, state, option, row, x, y):
            break
    return x, y


@kernel(**FLAT, forceinline=True)
def pose_nearby(
    options: PlacementOptions, state: SearchState, item: int, number: int, step: float
) -> ShapePose:
    """A pose about where an item lies; `number` says how far off it is drawn, `step` (mm) is the item's own measure."""
    option = state.option[item]
    spread = 0.5 if number % 2 == 0 else 0.1
    x = state.x[item] + spread * step * (2.0 * next_random(state.random_state) - 1.0)
    y = state.y[item] + spread * step * (2.0 * next_random(state.random_state) - 1.0)
    turn_spread = 20.0 * spread if number % 4 else 0.0
    return ShapePose(option, x, y, random_turn(options, state, option, state.angle[item], turn_spread))


@kernel(**FLAT, forceinline=True)
def random_option(options: PlacementOptions, state: SearchState, item: int) -> int:
    """An option of an item by chance, on a field where poses are drawn if it has any there."""
    first = options.start[item]
    many = options.start[item + 1] - first
    option = first + int(next_random(state.random_state) * many)
    for _ in range(TRIES_FOR_OPEN_FIELD):
        if state.open_field[options.field[option]]:
            return option
        option = first + int(next_random(state.random_state) * many)
    for _ in range(many):
        if state.open_field[options.field[option]]:
            return option
        option = first if option + 1 == first + many else option + 1
    return option


@kernel(**FLAT, forceinline=True)
def pose_anywhere(
    shapes: Shapes, areas: Areas, options: PlacementOptions, state: SearchState, item: int
) -> ShapePose:
    """A pose drawn over everything an item is allowed, often one from the pool of its option where that has any."""
    option = random_option(options, state, item)
    pool = state.pool
    if pool.known.shape[0] > 0:
        which = pool.pool_of[option]
        held = min(pool.known[which], pool.pose.shape[1])
        if held > 0 and next_random(state.random_state) < POOL_SHARE:
            pose = pool.pose[which, int(next_random(state.random_state) * held)]
            return ShapePose(option, pose[0], pose[1], pose[2])
    angle = random_turn(options, state, option, 0.0, 0.0)
    x, y = random_position(shapes, areas, options, state, option, angle)
    return ShapePose(option, x, y, angle)
