"""Placing, judging and taking back poses on a layout."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Pose, Turns
from nestplan.nesting.arrays.layout import Layout, ShapePose
from nestplan.nesting.problem import Containment, Item, PlacementOption, Poses, Problem
from nestplan.nesting.search.insertion import place_poses

FIELD = Polygon(
    [(0, 0), (300, 0), (330, 150), (300, 300), (0, 300), (40, 150)],
    [[(140, 140), (140, 160), (160, 160), (160, 140)]],
)
ELL = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 20.0], [20.0, 20.0], [20.0, 60.0], [0.0, 60.0]])


def ell_layout(*, turns: Turns | None = None, flipping: bool = False) -> Layout:
    """Three L-shaped items on a six-sided field with one hole and a fixed square in its corner."""
    turns = Turns.any() if turns is None else turns
    leave = [PlacementOption(0, turns, (Containment(ELL, FIELD),))]
    if flipping:
        mirrored = ELL[::-1] * (-1.0, 1.0)
        leave.append(PlacementOption(0, turns, (Containment(mirrored, FIELD),), flipped=True))
    item = Item(ELL, 0, tuple(leave))
    square = np.array([[250.0, 20.0], [280.0, 20.0], [280.0, 50.0], [250.0, 50.0]])
    return Layout(Problem((FIELD,), (item, item, item), ((0, square),)), seed=3)


def at(layout: Layout, item: int, x: float, y: float, angle: float = 0.0, leave: int = 0) -> ShapePose:
    return layout.shape_pose(layout.options_of(item)[leave], x, y, angle)


def fits(layout: Layout, item: int, pose: ShapePose) -> bool:
    """Whether an item would lie at a pose without overlap, within its areas, limits and turns."""
    turns = layout.problem.items[item].options[layout.options_of(item).index(pose.option)].turns
    return turns.contains(pose.angle) and layout.loss_at(item, pose, 0.0) == 0.0


def test_a_pose_that_fits_has_no_loss_and_one_that_overlaps_has_some():
    layout = ell_layout()
    layout.place(0, at(layout, 0, 60.0, 20.0))
    assert layout.feasible()
    assert layout.loss_at(1, at(layout, 1, 70.0, 30.0)) > 0.0
    assert fits(layout, 1, at(layout, 1, 150.0, 20.0))


def test_an_item_in_the_nook_of_another_fits():
    layout = ell_layout()
    layout.place(0, at(layout, 0, 60.0, 20.0))
    assert fits(layout, 1, at(layout, 1, 80.01, 40.01))
    assert not fits(layout, 1, at(layout, 1, 79.9, 40.01))


def test_a_hole_in_the_field_is_no_place_even_when_it_lies_wholly_inside_the_ring():
    layout = ell_layout()
    big = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]])
    item = Item(big, 0, (PlacementOption(0, Turns.any(), (Containment(big, FIELD),)),))
    layout = Layout(Problem((FIELD,), (item,)))
    assert layout.loss_at(0, at(layout, 0, 110.0, 110.0)) > 0.0
    assert fits(layout, 0, at(layout, 0, 180.0, 110.0))


def test_a_fixed_ring_is_never_overlapped():
    layout = ell_layout()
    assert not fits(layout, 0, at(layout, 0, 230.0, 30.0))


def test_a_turn_that_is_not_allowed_does_not_fit():
    layout = ell_layout(turns=Turns.of([(0.0, 0.0), (90.0, 100.0)]))
    assert fits(layout, 0, at(layout, 0, 100.0, 50.0))
    assert fits(layout, 0, at(layout, 0, 150.0, 50.0, 95.0))
    assert not fits(layout, 0, at(layout, 0, 150.0, 50.0, 45.0))


def test_a_limit_keeps_items_on_its_near_side():
    layout = ell_layout()
    layout.set_limit(0, (0.6, 0.8), 150.0)
    assert not fits(layout, 0, at(layout, 0, 100.0, 60.0))
    assert fits(layout, 0, at(layout, 0, 60.0, 20.0))
    layout.set_limit(0, (0.0, 0.0), np.inf)
    assert fits(layout, 0, at(layout, 0, 100.0, 60.0))


def test_losses_on_record_are_those_of_a_fresh_reckoning():
    layout = ell_layout()
    rng = np.random.default_rng(2)
    for _ in range(50):
        item = int(rng.integers(3))
        if rng.random() < 0.2:
            layout.lift(item)
        else:
            x, y, angle = rng.uniform(0, 300), rng.uniform(0, 300), rng.uniform(0, 360)
            layout.place(item, at(layout, item, x, y, angle))
        fresh = ell_layout()
        fresh.restore(layout.snapshot())
        assert fresh.total_loss() == pytest.approx(layout.total_loss(), rel=1e-5)


def test_a_snapshot_brings_every_pose_back():
    layout = ell_layout()
    layout.place(0, at(layout, 0, 60.0, 20.0, 10.0))
    layout.place(2, at(layout, 2, 160.0, 180.0, 200.0))
    kept, before = layout.snapshot(), layout.poses()
    layout.lift(0)
    layout.place(1, at(layout, 1, 100.0, 100.0))
    layout.restore(kept)
    after = layout.poses()
    assert np.array_equal(before.field, after.field)
    assert np.array_equal(before.x, after.x)
    assert list(layout.placed()) == [True, False, True]


def test_poses_go_out_and_in_unchanged_also_flipped():
    layout = ell_layout(flipping=True)
    poses = Poses.none(3)
    poses.field[:2] = 0
    poses.flipped[1] = True
    poses.x[:2], poses.y[:2], poses.angle[:2] = (60.0, 220.0), (20.0, 180.0), (30.0, 250.0)
    place_poses(layout, poses)
    out = layout.poses()
    for name in ("x", "y", "angle"):
        assert getattr(out, name)[:2] == pytest.approx(getattr(poses, name)[:2])
    assert out.flipped[1]
    want = Pose(220.0, 180.0, 250.0, mirrored=True).apply(ELL)
    got = out.ring_of(layout.problem.items[1], 1)
    assert Polygon(got).symmetric_difference(Polygon(want)).area < 1e-6


def test_a_copy_shares_nothing_that_changes():
    layout = ell_layout()
    layout.place(0, at(layout, 0, 60.0, 20.0))
    twin = layout.copy(seed=9)
    twin.place(0, at(twin, 0, 150.0, 200.0))
    assert layout.pose_of(0) != twin.pose_of(0)
    assert shapely.box(*layout.state.body_box[0]).area == pytest.approx(60.0**2, rel=1e-3)
