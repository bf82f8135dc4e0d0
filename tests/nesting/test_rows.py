"""Rows: many equal items start as blocks of their lattice, shorter than thrown at random, and free of overlap."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.gather import Side, used_reach
from tests.benchmarks.lattice_blocks import lay_first, lay_in_rows
from tests.benchmarks.random_start import lay_loosely

STRIP = shapely.box(0.0, 0.0, 3000.0, 400.0)
WEDGE = np.array([[300.0, 40.0], [420.0, 50.0], [400.0, 100.0], [300.0, 130.0]])
DISK = 12.0 * np.column_stack([np.cos(np.arange(12) * np.pi / 6.0), np.sin(np.arange(12) * np.pi / 6.0)])
HALVES = Turns.of([(0.0, 0.0), (180.0, 180.0)])


def job(turns: Turns, *, wedges: int = 24, disks: int = 10) -> Layout:
    """Many wedges and some small disks on a strip of 400 mm, nothing laid yet."""
    items = [Item(WEDGE, 0, (PlacementOption(0, turns, (Containment(WEDGE, STRIP),)),))] * wedges
    items += [Item(DISK, 1, (PlacementOption(0, turns, (Containment(DISK, STRIP),)),))] * disks
    return Layout(Problem((STRIP,), tuple(items)), seed=1)


def assert_free(layout: Layout) -> None:
    """GEOS finds no overlap, nothing outside the strip and no turn that is not allowed."""
    poses = layout.poses()
    items = layout.problem.items
    rings = [Polygon(poses.ring_of(item, k)) for k, item in enumerate(items)]
    assert max(a.intersection(b).area for k, a in enumerate(rings) for b in rings[:k]) < 1e-6
    assert max(ring.difference(STRIP).area for ring in rings) < 1e-6
    assert all(item.options[0].turns.contains(float(poses.angle[k])) for k, item in enumerate(items))


def test_rows_are_shorter_than_a_random_start_and_free_of_overlap():
    for turns in (Turns.any(), HALVES):
        layout = job(turns)
        assert lay_in_rows(layout, Side())
        assert_free(layout)
        loosely = used_reach(lay_loosely(job(turns), Side()), Side())
        assert used_reach(layout, Side()) < 0.95 * loosely


def test_rows_may_begin_from_any_side():
    layout = job(Turns.any())
    assert lay_in_rows(layout, Side(0, (-1.0, 0.0)))
    assert_free(layout)
    assert used_reach(layout, Side(0, (-1.0, 0.0))) < -2000.0


def test_the_shorter_of_two_starts_is_taken():
    layout = lay_first(job(HALVES), Side(), seed=3)
    assert_free(layout)
    assert used_reach(layout, Side()) <= used_reach(lay_loosely(job(HALVES), Side(), seed=3), Side())


def test_few_items_of_each_kind_are_laid_without_rows():
    layout = job(Turns.any(), wedges=3, disks=3)
    assert lay_in_rows(layout, Side())
    assert_free(layout)
