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
from nestplan.model import Hide
from nestplan.model.anatomy import ANATOMY
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


def width_at(hide: Hide, place: float) -> float:
    """Full width of a hide at a distance from its rear edge, mm."""
    outline = shapely.Polygon(hide.ring)
    return outline.intersection(shapely.LineString([(place, -9e4), (place, 9e4)])).length


def usual_length(kind: str) -> float:
    return ANATOMY[kind].length or 1100.0


@settings(max_examples=120, deadline=None)
@given(
    kind=st.sampled_from(sorted(HIDE_KINDS)),
    long=st.floats(0.7, 1.1),
    taped=st.lists(
        st.tuples(st.integers(5, 995), st.floats(0.6, 1.4)),
        min_size=1,
        max_size=5,
        unique_by=lambda width: width[0] // 5,
    ),
    area=st.one_of(st.none(), st.floats(0.6, 1.5)),
)
def test_the_tape_s_length_and_widths_are_kept_whatever_the_seller_says(
    kind: str, long: float, taped: list[tuple[int, float]], area: float | None
) -> None:
    length = long * usual_length(kind)
    usual = measured_hide(kind, name="usual", length=length)
    places = [(at / 1000 * length, share) for at, share in taped]
    if len(places) > 1 and min(np.diff(sorted(place for place, _ in places))) < 2.0:
        return  # A tape reads two widths so near each other as one.
    widths = [(place, share * width_at(usual, place)) for place, share in places]
    stated = None if area is None else area * usual.gross_area
    hide = measured_hide(kind, name="a", length=length, widths=widths, area=stated)
    assert np.ptp(hide.ring[:, 0]) == pytest.approx(length, abs=1.0)
    for place, width in widths:
        assert width_at(hide, place) == pytest.approx(width, abs=1.0)


def test_a_width_between_two_stations_is_kept() -> None:
    """Found by a random example: 375 mm at 0.77 of the length came out 386.5 mm wide."""
    hide = measured_hide("side", name="a", length=1500.0, widths=[(1312.5, 750.0), (1155.0, 375.0)])
    assert width_at(hide, 1155.0) == pytest.approx(375.0, abs=1e-6)
    assert width_at(hide, 1312.5) == pytest.approx(750.0, abs=1e-6)


def test_widths_taped_at_the_ends_only_do_not_blow_up_the_middle() -> None:
    usual = measured_hide("side", name="usual", length=2500.0)
    ends = [(20.0, 2.5 * width_at(usual, 20.0)), (2480.0, 1.8 * width_at(usual, 2480.0))]
    hide = measured_hide("side", name="a", length=2500.0, widths=ends)
    for place in (900.0, 1250.0, 1600.0):
        assert width_at(hide, place) == pytest.approx(width_at(usual, place), rel=0.02)


def test_one_width_across_the_middle_keeps_the_proportions_of_the_kind() -> None:
    usual = measured_hide("cow-hide", name="usual", length=2500.0)
    hide = measured_hide(
        "cow-hide", name="a", length=2500.0, widths=[(1200.0, 1.1 * width_at(usual, 1200.0))]
    )
    for place in (100.0, 500.0, 2300.0):
        assert width_at(hide, place) == pytest.approx(1.1 * width_at(usual, place), rel=1e-3)


def test_the_seller_s_area_fills_in_what_was_not_taped() -> None:
    widths = [(300.0, 800.0), (1200.0, 950.0)]
    taped = measured_hide("side", name="a", length=2500.0, widths=widths)
    for more in (0.95, 1.05):
        hide = measured_hide("side", name="a", length=2500.0, widths=widths, area=more * taped.gross_area)
        assert hide.gross_area == pytest.approx(more * taped.gross_area, rel=1e-6)
        assert hide.origin is not None
        assert "the seller" not in hide.origin.note


def test_where_tape_and_seller_disagree_both_are_said() -> None:
    widths = [(at, 800.0) for at in np.linspace(50.0, 2450.0, 13).tolist()]
    hide = measured_hide("side", name="a", length=2500.0, widths=widths, area=30.0 * FT2)
    said = f"your tape gives {hide.gross_area / FT2:.2f} ft², the seller says 30.00 ft²"
    assert hide.origin is not None
    assert said in hide.origin.note
    assert hide.stated_area == pytest.approx(30.0 * FT2)


def test_widths_and_an_area_without_a_length_give_the_length() -> None:
    widths = [(300.0, 800.0), (1200.0, 950.0)]
    true = measured_hide("side", name="a", length=2700.0, widths=widths)
    found = measured_hide("side", name="a", widths=widths, area=true.gross_area)
    assert np.ptp(found.ring[:, 0]) == pytest.approx(2700.0, abs=1.0)


def test_a_second_width_at_one_place_is_asked_about_unless_it_says_the_same() -> None:
    same = measured_hide("side", name="a", length=2500.0, widths=[(400.0, 900.0), (400.4, 900.2)])
    assert width_at(same, 400.0) == pytest.approx(900.0, abs=1.0)
    with pytest.raises(InputError, match="Two widths are given at 400 mm: 700 and 900 mm") as caught:
        measured_hide("side", name="a", length=2500.0, widths=[(400.0, 900.0), (400.0, 700.0)])
    assert caught.value.place == "widths"


@pytest.mark.parametrize(
    ("kind", "changes", "place"),
    [
        ("goat", {"length": 5000.0}, "length"),
        ("goat", {"area": 60 * FT2}, "area"),
        ("side", {"length": 5000.0}, "length"),
        ("goat", {"length": 900.0, "widths": [(400.0, 3000.0)]}, "widths"),
        ("calf", {"length": 1500.0, "widths": [(700.0, float("inf"))]}, "widths"),
    ],
)
def test_a_hide_larger_than_any_of_its_kind_is_refused(
    kind: str, changes: dict[str, object], place: str
) -> None:
    with pytest.raises(InputError) as caught:
        measured_hide(kind, name="a", **changes)  # type: ignore[arg-type]
    assert caught.value.place == place


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
