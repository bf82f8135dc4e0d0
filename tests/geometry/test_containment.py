from __future__ import annotations

import dataclasses

import pytest
import shapely

from nestplan.geometry.containment import Containment
from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import to_polygon
from tests.small_hides import SQUARE_100


def test_a_constraint_holds_the_ring_and_the_area_it_is_given() -> None:
    area = shapely.box(0, 0, 300, 300)
    constraint = Containment(SQUARE_100, area)
    assert constraint.area.covers(to_polygon(Pose(150.0, 150.0, 45.0).apply_ring(constraint.ring)))
    assert not constraint.area.covers(to_polygon(Pose(250.0, 150.0).apply_ring(constraint.ring)))


def test_a_constraint_cannot_be_changed_and_is_equal_to_itself_only() -> None:
    constraint = Containment(SQUARE_100, shapely.box(0, 0, 300, 300))
    with pytest.raises(dataclasses.FrozenInstanceError):
        constraint.area = shapely.box(0, 0, 1, 1)  # type: ignore[misc]
    # Its arrays have no one truth value, so constraints are told apart by what they are, not by what they say.
    assert constraint != Containment(constraint.ring, constraint.area)
