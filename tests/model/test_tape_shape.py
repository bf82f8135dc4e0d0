"""A hide's shape from tape figures: what was taped is kept, the rest follows the family."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.model.anatomy import ANATOMY
from nestplan.model.tape_shape import hide_template


def test_measured_widths_are_met_at_their_places() -> None:
    hide = hide_template(
        "cow-hide", length=2400.0, widths=[(600.0, 1700.0), (1200.0, 1600.0), (1800.0, 1750.0)]
    )
    outline = shapely.Polygon(hide.ring)
    for place, width in ((600.0, 1700.0), (1200.0, 1600.0), (1800.0, 1750.0)):
        chord = outline.intersection(shapely.LineString([(place, -5000), (place, 5000)]))
        assert chord.length == pytest.approx(width, abs=1e-6)


def test_goat_and_deer_ask_for_a_size_since_none_is_published() -> None:
    for kind in ("goat", "deer"):
        with pytest.raises(InputError, match="area or its length"):
            hide_template(kind)
        assert hide_template(kind, length=1000.0).length == 1000.0


@pytest.mark.parametrize(
    "asked", [{"length": -1.0}, {"area": float("nan")}, {"length": 100.0, "widths": [(200.0, 5.0)]}]
)
def test_impossible_measures_are_refused(asked: dict[str, object]) -> None:
    with pytest.raises(InputError):
        hide_template("cow-side", **asked)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", sorted(ANATOMY))
def test_length_and_area_alone_are_both_kept(kind: str) -> None:
    length = 0.9 * (ANATOMY[kind].length or 1100.0)
    usual = hide_template(kind, length=length)
    hide = hide_template(kind, length=length, area=1.1 * usual.area)
    assert hide.length == pytest.approx(length)
    assert hide.area == pytest.approx(1.1 * usual.area)


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(sorted(ANATOMY)),
    taped=st.lists(
        st.tuples(st.integers(0, 50), st.floats(5.0, 900.0)),
        min_size=1,
        max_size=8,
        unique_by=lambda width: width[0],
    ),
    area=st.one_of(st.none(), st.floats(2e5, 1.2e6)),
)
def test_whatever_is_taped_the_outline_is_a_simple_ring_with_its_regions_inside(
    kind: str, taped: list[tuple[float, float]], area: float | None
) -> None:
    length = 0.9 * (ANATOMY[kind].length or 1100.0)
    hide = hide_template(
        kind, length=length, widths=[(at / 50 * length, width) for at, width in taped], area=area
    )
    outline = shapely.Polygon(hide.ring)
    assert outline.is_valid
    assert outline.exterior.is_ccw
    assert outline.area == pytest.approx(hide.area)
    for region in hide.regions:
        assert shapely.Polygon(region.ring).difference(outline).area < 1e-6 * outline.area
    assert np.ptp(hide.ring[:, 0]) == pytest.approx(length)
