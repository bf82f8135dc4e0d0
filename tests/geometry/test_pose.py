from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, RuleError
from nestplan.geometry.pose import Pose, Turns
from nestplan.geometry.ring import signed_area
from tests.small_hides import L_SHAPE

POSES = st.builds(Pose, st.floats(-1000, 1000), st.floats(-1000, 1000), st.floats(-720, 720), st.booleans())
ANGLES = st.floats(-720, 720)
SPANS = st.tuples(st.floats(-720, 720), st.floats(0, 400)).map(lambda pair: (pair[0], pair[0] + pair[1]))
TURNS = st.lists(SPANS, max_size=4).map(Turns.of)


def test_a_pose_mirrors_first_then_turns_then_moves() -> None:
    assert Pose(10, 20, 90, mirrored=True).apply([(1, 2)]).tolist() == [[8, 19]]
    assert Pose(10, 20).apply([(1, 2)]).tolist() == [[11, 22]]


def test_quarter_turns_are_exact() -> None:
    for quarter, spot in enumerate([(3, 1), (-1, 3), (-3, -1), (1, -3)]):
        assert Pose(0, 0, 90.0 * quarter).apply([(3, 1)]).tolist() == [list(spot)]


def test_a_mirrored_ring_can_be_had_counter_clockwise() -> None:
    pose = Pose(5, 6, 30, mirrored=True)
    assert signed_area(pose.apply(L_SHAPE)) == pytest.approx(-signed_area(L_SHAPE))
    assert signed_area(pose.apply_ring(L_SHAPE)) == pytest.approx(signed_area(L_SHAPE))


@given(POSES)
def test_the_inverse_brings_every_point_back(pose: Pose) -> None:
    np.testing.assert_allclose(pose.inverse().apply(pose.apply(L_SHAPE)), L_SHAPE, atol=1e-8)


@given(POSES, POSES)
def test_poses_follow_one_another(first: Pose, second: Pose) -> None:
    joined = first.then(second)
    np.testing.assert_allclose(joined.apply(L_SHAPE), second.apply(first.apply(L_SHAPE)), atol=1e-8)
    assert 0 <= joined.angle < 360


def test_a_pose_with_a_figure_that_is_none_is_refused() -> None:
    with pytest.raises(InputError):
        Pose(math.nan, 0)


def test_turns_across_zero_are_held_on_both_sides_of_it() -> None:
    turns = Turns.around(0, 10)
    assert turns.intervals == ((0, 10), (350, 360))
    assert turns.measure == 20
    for angle in (0, 360, -10, 350, 370, 10):
        assert turns.contains(angle)
    assert not turns.contains(11)
    assert not turns.contains(349)


def test_an_axis_may_lie_either_way_about() -> None:
    assert Turns.around(90, 15, period=180).intervals == ((75, 105), (255, 285))
    assert Turns.around(90, 90, period=180) == Turns.any()
    assert Turns.around(170, 0, period=180).intervals == ((170, 170), (350, 350))


def test_turns_that_touch_become_one_and_a_turn_of_360_is_0() -> None:
    assert Turns.of([(0, 10), (10, 20), (15, 30)]).intervals == ((0, 30),)
    assert Turns.of([(360, 360)]).intervals == ((0, 0),)
    assert Turns.of([(340, 360)]).intervals == ((0, 0), (340, 360))
    assert Turns.of([(-1e-20, -1e-20)]).intervals == ((0, 0),)
    assert Turns.of([(10, 400)]) == Turns.any()


def test_no_turn_is_false_and_has_no_nearest() -> None:
    assert not Turns.none()
    assert Turns.of([(5, 5)])
    assert Turns.of([(5, 5)]).measure == 0
    with pytest.raises(RuleError):
        Turns.none().nearest(0)


def test_the_nearest_turn_is_sought_round_the_circle() -> None:
    turns = Turns.of([(10, 20), (300, 310)])
    assert turns.nearest(355) == 10
    assert turns.nearest(335) == 310
    assert turns.nearest(15) == 15
    assert turns.nearest(375) == 15
    assert Turns.of([(90, 90), (270, 270)]).nearest(0) == 90


@pytest.mark.parametrize(
    "make",
    [
        lambda: Turns.of([(20, 10)]),
        lambda: Turns.of([(math.nan, 10)]),
        lambda: Turns.around(0, -1),
        lambda: Turns.around(0, math.nan),
        lambda: Turns.around(0, 1, period=100),
        lambda: Turns.around(0, 1, period=0),
    ],
)
def test_intervals_that_are_none_are_refused(make: object) -> None:
    with pytest.raises(InputError):
        make()  # type: ignore[operator]


@given(TURNS)
def test_intervals_are_sorted_disjoint_and_within_the_circle(turns: Turns) -> None:
    ends = [end for interval in turns.intervals for end in interval]
    assert all(low <= high for low, high in turns.intervals)
    assert all(a < b for (_, a), (b, _) in zip(turns.intervals, turns.intervals[1:], strict=False))
    assert all(0 <= end <= 360 for end in ends)
    assert turns.contains(0) == turns.contains(360)


@given(TURNS, TURNS, ANGLES)
def test_sets_of_turns_agree_with_their_members(one: Turns, other: Turns, angle: float) -> None:
    both, either = one.intersect(other), one.union(other)
    in_one, in_other = one.contains(angle), other.contains(angle)
    assert either.contains(angle) == (in_one or in_other)
    if both.contains(angle):
        assert in_one
        assert in_other
    elif in_one and in_other:
        # Only within rounding of an end of either set.
        ends = [end for turns in (one, other) for interval in turns.intervals for end in interval]
        assert min(min((angle - end) % 360, (end - angle) % 360) for end in ends) < 1e-8
    assert both.measure <= min(one.measure, other.measure) + 1e-6


@given(TURNS, st.floats(-720, 720))
def test_shifting_there_and_back_changes_nothing_but_rounding(turns: Turns, degrees: float) -> None:
    back = turns.shift(degrees).shift(-degrees)
    assert back.measure == pytest.approx(turns.measure, abs=1e-6)
    assert bool(back) == bool(turns)


@given(TURNS, ANGLES)
def test_the_nearest_turn_is_allowed(turns: Turns, angle: float) -> None:
    if turns:
        near = turns.nearest(angle)
        assert 0 <= near < 360
        assert turns.contains(near)
