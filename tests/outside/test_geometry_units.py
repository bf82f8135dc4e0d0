"""Units against their definitions.

The inch is exactly 25.4 mm and the yard 0.9144 m (international yard and pound agreement, 1959; ISO 80000-3), so
1 ft² is 9.290304 dm². The ounce of leather is 1/64 in, the iron 1/48 in of thickness (ASTM D1814).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from nestplan.geometry.units import (
    MM2_PER_DM2,
    MM2_PER_FT2,
    MM_PER_INCH,
    MM_PER_OUNCE,
    read_area,
    read_length,
    read_thickness,
)


def test_the_inch_foot_and_yard_are_exact() -> None:
    assert read_length("1 in") == MM_PER_INCH == 25.4
    assert read_length("1 ft") == 304.8
    assert read_length("1 yd") == 914.4
    assert read_length("100 in") == 2540.0


def test_the_square_foot_is_exact() -> None:
    assert read_area("1 ft2") == MM2_PER_FT2 == 92903.04
    assert pytest.approx(9.290304, rel=1e-15) == MM2_PER_FT2 / MM2_PER_DM2
    assert read_area("1 m2") == 1e6
    assert read_area("1 sq in") == pytest.approx(645.16, rel=1e-15)


@pytest.mark.parametrize(
    ("ounces", "sixty_fourths"), [(1, 1), (2, 2), (4, 4), (8, 8), (9, 9), (12, 12), (16, 16)]
)
def test_the_ounce_is_a_sixty_fourth_of_an_inch(ounces: int, sixty_fourths: int) -> None:
    assert pytest.approx(0.396875, rel=1e-15) == MM_PER_OUNCE
    assert read_thickness(f"{ounces} oz") == float(Fraction(sixty_fourths, 64) * Fraction(254, 10))


def test_the_iron_is_a_forty_eighth_of_an_inch() -> None:
    assert read_thickness("48 irons") == 25.4
