"""Tables of pairs against the tests they spare."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from tests.outside.test_collision_against_geos import star


def test_looked_up_verdicts_are_those_of_geos_at_every_turn():
    rng = np.random.default_rng(8)
    field = shapely.box(-2000.0, -2000.0, 2000.0, 2000.0)
    turns = Turns.of((angle, angle) for angle in (0.0, 90.0, 135.0, 180.0))
    rings = [star(rng) for _ in range(4)]
    items = tuple(
        Item(ring, k, (PlacementOption(0, turns, (Containment(ring, field),)),))
        for k, ring in enumerate(rings)
    )
    layout = Layout(Problem((field,), items * 2))
    assert len(layout.shapes.tables.left) > 0
    hits = 0
    for _ in range(3000):
        a, b = rng.choice(8, 2, replace=False)
        for item in (a, b):
            angle = float(rng.choice([0.0, 90.0, 135.0, 180.0]))
            x, y = rng.uniform(-70.0, 70.0, 2)
            layout.place(int(item), layout.shape_pose(layout.options_of(int(item))[0], x, y, angle))
        poses = layout.poses()
        first, second = (Polygon(poses.ring_of(layout.problem.items[k], k)) for k in (a, b))
        if first.distance(second) > 0.02 or first.intersection(second).area > 1e-6:
            assert layout.feasible() == (first.intersection(second).area == 0.0)
            hits += not layout.feasible()
        layout.lift(int(a))
        layout.lift(int(b))
    assert 500 < hits < 2900


def test_a_looked_up_loss_is_near_the_loss_it_stands_for():
    rng = np.random.default_rng(9)
    field = shapely.box(-2000.0, -2000.0, 2000.0, 2000.0)
    rings = [star(rng) for _ in range(2)]
    layouts = []
    for turns in (Turns.of([(0.0, 0.0)]), Turns.any()):
        items = tuple(
            Item(ring, k, (PlacementOption(0, turns, (Containment(ring, field),)),))
            for k, ring in enumerate(rings)
        )
        layouts.append(Layout(Problem((field,), items)))
    # The table is of all discs, of which the search at any turn compares only some.
    for layout in layouts:
        layout.shapes.compared_discs[:] = layout.shapes.disc_count
    for _ in range(300):
        x, y = rng.uniform(-60.0, 60.0, 2)
        totals = []
        for layout in layouts:
            layout.place(0, layout.shape_pose(0, 0.0, 0.0, 0.0))
            layout.place(1, layout.shape_pose(1, x, y, 0.0))
            totals.append(layout.total_loss())
        assert abs(totals[0] - totals[1]) < 0.05 * max(totals) + 20.0
