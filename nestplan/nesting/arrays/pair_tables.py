"""Which pairs of turned shapes are tabulated, and the building of all their tables.

Only shapes whose every option names single turns take part; each such turn is a *variant* of the shape. Two variants
are one table for every pair of the same two shapes at the same relative turn: the offset is turned back by the second's
turn, and changes sign where the pair is asked the other way round.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestplan.nesting.arrays.overlap_kernels import TAIL
from nestplan.nesting.arrays.pair_table_kernels import fill_table, nodes_along
from nestplan.nesting.arrays.records import Grid, PairTables, Shapes
from nestplan.nesting.arrays.search_state import empty_rows
from nestplan.nesting.arrays.turned_shape_kernels import cosine_sine, turn_shape
from nestplan.nesting.problem import Bytes, Floats, Ints, Singles

__all__ = ["no_tables", "pair_tables"]

MOST_TABLES = 500
"""With more pairs than this none is tabulated."""

CELLS = 96
"""Cells along the longer side of a table."""


class _Pairs(NamedTuple):
    """The tables that are wanted: (first shape, its turn against the second, second shape) of each; and for every two
    variants their table and how their offset is turned into it."""

    keys: list[tuple[int, float, int]]
    table: Ints
    cosine: Floats
    sine: Floats


def no_tables(shapes: int) -> PairTables:
    """Tables for `shapes` shapes of which none takes part."""
    whole, real = np.zeros(0, np.int64), np.zeros(0)
    return PairTables(
        variant_start=np.zeros(shapes + 1, np.int64),
        variant_angle=real,
        table_of_pair=np.zeros((0, 0), np.int64),
        cosine=np.zeros((0, 0)),
        sine=np.zeros((0, 0)),
        left=real,
        bottom=real,
        cells_per_mm=real,
        columns=whole,
        rows=whole,
        node_start=whole,
        cell_start=whole,
        loss=np.zeros(0, np.float32),
        verdict=np.zeros(0, np.uint8),
    )


def pair_tables(shapes: Shapes, turns: list[list[float] | None]) -> PairTables:
    """Tables for all pairs of variants; `turns` are the single turns of each shape, None where it has others.

    No tables at all when they would be more than `MOST_TABLES`.
    """
    angles = [sorted(set(own or ())) for own in turns]
    pairs = _pairs([(shape, angle) for shape, own in enumerate(angles) for angle in own])
    if not pairs.keys or len(pairs.keys) > MOST_TABLES:
        return no_tables(len(turns))
    grids, losses, verdicts = zip(*(_table(shapes, *key) for key in pairs.keys), strict=True)
    return PairTables(
        variant_start=np.cumsum([0, *(len(own) for own in angles)]),
        variant_angle=np.array([angle for own in angles for angle in own]),
        table_of_pair=pairs.table,
        cosine=pairs.cosine,
        sine=pairs.sine,
        left=np.array([grid.left for grid in grids]),
        bottom=np.array([grid.bottom for grid in grids]),
        cells_per_mm=np.array([1.0 / grid.cell for grid in grids]),
        columns=np.array([grid.columns for grid in grids], np.int64),
        rows=np.array([grid.rows for grid in grids], np.int64),
        node_start=np.cumsum([0, *(len(loss) for loss in losses)])[:-1],
        cell_start=np.cumsum([0, *(len(verdict) for verdict in verdicts)])[:-1],
        loss=np.concatenate(losses),
        verdict=np.concatenate(verdicts),
    )


def _pairs(variants: list[tuple[int, float]]) -> _Pairs:
    """The tables of all pairs of variants (shape, turn), each once."""
    keys: dict[tuple[int, float, int], int] = {}
    count = len(variants)
    table = np.full((count, count), -1, np.int64)
    cosine, sine = np.zeros((count, count)), np.zeros((count, count))
    for a, (first, angle) in enumerate(variants):
        for b, (second, other) in enumerate(variants):
            turn = (angle - other) % 360.0
            back = (other - angle) % 360.0
            swapped = first > second or (first == second and turn > back)
            key = (second, back, first) if swapped else (first, turn, second)
            table[a, b] = keys.setdefault(key, len(keys))
            # The offset of the first from the second, seen from the table's second shape lying at no turn.
            c, s = cosine_sine(angle if swapped else other)
            cosine[a, b], sine[a, b] = (-c, -s) if swapped else (c, s)
    return _Pairs(list(keys), table, cosine, sine)


def _table(shapes: Shapes, first: int, turn: float, second: int) -> tuple[Grid, Singles, Bytes]:
    """The table of two shapes, the first turned: its grid, losses at the nodes and verdicts of the cells."""
    rows = empty_rows(shapes, 2)
    turn_shape(shapes, rows, 0, first, turn)
    turn_shape(shapes, rows, 1, second, 0.0)
    corner, end = rows.box[1, :2] - rows.box[0, 2:], rows.box[1, 2:] - rows.box[0, :2]
    cell = float((end - corner).max()) / CELLS
    columns, high = np.ceil((end - corner) / cell).astype(int).tolist()
    grid = Grid(float(corner[0]), float(corner[1]), cell, columns, high)
    loss = np.zeros(nodes_along(columns) * nodes_along(high), np.float32)
    verdict = np.zeros(columns * high, np.uint8)
    tail = TAIL * float(max(shapes.diameter[first], shapes.diameter[second]))
    scale = float(np.sqrt(shapes.hull_size[first] * shapes.hull_size[second]))
    fill_table(rows, 0, 1, grid, tail, scale, loss, verdict)
    return grid, loss, verdict
