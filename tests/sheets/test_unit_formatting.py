"""Figures as words: millimetres and dm², or inches in sixteenths and ft²; law of the units checked by hand."""

from __future__ import annotations

import pytest

from nestplan.sheets.unit_formatting import UnitFormatter, money, share

MM, INCH = UnitFormatter("mm"), UnitFormatter("in")


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (MM.length(181.26), "181.3 mm"),
        (INCH.length(25.4 * 3.5), "3 1/2 in"),
        (MM.tape(181.6), "182"),
        (INCH.tape(25.4 * 71 / 16), "4 7/16"),
        (MM.size(180.0, 129.0), "180 × 129 mm"),
        (MM.area(1_000_000.0), "100 dm²"),
        (INCH.area(144 * 25.4**2), "1 ft²"),
        (MM.thickness(2.0, 2.4), "2–2.4 mm"),
        (MM.thickness(2.0, 2.0), "2 mm"),
        (MM.long(19_400.0), "19.40 m"),
        (INCH.long(3048.0), "10.0 ft"),
        (MM.amount(7.0, "each"), "7"),
        (INCH.amount(3.048, "m"), "10.0 ft"),
        (MM.amount(0.254, "l"), "0.25 l"),
        (MM.amount(0.034, "l"), "34 ml"),
        (INCH.amount(0.946352946, "l"), "1.00 qt"),
        (INCH.amount(0.0591, "l"), "2.0 fl oz"),
        (share(0.6129), "61.3 %"),
        (money(12.5, "EUR"), "12.50 EUR"),
        (money(12.5, ""), "12.50"),
        (money(None, "EUR"), "–"),
    ],
)
def test_a_figure_is_told_in_the_unit_asked_for(made: str, words: str) -> None:
    assert made == words


def test_the_price_of_a_metre_or_a_litre_is_that_of_a_foot_or_a_quart_in_an_inch_job() -> None:
    assert MM.unit_price(2.0, "m") == (2.0, "m")
    assert INCH.unit_price(1.0, "m") == (0.3048, "ft")
    assert INCH.unit_price(10.0, "l") == (pytest.approx(9.46352946), "qt")
    assert INCH.unit_price(3.0, "each") == (3.0, "")
