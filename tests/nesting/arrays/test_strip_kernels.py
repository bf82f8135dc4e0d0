"""Rows across a polygon against GEOS, and stacks of rows against all there are."""

from __future__ import annotations

import itertools

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nesting.arrays.strip_kernels import best_stack, count_rows, free_intervals
from tests.nesting.arrays.small_problems import FIELD

EDGES = np.vstack(
    [
        np.hstack([points[:-1], points[1:]])
        for points in map(shapely.get_coordinates, (FIELD.exterior, FIELD.interiors[0]))
    ]
)


def intervals(low: float, high: float) -> list[tuple[float, float]]:
    out = np.empty((len(EDGES) + 1, 2))
    return [tuple(row) for row in out[: free_intervals(EDGES, low, high, out)].tolist()]


def test_free_intervals_are_the_longest_boxes_of_a_row_that_the_area_covers():
    for low in np.linspace(0.5, 320.0, 40):
        found = intervals(low, low + 12.0)
        for start, end in found:
            assert FIELD.buffer(1e-6).covers(shapely.box(start, low, end, low + 12.0))
            if end - start > 1.0:
                assert not FIELD.covers(shapely.box(start - 0.5, low, end + 0.5, low + 12.0))
        for x in np.linspace(0.0, 450.0, 90):
            column = shapely.LineString([(x, low), (x, low + 12.0)])
            clear = FIELD.buffer(-1e-3).covers(column)
            assert not clear or any(start - 1e-6 <= x <= end + 1e-6 for start, end in found)


def test_a_row_beside_the_hole_has_two_intervals():
    assert len(intervals(155.0, 165.0)) == 2
    assert len(intervals(190.0, 200.0)) == 1


def test_rows_hold_as_many_strips_as_their_intervals():
    counts = np.zeros(30, np.int64)
    count_rows(EDGES, 1.0, 10.0, 30, 12.0, 60.0, counts)
    for k, count in enumerate(counts.tolist()):
        low = 1.0 + 10.0 * k
        assert count == sum(int((end - start + 1e-5) / 60.0) for start, end in intervals(low, low + 12.0))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 4), min_size=1, max_size=9), st.integers(1, 3))
def test_the_best_stack_holds_as_many_strips_as_any(counts: list[int], stride: int) -> None:
    chosen = np.zeros(len(counts), np.bool_)
    total = best_stack(np.array(counts, np.int64), stride, chosen)
    rows = np.flatnonzero(chosen)
    assert (np.diff(rows) >= stride).all()
    assert total == sum(counts[k] for k in rows)
    stacks = itertools.chain.from_iterable(
        itertools.combinations(range(len(counts)), n) for n in range(len(counts) + 1)
    )
    apart = [s for s in stacks if all(b - a >= stride for a, b in itertools.pairwise(s))]
    assert total == max(sum(counts[k] for k in s) for s in apart)
