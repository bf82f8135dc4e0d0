"""Lefts and rights brought together on the leather: nearer, at a price, and nothing else is lost."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, MateGroup, PlacementOption, Poses, Problem
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.mates import OTHER_HIDE, bring_mates_together, distances_of_mates

BOX = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]])
BLOCK = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [0.0, 60.0]])
LEFT = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 30.0], [40.0, 60.0], [0.0, 60.0]])
RIGHT = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [40.0, 60.0], [0.0, 30.0]])
WIDE = shapely.box(0, 0, 1000, 130)


def layout_of(
    placed: list[tuple[np.ndarray, int, float, float]],
    *fields: shapely.Polygon,
    fixed: tuple[tuple[int, np.ndarray], ...] = (),
) -> Layout:
    """Items (ring, field, x, y) where they lie, unturned; every one may lie on every field at every turn."""
    items = tuple(
        Item(
            ring,
            kind,
            tuple(
                PlacementOption(f, Turns.any(), (Containment(ring, field),)) for f, field in enumerate(fields)
            ),
        )
        for kind, (ring, *_) in enumerate(placed)
    )
    layout = Layout(Problem(fields, items, fixed), seed=1)
    poses = Poses.none(len(items))
    for number, (_, field, x, y) in enumerate(placed):
        poses.field[number], poses.x[number], poses.y[number] = field, x, y
    place_poses(layout, poses)
    assert layout.feasible()
    return layout


def test_a_right_is_laid_beside_its_left_where_there_is_room() -> None:
    layout = layout_of([(LEFT, 0, 1.0, 1.0), (RIGHT, 0, 900.0, 1.0)], WIDE)
    groups = [MateGroup((0,), (1,))]
    assert distances_of_mates(layout, groups) == [pytest.approx(819.0, abs=0.1)]
    assert bring_mates_together(layout, groups, price=20.0, useful_width=50.0)
    assert layout.feasible()
    assert distances_of_mates(layout, groups)[0] < 10.0


def test_a_neighbour_makes_room_and_takes_the_place_left() -> None:
    """A row of blocks with no gap as wide as a piece: the pair lies at its ends."""
    row = [(BLOCK, 0, 86.0 + 85.0 * place, 1.0) for place in range(4)]
    field = shapely.box(0, 0, 508, 62)
    layout = layout_of([(LEFT, 0, 1.0, 1.0), (RIGHT, 0, 426.0, 1.0), *row], field)
    groups = [MateGroup((0,), (1,))]
    assert bring_mates_together(layout, groups, price=1000.0, useful_width=50.0)
    assert layout.feasible()
    assert layout.placed().all()
    assert distances_of_mates(layout, groups)[0] < 15.0


def test_mates_on_two_hides_come_onto_one_in_use_and_not_onto_an_empty_one() -> None:
    fields = (shapely.box(0, 0, 90, 70), shapely.box(0, 0, 400, 130), shapely.box(0, 0, 900, 900))
    layout = layout_of([(LEFT, 0, 1.0, 1.0), (RIGHT, 1, 300.0, 1.0)], *fields)
    groups = [MateGroup((0,), (1,))]
    assert distances_of_mates(layout, groups) == [OTHER_HIDE]
    assert bring_mates_together(layout, groups, price=20.0, useful_width=50.0)
    assert layout.fields().tolist() == [1, 1]
    assert distances_of_mates(layout, groups)[0] < 15.0


def test_what_would_cost_more_offcut_than_it_is_worth_is_left() -> None:
    """The left lies in the middle of a clear field: its right beside it would spoil more of that than the old place
    gives back, which is narrower than the useful width."""
    field = shapely.union_all([shapely.box(0, 0, 600, 300), shapely.box(595, 0, 900, 62)])
    placed = [(LEFT, 0, 1.0, 1.0), (RIGHT, 0, 815.0, 1.0)]
    groups = [MateGroup((0,), (1,))]
    cheap, dear = (layout_of(placed, field) for _ in range(2))
    assert not bring_mates_together(cheap, groups, price=0.001, useful_width=70.0)
    assert bring_mates_together(dear, groups, price=1000.0, useful_width=70.0)


def test_mates_of_what_is_fixed_come_to_it() -> None:
    layout = layout_of([(RIGHT, 0, 900.0, 1.0)], WIDE, fixed=((0, LEFT + np.array([10.0, 5.0])),))
    groups = [MateGroup((1,), (0,))]
    assert bring_mates_together(layout, groups, price=20.0, useful_width=50.0)
    assert distances_of_mates(layout, groups)[0] < 10.0


def test_the_same_seed_gives_the_same_and_a_stop_leaves_all_as_it_was() -> None:
    def moved(seed: int, stopped: bool = False) -> Poses:
        layout = layout_of([(LEFT, 0, 1.0, 1.0), (RIGHT, 0, 900.0, 1.0), (BOX, 0, 300.0, 30.0)], WIDE)
        groups = [MateGroup((0,), (1,))]
        bring_mates_together(layout, groups, price=20.0, useful_width=50.0, seed=seed, stop=lambda: stopped)
        return layout.poses()

    assert (moved(3).x == moved(3).x).all()
    assert moved(3, stopped=True).x.tolist() == [1.0, 900.0, 300.0]


def test_what_has_no_place_has_no_mate() -> None:
    layout = layout_of([(LEFT, 0, 1.0, 1.0), (RIGHT, 0, 500.0, 1.0)], WIDE)
    layout.lift(1)
    groups = [MateGroup((0,), (1,))]
    assert distances_of_mates(layout, groups) == []
    assert not bring_mates_together(layout, groups, price=20.0, useful_width=50.0)
