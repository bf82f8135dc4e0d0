"""What is called hide lies inside the outline, what is called floor outside, wherever a person points."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.intake.photo.pointing import bound_by_seeds, check_seeds_apart
from tests.intake.photo_scenes import invented_outline

SQUARE = np.array([[0.0, 0], [1000, 0], [1000, 800], [0, 800]])
SIDE = np.asarray(shapely.orient_polygons(shapely.Polygon(invented_outline("side", 3))).exterior.coords)[:-1]
LOW, HIGH = SIDE.min(axis=0) - 100, SIDE.max(axis=0) + 100

Places = list[tuple[float, float]]


def anywhere(share: tuple[float, float]) -> tuple[float, float]:
    x, y = LOW + np.array(share) * (HIGH - LOW)
    return float(x), float(y)


def beside_the_edge(at: tuple[float, float, float]) -> tuple[float, float]:
    point = shapely.Polygon(SIDE).exterior.interpolate(at[0], normalized=True)
    return float(point.x + at[1]), float(point.y + at[2])


SHARE, OFF = st.floats(0, 1), st.floats(-25, 25)
PLACES = st.lists(
    st.tuples(SHARE, SHARE).map(anywhere) | st.tuples(SHARE, OFF, OFF).map(beside_the_edge), max_size=6
)


def hide_of(ring: np.ndarray, openings: tuple[np.ndarray, ...]) -> shapely.Polygon:
    return shapely.Polygon(ring, openings)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(hide=PLACES, floor=PLACES)
def test_every_place_called_hide_lies_inside_and_every_one_called_floor_outside(
    hide: Places, floor: Places
) -> None:
    if hide and floor:
        assume(shapely.distance(shapely.multipoints(hide), shapely.multipoints(floor)) > 1)
    found = hide_of(*bound_by_seeds(SIDE, hide, floor))
    assert found.is_valid
    assert found.exterior.is_ccw
    assert all(found.contains(shapely.Point(place)) for place in hide)
    assert not any(found.intersects(shapely.Point(place)) for place in floor)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(hide=PLACES)
def test_places_called_hide_take_nothing_away(hide: Places) -> None:
    found = hide_of(*bound_by_seeds(SIDE, hide, []))
    assert shapely.difference(shapely.Polygon(SIDE), found).area < 1e-3


def test_a_leg_that_floor_cuts_off_stays_where_it_is_called_hide() -> None:
    leg = np.array(
        [[0.0, 0], [1000, 0], [1000, 390], [1300, 390], [1300, 410], [1000, 410], [1000, 800], [0, 800]]
    )
    without = hide_of(*bound_by_seeds(leg, [], [(1100, 400)]))
    assert not without.contains(shapely.Point(1250, 400))
    kept = hide_of(*bound_by_seeds(leg, [(1250, 400)], [(1100, 400)]))
    assert kept.contains(shapely.Point(1250, 400))
    assert not kept.intersects(shapely.Point(1100, 400))


def test_a_place_between_two_called_otherwise_keeps_its_side() -> None:
    found = hide_of(*bound_by_seeds(SQUARE, [(500, 396), (500, 404)], [(500, 400)]))
    assert found.contains(shapely.Point(500, 396))
    assert found.contains(shapely.Point(500, 404))
    assert not found.intersects(shapely.Point(500, 400))
    assert found.area > 800_000 - 100


def test_one_place_called_both_is_refused() -> None:
    with pytest.raises(InputError, match="both hide and floor") as refused:
        check_seeds_apart([(10, 10), (500, 400)], [(500.2, 400)], file="hide.jpg")
    assert refused.value.file == "hide.jpg"
    assert "as hide" in refused.value.mend
    check_seeds_apart([(500, 400)], [], file="hide.jpg")
    check_seeds_apart([(500, 400)], [(503, 400)], file="hide.jpg")
