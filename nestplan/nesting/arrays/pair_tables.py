"""Which pairs of turned shapes are tabulated, and the building of all their tables.

What lives here: the choice and the packing. What does not: the making of one table (`table_kernels`).

Only shapes whose every allowance names single turns take part; each such turn is a *variant* of the shape. Two
variants are one table for every pair of the same two shapes at the same relative turn: the offset is turned back by
the second's turn, and changes sign where the pair is asked the other way round.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestplan.nesting.arrays.collision_kernels import cosine_sine
from nestplan.nesting.arrays.pair_table_kernels import fill_table, nodes_along
from nestplan.nesting.problem import Bytes, Floats, Ints, Singles

MOST_TABLES = 500
CELLS = 96
"""Cells along the longer side of a table."""

TAIL = 0.01
"""Where a disc pair's depth passes into its tail, as a share of the larger shape's span."""


class Tables(NamedTuple):
    """Variants of shapes and tables of pairs. `variant_start (S + 1,)` and `variant_angle (V,)`: turns of each shape.
    `pair (V, V)`: table of a pair, -1 if none; the table's offset is (c·dx + s·dy, -s·dx + c·dy) with `cosine`, `sine
    (V, V)`. A table has nodes `value` from `node_start`, cells `code` from `code_start`, origin, 1 / cell, size."""

    variant_start: Ints
    variant_angle: Floats
    pair: Ints
    cosine: Floats
    sine: Floats
    x0: Floats
    y0: Floats
    per: Floats
    nx: Ints
    ny: Ints
    node_start: Ints
    code_start: Ints
    value: Singles
    code: Bytes


class Masters(NamedTuple):
    """The master shapes' arrays that a table needs: see `packed.Shapes`."""

    vx: Floats
    vy: Floats
    vn: Ints
    px: Singles
    py: Singles
    pr: Singles
    pn: Ints
    scale: Floats
    span: Floats


def no_tables(shapes: int) -> Tables:
    """Tables for `shapes` shapes of which none takes part."""
    none, empty = np.zeros(0, np.int64), np.zeros(0)
    return Tables(
        variant_start=np.zeros(shapes + 1, np.int64),
        variant_angle=empty,
        pair=np.zeros((0, 0), np.int64),
        cosine=np.zeros((0, 0)),
        sine=np.zeros((0, 0)),
        x0=empty,
        y0=empty,
        per=empty,
        nx=none,
        ny=none,
        node_start=none,
        code_start=none,
        value=np.zeros(0, np.float32),
        code=np.zeros(0, np.uint8),
    )


def pair_tables(masters: Masters, turns: list[list[float] | None]) -> Tables:
    """Tables for all pairs of variants; `turns` are the single turns of each shape, None where it has others.

    No tables at all when they would be more than `MOST_TABLES`.
    """
    variants = [(shape, angle) for shape, angles in enumerate(turns) for angle in sorted(set(angles or ()))]
    keys: dict[tuple[int, float, int], int] = {}
    count = len(variants)
    pair = np.full((count, count), -1, np.int64)
    cosine, sine = np.zeros((count, count)), np.zeros((count, count))
    for a, (first, angle) in enumerate(variants):
        for b, (second, other) in enumerate(variants):
            turn = (angle - other) % 360.0
            back = (other - angle) % 360.0
            swapped = first > second or (first == second and turn > back)
            key = (second, back, first) if swapped else (first, turn, second)
            pair[a, b] = keys.setdefault(key, len(keys))
            # The offset of the first from the second, seen from the table's second shape lying at no turn.
            c, s = cosine_sine(angle if swapped else other)
            cosine[a, b], sine[a, b] = (-c, -s) if swapped else (c, s)
    if not keys or len(keys) > MOST_TABLES:
        return no_tables(len(turns))
    counts = [len(set(angles or ())) for angles in turns]
    return _filled(masters, list(keys), pair, cosine, sine, counts, [angle for _, angle in variants])


def _filled(
    masters: Masters,
    keys: list[tuple[int, float, int]],
    pair: Ints,
    cosine: Floats,
    sine: Floats,
    counts: list[int],
    angles: list[float],
) -> Tables:
    """The tables of all keys (first shape, its turn against the second, second shape)."""
    rows = {name: np.zeros((2, getattr(masters, name).shape[1])) for name in ("vx", "vy")}
    discs = {name: np.zeros((2, masters.px.shape[1]), np.float32) for name in ("px", "py", "pr")}
    boxes, keep = np.zeros((2, 4)), np.zeros(masters.vx.shape[1], np.int64)
    x0, y0, per, nx, ny = [], [], [], [], []
    values, codes = [], []
    for first, turn, second in keys:
        c, s = cosine_sine(turn)
        for row, shape, (cc, ss) in ((0, first, (c, s)), (1, second, (1.0, 0.0))):
            rows["vx"][row] = cc * masters.vx[shape] - ss * masters.vy[shape]
            rows["vy"][row] = ss * masters.vx[shape] + cc * masters.vy[shape]
            discs["px"][row] = np.float32(cc) * masters.px[shape] - np.float32(ss) * masters.py[shape]
            discs["py"][row] = np.float32(ss) * masters.px[shape] + np.float32(cc) * masters.py[shape]
            discs["pr"][row] = masters.pr[shape]
        vn, pn = masters.vn[[first, second]], masters.pn[[first, second]]
        low, high = np.zeros((2, 2)), np.zeros((2, 2))
        for row in range(2):
            points = np.array([rows["vx"][row, : vn[row]], rows["vy"][row, : vn[row]]])
            low[row], high[row] = points.min(axis=1), points.max(axis=1)
        corner, end = low[1] - high[0], high[1] - low[0]
        cell = float((end - corner).max()) / CELLS
        size = np.ceil((end - corner) / cell).astype(int)
        value = np.zeros(nodes_along(int(size[0])) * nodes_along(int(size[1])), np.float32)
        code = np.zeros(size[0] * size[1], np.uint8)
        eps = TAIL * max(masters.span[first], masters.span[second])
        scale = float(np.sqrt(masters.scale[first] * masters.scale[second]))
        fill_table(
            rows["vx"], rows["vy"], vn, discs["px"], discs["py"], discs["pr"], pn, 0, 1, boxes, keep,
            corner[0], corner[1], cell, int(size[0]), int(size[1]), eps, scale, value, 0, code, 0,
        )  # fmt: skip
        x0.append(corner[0])
        y0.append(corner[1])
        per.append(1.0 / cell)
        nx.append(int(size[0]))
        ny.append(int(size[1]))
        values.append(value)
        codes.append(code)
    return Tables(
        variant_start=np.cumsum([0, *counts]),
        variant_angle=np.array(angles),
        pair=pair,
        cosine=cosine,
        sine=sine,
        x0=np.array(x0),
        y0=np.array(y0),
        per=np.array(per),
        nx=np.array(nx, np.int64),
        ny=np.array(ny, np.int64),
        node_start=np.cumsum([0, *(len(value) for value in values)])[:-1],
        code_start=np.cumsum([0, *(len(code) for code in codes)])[:-1],
        value=np.concatenate(values),
        code=np.concatenate(codes),
    )
