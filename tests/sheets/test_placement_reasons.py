"""Why a piece lies where it lies, as sentences that can be checked."""

from __future__ import annotations

from nestplan.sheets.placement_reasons import placement_reasons, strip_reasons
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.sample_plans import belt_plan


def test_the_reasons_of_a_place_can_be_checked_on_the_plan() -> None:
    plan, job, hides = belt_plan()
    front = next(n for n, placed in enumerate(plan.placements) if placed.piece == "front")
    reasons = " ".join(placement_reasons(plan, job, hides[0], front, front + 1, UnitFormatter()))
    assert "Lies in the bend, firmness 5 of 5" in reasons
    assert "asks for firmness 3 or more" in reasons
    assert "0° from the way the leather gives most" in reasons
    # The two fronts lie 15 mm apart, cut edge to cut edge: the outer has no overcut.
    assert "Its mate lies 15 mm away" in reasons
    back = next(n for n, placed in enumerate(plan.placements) if placed.piece == "back")
    assert "The nearest flaw is hole" in " ".join(
        placement_reasons(plan, job, hides[0], back, None, UnitFormatter())
    )
    lining = next(n for n, placed in enumerate(plan.placements) if placed.layer == "lining")
    assert "It got 6 mm of overcut" in " ".join(
        placement_reasons(plan, job, hides[1], lining, None, UnitFormatter())
    )


def test_strips_say_that_they_lie_along_the_backbone() -> None:
    plan, job, hides = belt_plan()
    assert "0° from the backbone" in " ".join(strip_reasons(plan, job, hides[0], (0, 1, 2, 3)))
    disc = next(n for n, placed in enumerate(plan.placements) if placed.spiral)
    assert "divided by its width" in " ".join(strip_reasons(plan, job, hides[0], (disc,)))
