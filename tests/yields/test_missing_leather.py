"""How much more leather would do."""

from __future__ import annotations

from nestplan.yields.missing_leather import leather_to_add


def test_the_leather_to_add_is_rounded_up_in_the_unit_of_the_job() -> None:
    # hand count: 100 000 mm² at a yield of 0.6 are 16.67 dm², 1.794 ft²
    assert leather_to_add(100_000.0, "mm") == "17 dm²"
    assert leather_to_add(100_000.0, "in") == "2.00 ft²"
    assert leather_to_add(60_000.0, "mm") == "10 dm²"
