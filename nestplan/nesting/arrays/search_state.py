"""How the changing arrays of a search begin: rows that hold nothing yet, and a state with nothing placed."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.broad_phase_kernels import MOST_CELLS
from nestplan.nesting.arrays.records import CANDIDATES, COUNTERS, PosePool, SearchState, Shapes, TurnedShapes
from nestplan.nesting.arrays.turned_shape_kernels import EDGES_PER_RUN, turn_shape
from nestplan.nesting.problem import Floats, Problem

__all__ = ["empty_pool", "empty_rows", "fresh_state"]


def empty_pool() -> PosePool:
    """A pool of poses for no option."""
    return PosePool(np.zeros(0, np.int64), np.zeros((0, 0, 3)), np.zeros(0, np.int64))


def empty_rows(shapes: Shapes, count: int) -> TurnedShapes:
    """So many rows for turned shapes, which hold nothing yet."""
    corners, discs = shapes.corner_x.shape[1], shapes.disc_x.shape[1]
    return TurnedShapes(
        shape=np.full(count, -1, np.int64),
        angle=np.zeros(count),
        outlined=np.zeros(count, bool),
        corner_x=np.zeros((count, corners)),
        corner_y=np.zeros((count, corners)),
        corner_count=np.zeros(count, np.int64),
        disc_x=np.zeros((count, discs), np.float32),
        disc_y=np.zeros((count, discs), np.float32),
        disc_radius=np.zeros((count, discs), np.float32),
        disc_count=np.zeros(count, np.int64),
        box=np.zeros((count, 4)),
        tight_box=np.zeros((count, 6)),
        run_box=np.zeros((count, corners // EDGES_PER_RUN + 1, 4)),
    )


def fresh_state(problem: Problem, shapes: Shapes, seed: int) -> SearchState:
    """A state with nothing placed, all items movable, no limit, weights of one."""
    items, fields = len(problem.items), len(problem.fields)
    bodies = items + len(problem.fixed)
    tables = shapes.tables
    rows = empty_rows(shapes, bodies + 2 + len(tables.variant_angle))
    for shape in range(len(tables.variant_start) - 1):
        for variant in range(tables.variant_start[shape], tables.variant_start[shape + 1]):
            turn_shape(shapes, rows, bodies + 2 + variant, shape, float(tables.variant_angle[variant]))
    grid, (high, wide) = _coarse_grids(problem, shapes)
    limit = np.zeros((fields, 3))
    limit[:, 2] = np.inf
    return SearchState(
        rows=rows,
        field=np.full(bodies, -1, np.int64),
        option=np.full(bodies, -1, np.int64),
        x=np.zeros(bodies),
        y=np.zeros(bodies),
        angle=np.zeros(bodies),
        row=np.arange(bodies),
        body_box=np.zeros((bodies, 4)),
        field_bodies=np.zeros((fields, bodies), np.int64),
        field_count=np.zeros(fields, np.int64),
        place_in_field=np.full(bodies, -1, np.int64),
        grid=grid,
        cell_bodies=np.zeros((fields, high, wide, (bodies + 63) // 64), np.uint64),
        pair_weight=np.ones((bodies, bodies), np.float32),
        pair_loss=np.zeros((bodies, bodies), np.float32),
        boundary_weight=np.ones(bodies, np.float32),
        boundary_loss=np.zeros(bodies, np.float32),
        limit=limit,
        movable=np.arange(bodies) < items,
        open_field=np.ones(fields, bool),
        pool=empty_pool(),
        best_x=np.zeros(bodies),
        best_y=np.zeros(bodies),
        best_angle=np.zeros(bodies),
        best_option=np.full(bodies, -1, np.int64),
        best_loss=np.full(1, np.inf),
        # Hashed: seeds a multiple of the generator's own step apart would give one sequence, only shifted.
        random_state=np.random.SeedSequence(seed).generate_state(1, np.uint64).astype(np.uint64),
        counters=np.zeros(COUNTERS, np.int64),
        queue=np.zeros(bodies, np.int64),
        near=np.zeros(bodies, np.int64),
        near_depth=np.zeros(bodies, np.float32),
        near_overlapped=np.zeros(bodies, bool),
        candidates=np.zeros((CANDIDATES, 5)),
    )


def _coarse_grids(problem: Problem, shapes: Shapes) -> tuple[Floats, tuple[int, int]]:
    """Of each field's grid left, bottom and cells a mm across and up, and its cells up and across: about as large as a
    usual shape."""
    boxes = np.array([outline.bounds for outline in problem.fields])
    size = np.maximum(boxes[:, 2:] - boxes[:, :2], 1e-9)
    usual = max(float(np.mean(shapes.diameter)) if len(shapes.diameter) else 0.0, 1e-9)
    many = np.clip(np.ceil(size.max(axis=0) / usual), 1, MOST_CELLS).astype(int)
    return np.hstack([boxes[:, :2], many / size]), (int(many[1]), int(many[0]))
