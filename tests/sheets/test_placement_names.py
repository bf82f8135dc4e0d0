"""What placed things are called: layer and hand only where they tell something apart."""

from __future__ import annotations

import msgspec

from nestplan.sheets.placement_names import placed_name
from tests.sheets.sample_plans import belt_plan


def test_layer_and_hand_are_told_where_there_are_several() -> None:
    plan, job, _ = belt_plan()
    names = {
        (placed.piece, placed.layer, placed.mirrored): placed_name(job, placed) for placed in plan.placements
    }
    assert names["front", "outer", False] == "front, outer, left"
    assert names["front", "outer", True] == "front, outer, right"
    assert names["back", "outer", False] == "back"


def test_a_reversed_lining_is_of_the_other_hand() -> None:
    plan, job, _ = belt_plan()
    names = {
        (placed.layer, placed.mirrored): placed_name(job, placed)
        for placed in plan.placements
        if placed.piece == "front"
    }
    assert names["lining", False] == "front, lining, right"
    assert names["lining", True] == "front, lining, left"


def test_a_joined_strip_is_told_with_its_part() -> None:
    plan, job, _ = belt_plan()
    strap = next(placed for placed in plan.placements if placed.strip == "waist strap")
    assert placed_name(job, strap) == "waist strap"
    assert placed_name(job, msgspec.structs.replace(strap, part=2)) == "waist strap, part 2"
