from __future__ import annotations

import contextlib
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, UnitError
from nestplan.geometry.units import (
    MM2_PER_FT2,
    MM_PER_INCH,
    MM_PER_OUNCE,
    read_area,
    read_area_mark,
    read_length,
    read_thickness,
    read_thickness_range,
    show_area,
    show_length,
    show_thickness,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        (12, 12.0),
        (12.5, 12.5),
        ("12 mm", 12.0),
        ("12mm", 12.0),
        (" 12  MM ", 12.0),
        ("12,5 mm", 12.5),
        (".5 mm", 0.5),
        ("1.5 cm", 15.0),
        ("1.2 m", 1200.0),
        ("1 1/2 in", 38.1),
        ("1-1/2 in", 38.1),
        ("1½ in", 38.1),
        ("1 ½″", 38.1),
        ("½ in", 12.7),
        ("3/8in", 9.525),
        ("3⁄8 in", 9.525),
        ('2"', 50.8),
        ("2 ft", 609.6),
        ("2 ft 6 1/2 in", 774.7),
        ("2' 6\"", 762.0),
        ("1 yd", 914.4),
        ("-3 mm", -3.0),
        ("−3 mm", -3.0),
        ("0 mm", 0.0),
    ],
)
def test_lengths_are_read_as_the_bench_writes_them(text: float | str, mm: float) -> None:
    assert read_length(text) == mm


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12", "has no unit"),
        ("", "cannot be read"),
        ("in", "cannot be read"),
        ("12 furlongs", "'furlongs' is no unit of length"),
        ("8 oz", "is a thickness"),
        ("1,250 mm", '"1.250" or "1250"'),
        ("5/0 in", "divides by zero"),
        ("6 in 2 ft", "cannot be read"),
        ("2 ft 3", "has no unit"),
        ("1/2/3 in", "has no unit"),
        ("12 mm2", "'mm2' is no unit of length"),
        ("1" * 5000 + " mm", "5003 letters"),
    ],
)
def test_a_length_that_is_unclear_is_refused_with_the_mend(text: str, says: str) -> None:
    with pytest.raises(UnitError) as caught:
        read_length(text)
    assert says in str(caught.value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, None, 10**400])
def test_a_length_that_is_no_number_is_refused(value: object) -> None:
    with pytest.raises(InputError):
        read_length(value)  # type: ignore[arg-type]


def test_areas_need_their_unit() -> None:
    assert read_area("22.75 ft2") == pytest.approx(22.75 * MM2_PER_FT2)
    assert read_area("22 3/4 sq ft") == read_area("22.75 square feet") == read_area("22.75 ft²")
    assert read_area("210 dm2") == 2_100_000
    assert read_area("1.2 m²") == 1_200_000
    for bare in (22.75, "22.75", "3 mm", "3 oz"):
        with pytest.raises(UnitError):
            read_area(bare)
    with pytest.raises(InputError):
        read_area("-3 ft2")


def test_thicknesses_know_ounces_irons_and_ranges() -> None:
    assert read_thickness("8 oz") == 3.175
    assert read_thickness("1/8 in") == 3.175
    assert read_thickness("6 irons") == 3.175
    assert read_thickness(2) == 2.0
    assert read_thickness_range("2-3 oz") == pytest.approx((2 * MM_PER_OUNCE, 3 * MM_PER_OUNCE))
    assert read_thickness_range("5–6 oz") == pytest.approx((5 * MM_PER_OUNCE, 6 * MM_PER_OUNCE))
    assert read_thickness_range("1 1/2-2 oz") == pytest.approx((1.5 * MM_PER_OUNCE, 2 * MM_PER_OUNCE))
    assert read_thickness_range("1.2 to 1.4 mm") == pytest.approx((1.2, 1.4))
    assert read_thickness_range("1.2 mm - 1.4 mm") == pytest.approx((1.2, 1.4))
    assert read_thickness_range((1.2, "4 oz")) == pytest.approx((1.2, 4 * MM_PER_OUNCE))
    assert read_thickness_range("3 oz") == pytest.approx((3 * MM_PER_OUNCE, 3 * MM_PER_OUNCE))


@pytest.mark.parametrize("text", ["2-3 oz", "5/6 oz", "3 ft", "3", "thick"])
def test_a_thickness_with_two_meanings_or_none_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        read_thickness(text)


def test_a_thickness_range_the_wrong_way_round_is_refused() -> None:
    for wrong in ("3-2 oz", (3, 2), (1, 2, 3)):
        with pytest.raises(InputError):
            read_thickness_range(wrong)
    with pytest.raises(InputError):
        read_thickness_range(-1)


@pytest.mark.parametrize("text", ["22.3", "22 3", "22³", "22,3", "22.3 ft2"])
def test_an_area_mark_with_two_readings_is_asked_not_guessed(text: str) -> None:
    with pytest.raises(UnitError) as caught:
        read_area_mark(text)
    assert "22.30 ft² (tenths)" in str(caught.value)
    assert "22.75 ft² (quarters)" in str(caught.value)
    assert read_area_mark(text, "tenths") == pytest.approx(22.3 * MM2_PER_FT2)
    assert read_area_mark(text, "quarters") == pytest.approx(22.75 * MM2_PER_FT2)


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("22", 22),
        ("22.0", 22),
        ("22 3/4", 22.75),
        ("22¾", 22.75),
        ("22-3", 22.75),
        ("22-3/4", 22.75),
        ("4/1", 4.25),
        ("22.75", 22.75),
        ("22.30", 22.3),
        ("22.5", 22.5),
        ("3/4", 0.75),
    ],
)
def test_an_area_mark_with_one_reading_is_read(text: str, feet: float) -> None:
    assert read_area_mark(text) == pytest.approx(feet * MM2_PER_FT2)


def test_an_area_mark_may_be_metric_and_may_be_nonsense() -> None:
    assert read_area_mark("210 dm2") == 2_100_000
    for text, reading in (
        ("1/2", None),
        ("22-5", None),
        ("22.5", "quarters"),
        ("hide", None),
        ("22.3", "eighths"),
    ):
        with pytest.raises(UnitError):
            read_area_mark(text, reading)  # type: ignore[arg-type]


def test_measures_are_shown_rounded_for_people() -> None:
    assert [show_length(12.34), show_length(12.34, "cm")] == ["12.3 mm", "1.23 cm"]
    assert [show_length(mm, "in") for mm in (38.1, 25.4, 9.525, 0.2, 0.0, -38.1)] == [
        "1 1/2 in",
        "1 in",
        "3/8 in",
        "0 in",
        "0 in",
        "-1 1/2 in",
    ]
    assert show_length(38.1, "in", decimals=2) == "1.5 in"
    assert show_area(22.75 * MM2_PER_FT2) == "211.4 dm²"
    assert show_area(22.75 * MM2_PER_FT2, "ft2") == "22.75 ft²"
    assert show_thickness(3.175, "oz") == "8 oz"
    assert show_thickness(2.0) == "2 mm"
    for show in (show_length, show_area, show_thickness):
        with pytest.raises(UnitError):
            show(1.0, "cubits")  # type: ignore[operator]


@given(st.integers(0, 16 * 500))
def test_an_inch_fraction_shown_is_read_back_exactly(sixteenths: int) -> None:
    mm = sixteenths * MM_PER_INCH / 16
    assert read_length(show_length(mm, "in")) == pytest.approx(mm, abs=1e-9)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_as_input(text: str) -> None:
    for read in (read_length, read_area, read_thickness, read_area_mark):
        with contextlib.suppress(InputError):
            assert isinstance(read(text), float)


def test_units_do_not_load_shapely() -> None:
    code = "import sys, nestplan.geometry.units; print('shapely' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"
