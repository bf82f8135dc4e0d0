"""The reminders: for every hazard of the bench, on every sheet for the bench."""

from __future__ import annotations

from functools import partial

import pytest

from nestplan.estimate.supplies import shopping_list
from nestplan.sheets import cautions
from nestplan.sheets.catalogue import SHEETS
from nestplan.sheets.sheet_input import SheetInput
from tests.sheets.looking import words_of
from tests.sheets.sample_plans import belt_plan


def test_blades_punches_glue_and_dust_are_each_spoken_of() -> None:
    assert "blade" in " ".join(cautions.CUTTING)
    assert "eye protection" in " ".join(cautions.PUNCHING)
    assert all(word in " ".join(cautions.GLUING) for word in ("ventilate", "flames", "safety sheet"))
    assert "mask" in " ".join(cautions.DUST)
    assert "not a safety approval" in cautions.ABOVE_ALL


@pytest.mark.parametrize("name", ["cut sheet", "job sheet", "lesson sheet"])
def test_every_sheet_for_the_bench_carries_all_of_them(name: str) -> None:
    plan, job, hides = belt_plan()
    given = SheetInput(plan, job, hides, shopping=partial(shopping_list, job))
    told = "".join("".join(words_of(page.picture)) for page in SHEETS[name].booklet(given).pages)
    told = "".join(told.split())
    every = (*cautions.CUTTING, *cautions.PUNCHING, *cautions.GLUING, *cautions.DUST, cautions.ABOVE_ALL)
    assert [line for line in every if "".join(line.split()) not in told] == []
