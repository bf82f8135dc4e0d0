"""Joined straps of which a part is locked or cut are completed around it."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from nestplan.model import Placement
from nestplan.model.audit import check
from nestplan.nesting.nest import nest
from tests.small_jobs import plain_hide, strap_job

JOB = strap_job(length=1500.0, sets=2, joins=1)


@pytest.mark.parametrize("kept", [[0], [1], [0, 3], [1, 2], [2]])
@pytest.mark.parametrize("how", ["locked", "done"])
def test_a_joined_strap_is_completed_around_the_part_that_stays(kept, how):
    first = nest(JOB, [plain_hide()])
    keep = [replace(first.placements[number], **{how: True}) for number in kept]
    again = nest(JOB, [plain_hide()], keep=keep)
    assert again.unplaced == ()
    assert again.figures.placed == 2
    assert again.figures.sets[0].whole == 2
    for placement in keep:
        assert placement in again.placements
    for copy in (1, 2):
        parts = [p for p in again.placements if p.copy == copy]
        assert sorted(p.part for p in parts) == [1, 2]
        assert sum(p.length for p in parts) - 25.0 >= 1500.0 - 0.01
        assert min(p.length for p in parts) >= 300.0
    assert check(again, JOB, [plain_hide()]) == ()


def long_part(length: float) -> Placement:
    ring = ((0.0, 20.0), (length, 20.0), (length, 60.0), (0.0, 60.0))
    return Placement(
        hide="plain", strip="strap", part=1, length=length, y=20.0, finished=ring, cut=ring, locked=True
    )


def test_the_rest_is_no_shorter_than_the_least_part():
    job = strap_job(length=1100.0, sets=1, joins=1)
    plan = nest(job, [plain_hide()], keep=[long_part(1000.0)])
    assert sorted(p.length for p in plan.placements) == [300.0, 1000.0]
    assert plan.unplaced == ()


def test_a_strap_whose_rest_finds_no_place_is_no_whole_strap_and_says_so():
    narrow = plain_hide(outline=((0, 0), (1000, 0), (1000, 65), (0, 65)), backbone=((1000, 30), (0, 30)))
    job = strap_job(length=1500.0, sets=1, joins=1)
    plan = nest(job, [narrow], keep=[long_part(1000.0)])
    assert len(plan.placements) == 1
    assert plan.figures.sets[0].whole == 0
    assert plan.figures.placed == 0
    (missing,) = plan.unplaced
    assert (missing.strip, missing.count) == ("strap", 1)


def test_a_strap_that_used_up_its_joins_is_not_joined_again():
    job = strap_job(length=1500.0, sets=1, joins=0)
    plan = nest(job, [plain_hide()], keep=[long_part(1000.0)])
    assert len(plan.placements) == 1
    assert plan.unplaced[0].count == 1
