"""A table of a pair: each verdict holds for every offset in its cell."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, affinity

from nestplan.nesting.arrays.packing import pack
from nestplan.nesting.arrays.pair_table_kernels import APART, ASK, COARSE, HIT, look_up, nodes_along
from tests.nesting.arrays.small_problems import BAR, ELL, HALVES, problem


def test_there_is_a_node_at_both_ends_of_every_row_of_cells():
    for cells in range(1, 20):
        nodes = nodes_along(cells)
        assert (nodes - 1) * COARSE >= cells
        assert (nodes - 2) * COARSE < cells


def test_verdicts_hold_for_every_offset_in_their_cell():
    packed = pack(problem(turns=HALVES))
    tables = packed.shapes.tables
    rings = [Polygon(ring - packed.options.middle[option]) for ring, option in ((ELL, 0), (BAR, 2))]
    first, second = int(tables.variant_start[0]), int(tables.variant_start[1])
    table = int(tables.table_of_pair[first, second])
    c, s = tables.cosine[first, second], tables.sine[first, second]
    seen = {APART: 0, HIT: 0, ASK: 0}
    for dx, dy in np.random.default_rng(1).uniform(-130.0, 130.0, (600, 2)):
        verdict, loss = look_up.py_func(tables, table, c * dx + s * dy, c * dy - s * dx)
        common = affinity.translate(rings[0], dx, dy).intersection(rings[1]).area
        seen[verdict] += 1
        if verdict == APART:
            assert common < 0.1
            assert loss == 0.0
        elif verdict == HIT:
            assert common > 0.0
            assert loss > 0.0
    assert min(seen.values()) > 5


def test_offsets_beyond_a_table_are_apart():
    tables = pack(problem(turns=HALVES)).shapes.tables
    assert look_up.py_func(tables, 0, 1e6, 0.0) == (APART, 0.0)
    assert look_up.py_func(tables, 0, 0.0, -1e6) == (APART, 0.0)


def test_the_cells_asked_are_those_that_the_edge_of_the_no_fit_region_passes():
    packed = pack(problem(turns=HALVES))
    tables = packed.shapes.tables
    table = int(tables.table_of_pair[2, 2])
    columns, rows = int(tables.columns[table]), int(tables.rows[table])
    start = int(tables.cell_start[table])
    verdicts = tables.verdict[start : start + columns * rows].reshape(rows, columns)
    # A bar against itself: the no-fit region is a box of twice its sides, and that is the whole table.
    size = 1.0 / tables.cells_per_mm[table]
    assert abs(columns * size - 240.0) < 2.0 * size
    assert (verdicts[rows // 2, 2:-2] == HIT).all()
    assert shapely.box(0, 0, columns, rows).area == verdicts.size
    assert (verdicts[0] != HIT).all()
