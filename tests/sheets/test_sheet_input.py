"""What sheets are made from, and what is lacking."""

from __future__ import annotations

from functools import partial

import pytest

from nestplan.estimate.supplies import shopping_list
from nestplan.sheets.sheet_input import SheetInput
from tests.sheets.sample_plans import belt_plan


def test_supplies_are_counted_when_they_are_asked_for() -> None:
    plan, job, hides = belt_plan()
    given = SheetInput(plan, job, hides, shopping=partial(shopping_list, job))
    assert given.the_shopping == shopping_list(job)
    assert (given.the_plan, given.the_job) == (plan, job)


def test_what_is_not_there_cannot_be_taken() -> None:
    nothing = SheetInput(None, None, ())
    for name in ("the_plan", "the_job", "the_hide", "the_shopping"):
        with pytest.raises(AssertionError):
            getattr(nothing, name)
