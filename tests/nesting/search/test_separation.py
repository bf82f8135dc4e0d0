"""Separate: removing overlap, keeping what is locked, inserting or undoing, stopping, and being repeatable."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.separation import SeparationEffort, swap_large
from tests.separating import insert, separate

FIELD = Polygon(
    [(0, 0), (420, 10), (450, 200), (430, 330), (20, 340), (40, 150)],
    [[(200, 150), (200, 180), (230, 180), (230, 150)]],
)
ELL = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 30.0], [30.0, 30.0], [30.0, 90.0], [0.0, 90.0]])
BAR = np.array([[0.0, 0.0], [120.0, 0.0], [120.0, 25.0], [0.0, 25.0]])


def pile(*, seed: int = 1, turns: Turns | None = None, ells: int = 7, bars: int = 5) -> Layout:
    """L-shapes and bars, all thrown on the same spot of a field with a hole."""
    turns = Turns.any() if turns is None else turns
    items = [Item(ELL, 0, (PlacementOption(0, turns, (Containment(ELL, FIELD),)),))] * ells
    items += [Item(BAR, 1, (PlacementOption(0, turns, (Containment(BAR, FIELD),)),))] * bars
    layout = Layout(Problem((FIELD,), tuple(items)), seed=seed)
    for item in range(layout.item_count):
        layout.place(item, layout.shape_pose(layout.options_of(item)[0], 100.0, 100.0, turns.nearest(0.0)))
    return layout


def worst_overlap(layout: Layout) -> float:
    """Largest overlap or protrusion by GEOS, mm²."""
    poses = layout.poses()
    rings = [
        Polygon(poses.ring_of(item, k)) for k, item in enumerate(layout.problem.items) if poses.field[k] >= 0
    ]
    overlaps = [a.intersection(b).area for k, a in enumerate(rings) for b in rings[:k]]
    return max([*overlaps, *(ring.difference(FIELD).area for ring in rings)])


@pytest.mark.parametrize("turns", [Turns.any(), Turns.of([(0.0, 0.0), (90.0, 90.0), (180.0, 180.0)])])
def test_a_pile_is_spread_until_nothing_overlaps_by_geos(turns: Turns):
    layout = pile(turns=turns)
    assert layout.total_loss() > 0.0
    assert separate(layout, poses=3_000_000)
    assert layout.feasible()
    assert worst_overlap(layout) < 1e-6
    poses = layout.poses()
    assert all(turns.contains(float(angle)) for angle in poses.angle)


def test_the_same_seed_and_number_of_poses_give_the_same_layout():
    outcomes = []
    for _ in range(2):
        layout = pile(seed=4)
        separate(layout, poses=60_000)
        outcomes.append(layout.poses())
    assert np.array_equal(outcomes[0].x, outcomes[1].x)
    assert np.array_equal(outcomes[0].angle, outcomes[1].angle)


def test_items_that_are_not_active_stay_where_they_are():
    layout = pile(ells=4, bars=2)
    still = layout.pose_of(0)
    active = np.ones(layout.item_count, bool)
    active[0] = False
    layout.state.movable[:] = active
    assert separate(layout, poses=3_000_000)
    assert layout.pose_of(0) == still


def test_a_hopeless_pile_is_given_up_with_the_least_loss_found():
    layout = pile(ells=25, bars=0)
    before = layout.total_loss()
    assert not separate(layout, poses=400_000, effort=SeparationEffort(passes_without_gain=20, stalls=1))
    assert 0.0 < layout.total_loss() < before


def test_stop_ends_the_run_and_is_told_the_least_loss():
    layout = pile(ells=25, bars=0)
    told: list[float] = []

    def stop(least: float) -> bool:
        told.append(least)
        return len(told) >= 2

    assert not separate(layout, stop=stop, poses_between_stops=2_000)
    assert len(told) == 2
    assert 0.0 < told[1] <= told[0]


def test_inserting_one_more_item_keeps_it_or_leaves_all_as_it_was():
    layout = pile(ells=7, bars=5)
    for item in (5, 6):
        layout.lift(item)
    assert separate(layout, poses=3_000_000)
    assert insert(layout, 5, poses=3_000_000)
    assert layout.feasible()
    assert layout.placed()[5]
    crowded = pile(ells=25, bars=0)
    for item in range(5, 25):
        crowded.lift(item)
    assert separate(crowded, poses=3_000_000)
    kept = 5
    while kept < 25 and insert(
        crowded, kept, poses=150_000, effort=SeparationEffort(passes_without_gain=20, stalls=1)
    ):
        kept += 1
    assert kept < 25, "25 L-shapes are more than the field's area"
    assert crowded.feasible()
    assert int(crowded.placed().sum()) == kept


def test_two_large_items_of_different_kinds_change_places():
    layout = pile(ells=1, bars=1)
    layout.place(1, layout.shape_pose(1, 250.0, 250.0, 0.0))
    first, second = layout.pose_of(0), layout.pose_of(1)
    assert swap_large(layout, np.random.default_rng(0))
    assert layout.pose_of(0)[1:3] == pytest.approx(second[1:3])
    assert layout.pose_of(1)[1:3] == pytest.approx(first[1:3])


def test_items_of_one_kind_are_not_swapped():
    assert not swap_large(pile(ells=5, bars=0), np.random.default_rng(0))


def test_fields_are_changed_where_one_is_too_small():
    small, large = shapely.box(0, 0, 100, 100), shapely.box(0, 0, 500, 200)
    square = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]])
    leave = tuple(
        PlacementOption(k, Turns.any(), (Containment(square, field),))
        for k, field in enumerate((small, large))
    )
    layout = Layout(Problem((small, large), (Item(square, 0, leave),) * 6), seed=2)
    for item in range(6):
        layout.place(item, layout.shape_pose(layout.options_of(item)[0], 10.0, 10.0, 0.0))
    assert separate(layout, poses=3_000_000)
    assert sorted(layout.poses().field.tolist()) == [0, 1, 1, 1, 1, 1]
