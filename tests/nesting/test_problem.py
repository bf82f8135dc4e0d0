"""Poses of rings, against figures worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.nesting.problem import Item, Poses

CORNER = Item(np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 2.0]]), 0, ())


def pose(x: float, y: float, angle: float, *, flipped: bool = False) -> Poses:
    return Poses(np.array([x]), np.array([y]), np.array([angle]), np.array([flipped]), np.array([0]))


def test_of_poses_of_nothing_none_is_placed():
    poses = Poses.none(3)
    assert poses.field.tolist() == [-1, -1, -1]
    assert not poses.flipped.any()


def test_quarter_turns_are_exact():
    ring = pose(10.0, 20.0, 90.0).ring_of(CORNER, 0)
    assert ring.tolist() == [[10.0, 20.0], [10.0, 24.0], [8.0, 20.0]]
    assert pose(0.0, 0.0, 180.0).ring_of(CORNER, 0).tolist() == [[0.0, 0.0], [-4.0, 0.0], [0.0, -2.0]]


def test_other_turns_go_counter_clockwise():
    ring = pose(0.0, 0.0, 30.0).ring_of(CORNER, 0)
    assert ring[1] == pytest.approx([4.0 * 3.0**0.5 / 2.0, 2.0])


def test_what_is_turned_over_is_mirrored_first_and_stays_counter_clockwise():
    ring = pose(0.0, 0.0, 0.0, flipped=True).ring_of(CORNER, 0)
    assert sorted(ring.tolist()) == sorted([[0.0, 0.0], [-4.0, 0.0], [0.0, 2.0]])
    x, y = ring.T
    assert float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) > 0.0
