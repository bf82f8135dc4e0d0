"""Hides from tape figures: area, length and widths come out as given; regions cover the hide."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.intake.measured import HIDE_KINDS, measured_hide
from nestplan.model.rules import zones_of

FT2 = MM2_PER_FT2


@pytest.mark.parametrize("kind", sorted(HIDE_KINDS))
def test_every_kind_is_scaled_to_the_area_the_seller_states(kind: str) -> None:
    hide = measured_hide(kind, name="a", area=9.25 * FT2)
    assert hide.gross_area == pytest.approx(9.25 * FT2, rel=1e-6)
    assert hide.stated_area == pytest.approx(9.25 * FT2)
    assert hide.backbone_angle == 180.0
    assert hide.stretch_axis == 90.0
    assert sum(zone.area.area for zone in zones_of(hide)) == pytest.approx(hide.gross_area, rel=1e-6)
    assert hide.origin is not None
    assert hide.origin.how == "measured"
    assert "9.25 ft²" in hide.origin.note


@pytest.mark.parametrize(
    "word", ["side", "double shoulder", "bend", "belly", "goat", "sheep", "deer", "calf"]
)
def test_the_trades_words_are_understood(word: str) -> None:
    assert measured_hide(word, name="a", area=5 * FT2).leather


@pytest.mark.parametrize("kind", ["goat", "deer"])
def test_no_area_is_made_up_where_no_figure_was_found(kind: str) -> None:
    with pytest.raises(InputError, match="No usual area") as caught:
        measured_hide(kind, name="a")
    assert caught.value.place == "area"


def test_the_belly_is_loose_and_stretches_all_ways() -> None:
    hide = measured_hide("side", name="a")
    grades = {region.name: (region.firmness, region.stretch) for region in hide.regions}
    assert grades["belly"] == (1, "all")
    assert grades["bend"] == (5, 90.0)
    assert grades["bend"][0] > grades["shoulder"][0] > grades["neck"][0] > grades["belly"][0]


@settings(max_examples=30, deadline=None)
@given(
    length=st.floats(1500, 3000),
    shares=st.lists(st.tuples(st.floats(0.1, 0.9), st.floats(0.25, 0.5)), min_size=1, max_size=4),
)
def test_measured_widths_are_kept_where_no_area_forces_them(
    length: float, shares: list[tuple[float, float]]
) -> None:
    places = [share for share, _ in shares]
    if len(places) > 1 and min(np.diff(sorted(places))) < 0.08:
        return
    widths = [(at * length, wide * length) for at, wide in shares]
    hide = measured_hide("side", name="a", length=length, widths=widths)
    outline = shapely.Polygon(hide.ring)
    assert np.ptp(hide.ring[:, 0]) == pytest.approx(length)
    for at, wide in widths:
        found = outline.intersection(shapely.LineString([(at, -9e4), (at, 9e4)])).length
        # Between two of the template's stations the edge is straight, so a width there is near, not exact.
        assert found == pytest.approx(wide, rel=0.03)


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"area": 0.0}, "area"),
        ({"area": 1e12}, "area"),
        ({"length": -5.0}, "length"),
        ({"length": float("nan")}, "length"),
        ({"widths": [(9e9, 100.0)]}, "widths"),
        ({"widths": [(100.0, -1.0)]}, "widths"),
    ],
)
def test_figures_that_cannot_be_are_refused(changes: dict[str, object], place: str) -> None:
    with pytest.raises(InputError) as caught:
        measured_hide("side", name="a", **changes)  # type: ignore[arg-type]
    assert caught.value.place == place


def test_an_unknown_kind_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError) as caught:
        measured_hide("dragon", name="a")
    assert "cow-side" in caught.value.mend
