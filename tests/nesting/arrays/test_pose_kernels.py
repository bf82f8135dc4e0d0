"""Losses on record, weights, and bodies that are put and lifted."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.pose_kernels import put_body, put_items, record_losses_of, total_loss
from nestplan.nesting.arrays.records import POSES_JUDGED
from tests.nesting.arrays.small_problems import HALVES, layout


def overlapping() -> Layout:
    """Two L-shapes that overlap, and a bar that sticks out."""
    on = layout(bars=1)
    on.place(0, on.shape_pose(0, 60.0, 60.0, 0.0))
    on.place(1, on.shape_pose(1, 80.0, 80.0, 0.0))
    on.place(2, on.shape_pose(2, 400.0, 100.0, 0.0))
    return on


def test_the_total_is_the_sum_of_pairs_and_boundaries():
    on = overlapping()
    state = on.state
    assert state.pair_loss[0, 1] == state.pair_loss[1, 0] > 0.0
    assert state.boundary_loss[2] > 0.0
    pairs = float(np.triu(state.pair_loss).sum())
    assert total_loss(state) == pytest.approx(pairs + float(state.boundary_loss.sum()))


def test_a_weight_counts_in_what_a_pose_would_lose_but_not_on_record():
    on = overlapping()
    pose = on.pose_of(0)
    plain = on.loss_at(0, pose)
    on.state.pair_weight[0, 1] = on.state.pair_weight[1, 0] = 3.0
    assert on.loss_at(0, pose) == pytest.approx(3.0 * plain, rel=1e-5)
    recorded = on.total_loss()
    on.record_losses()
    assert on.total_loss() == recorded


def test_judging_ends_early_once_the_loss_passes_the_worst():
    on = overlapping()
    whole = on.loss_at(0, on.pose_of(0))
    assert 0.0 < on.loss_at(0, on.pose_of(0), 0.0) <= whole
    assert on.state.counters[POSES_JUDGED] == 2


def test_lifting_takes_all_losses_of_a_body_away():
    on = overlapping()
    on.lift(0)
    assert on.state.pair_loss[0].max() == 0.0
    assert on.state.pair_loss[:, 0].max() == 0.0
    assert on.state.field_bodies[0, : on.state.field_count[0]].tolist() == [2, 1]


def test_a_body_put_without_a_look_at_losses_leaves_the_record_as_it_was():
    on = overlapping()
    before = on.total_loss()
    put_body(on.shapes, on.state, 1, 0, 0, 300.0, 250.0, 0.0)
    assert on.total_loss() == before
    on.record_losses()
    assert on.total_loss() < before


@pytest.mark.parametrize("lifted", [True, False])
def test_items_are_put_at_once_and_those_without_an_option_stay_unless_lifted(lifted: bool):
    on = overlapping()
    poses = np.array([(-1, 150.0, 0.0, 0.0), (1, 150.0, 100.0, 0.0), (2, 150.0, 250.0, 0.0)])
    before = on.state.pair_loss.copy()
    put_items(on.shapes, on.options, on.state, np.arange(3), poses, lifted)
    assert on.placed().tolist() == [not lifted, True, True]
    assert on.pose_of(1)[1:] == (150.0, 100.0, 0.0)
    assert lifted or np.array_equal(on.state.pair_loss, before)


def test_losses_are_recorded_of_the_bodies_named_alone():
    on = overlapping()
    on.state.boundary_loss[:] = -1.0
    record_losses_of(*on.records, np.array([2]))
    assert on.state.boundary_loss[:2].tolist() == [-1.0, -1.0]
    assert on.state.boundary_loss[2] > 0.0


def test_a_turn_with_a_table_serves_all_bodies_from_one_row():
    on = layout(turns=HALVES)
    for item in (0, 1):
        on.place(item, on.shape_pose(item, 100.0 + 150.0 * item, 100.0, 180.0))
    assert on.state.row[0] == on.state.row[1] >= len(on.state.field) + 2


@pytest.mark.parametrize("seed", range(4))
def test_what_is_proved_early_of_a_pose_is_what_its_overlaps_sum_up_to(seed):
    """Against the sum over all bodies of what was recorded by placing the item there."""
    rng = np.random.default_rng(seed)
    on = layout(ells=4, bars=4)
    for item in range(on.item_count):
        option = on.options_of(item)[0]
        on.place(item, on.shape_pose(option, *rng.uniform((50.0, 50.0, 0.0), (350.0, 250.0, 360.0))))
    on.state.pair_weight[:] = rng.uniform(1.0, 3.0)
    ended_early = zero = 0
    for _ in range(150):
        item = int(rng.integers(on.item_count))
        before = on.pose_of(item)
        pose = on.shape_pose(before.option, *rng.uniform((0.0, 0.0, 0.0), (400.0, 300.0, 360.0)))
        worst = float(rng.choice([np.inf, rng.uniform(0.0, 20_000.0)]))
        loss = on.loss_at(item, pose, worst)
        on.place(item, pose)
        state = on.state
        whole = float(state.boundary_weight[item] * state.boundary_loss[item])
        whole += float((state.pair_weight[item] * state.pair_loss[item]).sum())
        on.place(item, before)
        if loss > worst:
            ended_early += 1
            assert whole > worst * (1.0 - 1e-4)
        else:
            assert loss == pytest.approx(whole, rel=1e-4)
            assert (loss == 0.0) == (whole == 0.0)
        zero += whole == 0.0
    assert ended_early > 5
    assert zero < 150
