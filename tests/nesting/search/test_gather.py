"""Gather: less and less of a field is used, the result is checked by GEOS and the same on one and two threads."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.gather import GatherDirection, GatherSchedule, gather, used_reach
from tests.benchmarks.random_start import lay_loosely

STRIP = shapely.box(0.0, 0.0, 2000.0, 300.0)
ELL = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 30.0], [30.0, 30.0], [30.0, 90.0], [0.0, 90.0]])
TRIANGLE = np.array([[0.0, 0.0], [120.0, 0.0], [30.0, 80.0]])
SCHEDULE = GatherSchedule(poses_per_round=4_000)


def loose_strip(*, seed: int = 1, turns: Turns | None = None) -> Layout:
    """Twelve L-shapes and eight triangles laid loosely on a strip of 300 mm."""
    turns = Turns.of([(0.0, 0.0), (90.0, 90.0), (180.0, 180.0), (270.0, 270.0)]) if turns is None else turns
    items = [Item(ELL, 0, (PlacementOption(0, turns, (Containment(ELL, STRIP),)),))] * 12
    items += [Item(TRIANGLE, 1, (PlacementOption(0, turns, (Containment(TRIANGLE, STRIP),)),))] * 8
    return lay_loosely(Layout(Problem((STRIP,), tuple(items)), seed=seed), GatherDirection(), seed=seed)


def test_a_gathered_strip_is_shorter_and_free_of_overlap_by_geos():
    layout = loose_strip()
    before = used_reach(layout, GatherDirection())
    told: list[float] = []
    result = gather(
        layout, GatherDirection(), share=lambda n: n / 60, on_improved=told.append, schedule=SCHEDULE
    )
    assert layout.feasible()
    assert result.reach < 0.8 * before
    assert told == sorted(told, reverse=True)
    assert used_reach(layout, GatherDirection()) == result.reach
    poses = layout.poses()
    rings = [Polygon(poses.ring_of(item, k)) for k, item in enumerate(layout.problem.items)]
    assert max(a.intersection(b).area for k, a in enumerate(rings) for b in rings[:k]) < 1e-6
    room = shapely.box(0.0, 0.0, result.reach, 300.0)
    assert max(ring.difference(room).area for ring in rings) < 1e-6


def test_one_thread_and_two_find_the_same_poses():
    outcomes = []
    for workers in (1, 2):
        layout = loose_strip(seed=3, turns=Turns.any())
        gather(layout, GatherDirection(), share=lambda n: n / 12, seed=3, workers=workers, schedule=SCHEDULE)
        outcomes.append(layout.poses())
    assert np.array_equal(outcomes[0].x, outcomes[1].x)
    assert np.array_equal(outcomes[0].y, outcomes[1].y)
    assert np.array_equal(outcomes[0].angle, outcomes[1].angle)


def test_a_slanting_side_gathers_toward_a_corner():
    layout = loose_strip(seed=2, turns=Turns.any())
    side = GatherDirection(0, (0.6, 0.8))
    before = used_reach(layout, side)
    result = gather(layout, side, share=lambda n: n / 20, schedule=SCHEDULE)
    assert result.reach < before
    assert layout.feasible()


def test_stop_ends_at_once_with_a_feasible_layout():
    layout = loose_strip()
    result = gather(
        layout, GatherDirection(), share=lambda n: 0.0, stop=lambda reach: True, schedule=SCHEDULE
    )
    assert result.rounds == 1
    assert layout.feasible()
