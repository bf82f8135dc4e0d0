"""What changes in a search: the arrays of one layout's state.

What lives here: the named tuple the kernels write, and how it begins. What does not: what they only read (`packed`),
and the object that owns a state (`layout`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.broad_phase_kernels import MOST_CELLS
from nestplan.nesting.arrays.edge_run_kernels import CHUNK
from nestplan.nesting.arrays.packing import Shapes
from nestplan.nesting.arrays.pose_kernels import turn_shape
from nestplan.nesting.problem import Bools, Floats, Ints, Problem, Singles


class State(NamedTuple):
    """One search's own arrays, changed in place by the kernels. B bodies are the items, then the fixed rings.

    `field, allow (B,)`, `x, y, angle (B,)`: where a body lies (the middle of its shape). `row (B,)`: the row that holds
    its turned shape. Rows R are one for each body, one for the candidate, one for its demand ring, then one for each
    variant of `Tables`, which never changes and serves every body so turned. `shape, turned (R,)`: which shape a row
    holds and how turned; `vx … pn`: that shape, `box (R, 4)` its box unmoved, `chunk (R, C, 4)` those of runs
    of edges; `world (B, 4)` a body's box. `members (F, B)`, `filled (F,)`, `slot (B,)`: bodies by field. `weight, load
    (B, B)`, `wall_weight, wall_load (B,)`: weights and unweighted losses of pairs and of demands. `grid (F, 4)`: corner
    and cells a mm of each field's grid, `cells (F, NY, NX, W) uint64`: the bodies in each cell, a bit each.
    `limit (F, 3)`: n·p <= c. `active (B,)`: may be moved.
    `best_* `: the pose set of least total loss in this run. `random (1,)`: the generator. `tally (8,)`: counters."""

    field: Ints
    allow: Ints
    x: Floats
    y: Floats
    angle: Floats
    row: Ints
    shape: Ints
    turned: Floats
    vx: Floats
    vy: Floats
    vn: Ints
    px: Singles
    py: Singles
    pr: Singles
    pn: Ints
    box: Floats
    chunk: Floats
    world: Floats
    members: Ints
    filled: Ints
    slot: Ints
    grid: Floats
    cells: NDArray[np.uint64]
    weight: Singles
    load: Singles
    wall_weight: Singles
    wall_load: Singles
    limit: Floats
    active: Bools
    best_x: Floats
    best_y: Floats
    best_angle: Floats
    best_allow: Ints
    best_total: Floats
    random: NDArray[np.uint64]
    tally: Ints
    keep: Ints
    order: Ints
    tops: Floats


def _grids(problem: Problem, shapes: Shapes) -> tuple[Floats, tuple[int, int]]:
    """Corner and cells a mm of each field's grid, and its cells up and across: about as large as a usual shape."""
    boxes = np.array([outline.bounds for outline in problem.fields])
    size = np.maximum(boxes[:, 2:] - boxes[:, :2], 1e-9)
    usual = max(float(np.mean(shapes.span)) if len(shapes.span) else 0.0, 1e-9)
    many = np.clip(np.ceil(size.max(axis=0) / usual), 1, MOST_CELLS).astype(int)
    return np.hstack([boxes[:, :2], many / size]), (int(many[1]), int(many[0]))


def fresh_state(problem: Problem, shapes: Shapes, seed: int) -> State:
    """A state with nothing placed, all items active, no limit, weights of one."""
    items = len(problem.items)
    bodies = items + len(problem.fixed)
    variants = len(shapes.tables.variant_angle)
    rows = bodies + 2 + variants
    most_points, most_discs = shapes.vx.shape[1], shapes.px.shape[1]
    fields = len(problem.fields)
    grid, cells = _grids(problem, shapes)
    active = np.zeros(bodies, bool)
    active[:items] = True
    limit = np.zeros((fields, 3))
    limit[:, 2] = np.inf
    state = State(
        field=np.full(bodies, -1, np.int64),
        allow=np.full(bodies, -1, np.int64),
        x=np.zeros(bodies),
        y=np.zeros(bodies),
        angle=np.zeros(bodies),
        row=np.arange(bodies),
        shape=np.full(rows, -1, np.int64),
        turned=np.zeros(rows),
        vx=np.zeros((rows, most_points)),
        vy=np.zeros((rows, most_points)),
        vn=np.zeros(rows, np.int64),
        px=np.zeros((rows, most_discs), np.float32),
        py=np.zeros((rows, most_discs), np.float32),
        pr=np.zeros((rows, most_discs), np.float32),
        pn=np.zeros(rows, np.int64),
        box=np.zeros((rows, 4)),
        chunk=np.zeros((rows, most_points // CHUNK + 1, 4)),
        world=np.zeros((bodies, 4)),
        members=np.zeros((fields, bodies), np.int64),
        filled=np.zeros(fields, np.int64),
        slot=np.full(bodies, -1, np.int64),
        grid=grid,
        cells=np.zeros((fields, *cells, (bodies + 63) // 64), np.uint64),
        weight=np.ones((bodies, bodies), np.float32),
        load=np.zeros((bodies, bodies), np.float32),
        wall_weight=np.ones(bodies, np.float32),
        wall_load=np.zeros(bodies, np.float32),
        limit=limit,
        active=active,
        best_x=np.zeros(bodies),
        best_y=np.zeros(bodies),
        best_angle=np.zeros(bodies),
        best_allow=np.full(bodies, -1, np.int64),
        best_total=np.full(1, np.inf),
        # Hashed: seeds a multiple of the generator's own step apart would give one sequence, only shifted.
        random=np.random.SeedSequence(seed).generate_state(1, np.uint64).astype(np.uint64),
        tally=np.zeros(8, np.int64),
        keep=np.zeros(most_points, np.int64),
        order=np.zeros(bodies, np.int64),
        tops=np.zeros((8, 6)),
    )
    start = shapes.tables.variant_start
    for shape in range(len(start) - 1):
        for k in range(start[shape], start[shape + 1]):
            turn_shape(shapes, state, bodies + 2 + k, shape, float(shapes.tables.variant_angle[k]))
    return state
