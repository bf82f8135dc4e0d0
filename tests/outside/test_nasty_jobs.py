"""Plans of nasty jobs, judged by GEOS from the plan's file alone: nothing of ours takes part in the judgement."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from nestplan.geometry.pose import Pose
from nestplan.model import Article, Disc, Flaw, Hide, Job, Strip
from nestplan.model.files import to_text
from nestplan.nesting.nest import nest
from tests.outside.nasty_jobs import findings_of, nasty_case
from tests.outside.second_check import faults_in
from tests.small_jobs import laid, one_piece_job, plain_hide, plan_of


def slanted_hide(chance: np.random.Generator) -> Hide:
    """A long sheet at any turn, its edges not quite parallel."""
    turn, length, width = chance.uniform(0, math.pi), chance.uniform(1050, 1600), chance.uniform(200, 500)
    corners = [
        (0, 0),
        (length, chance.uniform(-20, 20)),
        (length, width),
        (0, width + chance.uniform(-20, 20)),
    ]
    cosine, sine = math.cos(turn), math.sin(turn)
    return Hide(
        name="sheet",
        leather="any",
        outline=tuple((x * cosine - y * sine, x * sine + y * cosine) for x, y in corners),
    )


@pytest.mark.parametrize("seed", range(8))
def test_long_laces_from_a_slanted_edge_are_all_right(seed):
    chance = np.random.default_rng([seed, 1])
    hide = slanted_hide(chance)
    lace = Strip(
        name="lace",
        width=(25.4, 6.35, 5.0, 12.7)[seed % 4],
        length=1016.0 if seed % 3 else float(chance.uniform(600, 1040)),
        count=12,
        along="any",
        use="lace",
    )
    job = Job(name="laces", articles=(Article(name="laces", sets=1, strips=(lace,)),))
    plan = nest(job, [hide], seed=seed)
    assert plan.placements
    assert faults_in(to_text(plan), to_text(job), [to_text(hide)]) == []


@pytest.mark.parametrize("start", range(20))
def test_plans_of_small_nasty_jobs_are_right(start):
    """A hundred of them; `python -m tests.outside.nasty_jobs` tries as many as asked, large ones too."""
    for number in range(start, 100, 20):
        assert findings_of(nasty_case(1, number, small=True), number) == [], number


@pytest.mark.parametrize("number", [2, 9, 13])
def test_a_plan_of_a_nasty_job_is_right_and_nothing_is_taken_back(number):
    assert findings_of(replace(nasty_case(1, number), seconds=None, passes=1), number) == []


def wrong_plan(**changes):
    """A square of 100 mm on a hide of 1000 × 800 mm, as its plan's file would be with something changed."""
    job = one_piece_job(sets=2)
    hide = plain_hide("barley", flaws=(Flaw(spoils="through", disc=Disc(at=(500.0, 400.0), diameter=40.0)),))
    piece = job.articles[0].pieces[0]
    placements = [
        laid(job, piece, Pose(10, 10), hide="barley"),
        laid(job, piece, Pose(120, 10), hide="barley", copy=2, set=2),
    ]
    plan = json.loads(to_text(plan_of(job, [hide], placements)))
    plan["placements"][1].update(changes)
    return faults_in(json.dumps(plan), to_text(job), [to_text(hide)])


def square(x, y, side=100.0):
    ring = [[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
    return {"finished": ring, "cut": ring}


def test_the_second_check_finds_what_is_wrong():
    assert wrong_plan() == []
    for words, changes in {
        "runs off": square(950, 10),
        "on a flaw": square(450, 350),
        "too near": square(110.5, 10),
        "as it is drawn": square(120, 10, side=99.0),
        "smaller than it is": {"cut": square(121, 11, side=98.0)["cut"]},
        "turned over": {"mirrored": True},
        "times": {"copy": 1},
    }.items():
        found = wrong_plan(**changes)
        assert any(words in each for each in found), (words, found)
