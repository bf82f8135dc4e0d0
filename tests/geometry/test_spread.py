"""A spread panel grows by what was asked, and keeps its sides, its straight edges and the flow of its curves."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import RuleError
from nestplan.geometry.edge_line import line_length
from nestplan.geometry.sides import SIDE_NAMES
from nestplan.geometry.spread import Spread, SpreadRing

PANEL = np.array([[0.0, 0.0], [200.0, -10.0], [220.0, 180.0], [110.0, 150.0], [-20.0, 180.0]])
NOTHING = Spread(0.0)
changes = st.floats(-60, 120)
lines = st.sampled_from(((0.25, 0.75), (0.5,), (0.25,), (0.75,)))


def oval(points: int) -> np.ndarray:
    turns = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    return np.column_stack((90.0 * np.cos(turns), 60.0 * np.sin(turns)))


def turn_at_points(ring: np.ndarray) -> np.ndarray:
    along = np.roll(ring, -1, axis=0) - ring
    before = np.roll(along, 1, axis=0)
    return np.arctan2(before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0], (before * along).sum(axis=1))


@given(changes, changes, st.sampled_from((PANEL, oval(240))))
def test_it_grows_by_what_was_asked_and_stays_whole(wider: float, longer: float, ring: np.ndarray) -> None:
    wider, longer = max(wider, -40.0), max(longer, -25.0)
    spread = SpreadRing(ring, Spread(wider), Spread(longer))
    assert np.ptp(spread.ring, axis=0) == pytest.approx(np.ptp(ring, axis=0) + np.array((wider, longer)))
    assert spread.ring.min(axis=0) == pytest.approx(ring.min(axis=0))
    assert shapely.Polygon(spread.ring).is_valid


@given(changes, lines)
def test_wider_keeps_the_upright_sides_and_longer_the_level_ones(
    change: float, at: tuple[float, ...]
) -> None:
    change = max(change, -25.0)
    for spread, kept in (
        (SpreadRing(PANEL, Spread(change, at), NOTHING), ("left", "right")),
        (SpreadRing(PANEL, NOTHING, Spread(change, at)), ("bottom", "top")),
    ):
        for side in kept:
            points = spread.sides.points(side)
            drawn, now = PANEL[points], spread.ring[points]
            assert np.diff(now, axis=0) == pytest.approx(np.diff(drawn, axis=0))


@given(changes, changes)
def test_a_straight_edge_stays_straight_also_with_points_on_the_way(wider: float, longer: float) -> None:
    wider, longer = max(wider, -60.0), max(longer, -60.0)
    shares = np.linspace(0.0, 1.0, 9, endpoint=False)[:, None]
    dense = np.concatenate(
        [a + shares * (b - a) for a, b in zip(PANEL, np.roll(PANEL, -1, axis=0), strict=True)]
    )
    corners = SpreadRing(PANEL, Spread(wider), Spread(longer)).ring
    assert SpreadRing(dense, Spread(wider), Spread(longer)).ring[::9] == pytest.approx(corners)
    straight = shapely.LinearRing(corners)
    assert all(
        straight.distance(shapely.Point(spot)) < 1e-6
        for spot in SpreadRing(dense, Spread(wider), Spread(longer)).ring
    )


@given(st.floats(-20, 60), st.floats(-20, 60))
def test_a_round_piece_stays_round(wider: float, longer: float) -> None:
    ring = SpreadRing(oval(240), Spread(wider), Spread(longer)).ring
    middle = (ring.min(axis=0) + ring.max(axis=0)) / 2.0
    reach = (ring - middle) / (np.ptp(ring, axis=0) / 2.0)
    assert np.hypot(*reach.T) == pytest.approx(np.ones(len(ring)))


@given(changes, changes)
def test_a_smooth_curve_has_no_corner_afterwards(wider: float, longer: float) -> None:
    """A panel with an oval top: drawn with eight times the points, its top turns about an eighth as much at each."""
    wider, longer = max(wider, -50.0), max(longer, -30.0)
    most = []
    for points in (120, 960):
        top = oval(2 * points)[: points + 1] + np.array((0.0, 150.0))
        ring = np.vstack((top, [(-90.0, 0.0), (90.0, 0.0)]))
        spread = SpreadRing(ring, Spread(wider), Spread(longer)).ring
        most.append(np.abs(turn_at_points(spread)[1:points]).max())
    assert most[1] < most[0] / 5.0


def test_corners_between_level_and_upright_edges_keep_their_angle() -> None:
    """A tab with square shoulders: 90° everywhere, before and after."""
    ring = np.array(
        [(0, 0), (160, 0), (160, 90), (110, 90), (110, 120), (50, 120), (50, 90), (0, 90)], dtype=float
    )
    spread = SpreadRing(ring, Spread(40.0), Spread(25.0))
    assert np.degrees(turn_at_points(spread.ring)) == pytest.approx(np.degrees(turn_at_points(ring)))


def test_what_is_in_the_middle_stays_there_and_what_is_at_an_edge_goes_with_it() -> None:
    ring = np.array([(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)])
    spread = SpreadRing(ring, Spread(40.0), Spread(20.0))
    assert spread.inside((100.0, 50.0)) == pytest.approx((120.0, 60.0))
    assert spread.inside((0.0, 0.0)) == pytest.approx((0.0, 0.0))
    assert spread.inside((200.0, 100.0)) == pytest.approx((240.0, 120.0))
    assert spread.from_corner("bottom", (30.0, 0.0)) == pytest.approx((30.0, 0.0))
    assert spread.from_corner("bottom", (170.0, 0.0)) == pytest.approx((210.0, 0.0))


@given(st.sampled_from(SIDE_NAMES), st.floats(-2, 2))
def test_a_side_is_made_longer_by_what_is_asked_and_the_others_stay_straight(side: str, by: float) -> None:
    spread = SpreadRing(PANEL, Spread(20.0), Spread(10.0))
    points = spread.sides.points(side)
    before = line_length(spread.ring[points])
    spread.lengthen(points, by)
    assert line_length(spread.ring[points]) - before == pytest.approx(by, abs=0.05)


def test_what_leaves_too_little_is_refused_with_what_would_do() -> None:
    with pytest.raises(RuleError, match="Take out at most"):
        SpreadRing(PANEL, Spread(-200.0), NOTHING)
