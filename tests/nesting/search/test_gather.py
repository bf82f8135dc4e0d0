"""Gather: less and less of a field is used, the result is checked by GEOS and the same on one and two threads."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.gather import GatherDirection, GatherSchedule, gather, used_reach
from nestplan.nesting.search.separation import swap_large
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


def test_a_layout_that_lies_loosely_is_laid_anew_on_a_much_shorter_part_at_once():
    loose = loose_strip()
    before = used_reach(loose, GatherDirection())
    reached = {}
    for jump in (0.0, 0.16):
        layout = loose.copy(seed=1)
        told: list[float] = []
        schedule = GatherSchedule(poses_per_round=400, first_jump=jump, searches=1)
        gather(layout, GatherDirection(), share=lambda n: n / 1, on_improved=told.append, schedule=schedule)
        assert layout.feasible()
        reached[jump] = told[-1]
    assert reached[0.16] < 0.86 * before
    assert reached[0.16] < reached[0.0]


def test_what_lies_on_another_field_stays_there_and_is_not_joined():
    other = shapely.box(0.0, 0.0, 900.0, 900.0)
    items = []
    for kind, (ring, count) in enumerate(((ELL, 12), (TRIANGLE, 8))):
        options = tuple(
            PlacementOption(field, Turns.any(), (Containment(ring, area),))
            for field, area in enumerate((STRIP, other))
        )
        items += [Item(ring, kind, options)] * count
    problem = Problem((STRIP, other), tuple(items))
    layout = lay_loosely(Layout(problem, seed=1), GatherDirection(), seed=1)
    fields, before = layout.fields().tolist(), layout.snapshot()
    assert min(fields.count(0), fields.count(1)) > 3
    gather(layout, GatherDirection(), share=lambda n: n / 40, seed=2, schedule=SCHEDULE)
    assert layout.fields().tolist() == fields
    after, stays = layout.snapshot(), np.array(fields) == 1
    assert np.array_equal(before.x[stays], after.x[stays])
    assert not np.array_equal(before.x[~stays], after.x[~stays])


def test_large_items_change_places_on_the_gathered_field_alone(monkeypatch: pytest.MonkeyPatch):
    # Two boxes nearly fill their strip, so that further steps fail and are tried again; what is large lies elsewhere.
    strip, other = shapely.box(0.0, 0.0, 210.0, 100.0), shapely.box(0.0, 0.0, 2000.0, 400.0)
    boxes = [(99.0, 99.0, strip, 0)] * 2 + [(wide, 300.0, other, 1) for wide in (290.0, 310.0, 330.0)]
    items = []
    for kind, (wide, high, area, field) in enumerate(boxes):
        ring = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]])
        items.append(Item(ring, kind, (PlacementOption(field, Turns.none(), (Containment(ring, area),)),)))
    layout = Layout(Problem((strip, other), tuple(items)), seed=1)
    for item, x in enumerate((0.5, 100.5, 100.0, 700.0, 1300.0)):
        layout.place(item, layout.shape_pose(layout.options_of(item)[0], x, 0.5, 0.0))
    assert layout.feasible()
    moved: list[int] = []

    def swap_and_note(shaken: Layout, rng: np.random.Generator) -> bool:
        before = shaken.snapshot()
        swapped = swap_large(shaken, rng)
        after = shaken.snapshot()
        moved.extend(np.flatnonzero((before.x != after.x) | (before.y != after.y)).tolist())
        return swapped

    monkeypatch.setattr("nestplan.nesting.search.gather.swap_large", swap_and_note)
    gather(layout, GatherDirection(), share=lambda n: n / 100, schedule=SCHEDULE)
    assert layout.feasible()
    assert set(moved) == {0, 1}
