"""Laying anew below a limit: what lies there lies below it by GEOS, the rest is told, other fields stay as they are."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.construct.lay_below import LayingBelow
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem

STRIP = shapely.box(0.0, 0.0, 1200.0, 300.0)
OTHER = shapely.Point(200.0, 200.0).buffer(200.0)
BAR = np.array([[0.0, 0.0], [140.0, 0.0], [140.0, 60.0], [0.0, 60.0]])
TRIANGLE = np.array([[0.0, 0.0], [120.0, 0.0], [30.0, 80.0]])


def spread_layout() -> Layout:
    """Eight bars and six triangles at any turn, far apart on a strip; one bar more on another field."""
    items = []
    for kind, (ring, count) in enumerate(((BAR, 9), (TRIANGLE, 6))):
        options = tuple(
            PlacementOption(field, Turns.any(), (Containment(ring, area),))
            for field, area in enumerate((STRIP, OTHER))
        )
        items += [Item(ring, kind, options)] * count
    layout = Layout(Problem((STRIP, OTHER), tuple(items)), seed=1)
    for item in range(15):
        on_other = item == 8
        option = layout.options_of(item)[1 if on_other else 0]
        column, row = divmod(item if item < 8 else item - 1, 2)
        x, y = (130.0, 170.0) if on_other else (5.0 + 165.0 * column, 20.0 + 150.0 * row)
        layout.place(item, layout.shape_pose(option, x, y, 0.0))
    assert layout.feasible()
    return layout


def test_what_is_laid_anew_lies_below_the_limit_and_apart() -> None:
    layout = spread_layout()
    laying = LayingBelow(layout, 0, (1.0, 0.0))
    poses, left = laying.lay(520.0, 3, np.random.default_rng(1), lambda _: False)
    assert left == []
    rings = [Polygon(poses.ring_of(item, k)) for k, item in enumerate(layout.problem.items)]
    here = [ring for k, ring in enumerate(rings) if poses.field[k] == 0]
    assert len(here) == 14
    room = shapely.box(0.0, 0.0, 520.0, 300.0)
    assert max(ring.difference(room).area for ring in here) < 1e-6
    assert max(a.intersection(b).area for k, a in enumerate(here) for b in here[:k]) < 1e-6
    assert (poses.field[8], poses.x[8], poses.y[8]) == (1, 130.0, 170.0)


def test_a_slanting_limit_cuts_the_field() -> None:
    laying = LayingBelow(spread_layout(), 0, (0.6, 0.8))
    poses, _ = laying.lay(520.0, 3, np.random.default_rng(1), lambda _: False)
    for k, item in enumerate(laying.prepared.problem.items):
        if poses.field[k] == 0:
            assert (poses.ring_of(item, k) @ (0.6, 0.8)).max() < 520.0 + 1e-6


def test_what_finds_no_place_is_told_and_an_area_too_small_is_known() -> None:
    laying = LayingBelow(spread_layout(), 0, (1.0, 0.0))
    poses, left = laying.lay(280.0, 3, np.random.default_rng(1), lambda _: False)
    assert left
    assert all(poses.field[item] == -1 for item in left)
    assert 0.0 < laying.share_of(left) < 1.0
    # Eight bars and six triangles have 96,000 mm².
    assert not laying.has_area(319.0)
    assert laying.has_area(321.0)


def test_orders_by_chance_give_other_layouts_and_the_same_chance_the_same() -> None:
    laying = LayingBelow(spread_layout(), 0, (1.0, 0.0))
    first, second, third = (
        laying.lay(600.0, seed, np.random.default_rng(seed), lambda _: False)[0] for seed in (1, 1, 2)
    )
    assert np.array_equal(first.x, second.x)
    assert not np.array_equal(first.x, third.x)
