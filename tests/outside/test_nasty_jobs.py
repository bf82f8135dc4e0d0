"""Plans of nasty jobs, judged by GEOS from the plan's file alone: nothing of ours takes part in the judgement."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from nestplan.geometry.pose import Pose
from nestplan.model import Article, Disc, Flaw, Job, LayerCut, Piece, Region, StretchRule, Strip
from nestplan.model.files import to_text
from nestplan.nesting.nest import nest
from tests.outside.nasty_jobs import enriched, findings_of, laced_case, nasty_case, slanted_hide
from tests.outside.second_check import faults_in
from tests.small_jobs import laid, one_piece_job, plain_hide, plan_of


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


@pytest.mark.parametrize("number", [0, 1, 3, 4])
def test_laces_that_move_among_pieces_on_slanted_sheets_are_all_right(number):
    case = laced_case(1, number)
    assert case.passes
    assert findings_of(case, number) == []


@pytest.mark.parametrize("start", range(20))
def test_plans_of_small_nasty_jobs_are_right(start):
    """A hundred of them; `python -m tests.outside.nasty_jobs` tries as many as asked, large ones too."""
    for number in range(start, 100, 20):
        assert findings_of(nasty_case(1, number, small=True), number) == [], number


@pytest.mark.parametrize("start", range(10))
def test_plans_of_small_jobs_with_all_rules_are_right(start):
    """Forty of them, with regions, faces, openings, linings, spirals, joined straps and permissions."""
    for number in range(start, 40, 10):
        case = enriched(nasty_case(5, number, small=True), 5, number)
        assert findings_of(case, number) == [], number


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


def ruled_plan(*, angle=0.0, x=120.0, **cut):
    """What the second check says of a square laid once, on a hide whose left half is a soft region that gives most
    along x; the other half gives most along y."""
    region = Region(name="soft", outline=((0, 0), (500, 0), (500, 800), (0, 800)), firmness=1, stretch=0.0)
    flaw = Flaw(spoils="grain", disc=Disc(at=(150.0, 700.0), diameter=20.0))
    hide = plain_hide("barley", regions=(region,), flaws=(flaw,), stretch=90.0)
    piece = Piece(name="square", outline=((0, 0), (100, 0), (100, 100), (0, 100)), cuts=(LayerCut(**cut),))
    job = one_piece_job(piece)
    pose = Pose(x + (100.0 if angle else 0.0), 10.0, angle)
    return faults_in(
        to_text(plan_of(job, [hide], [laid(job, piece, pose, hide="barley")])), to_text(job), [to_text(hide)]
    )


def test_the_second_check_knows_regions_and_stretch():
    assert ruled_plan() == []
    assert ruled_plan(not_regions=("soft",), x=600.0) == []
    assert ruled_plan(stretch=StretchRule(axis=0.0, tolerance=1.0)) == []
    assert ruled_plan(stretch=StretchRule(axis=90.0, tolerance=1.0), angle=90.0) == []
    for words, faults in {
        "region 'soft', where it may not": [
            ruled_plan(not_regions=("soft",)),
            ruled_plan(least_firmness=2, x=450.0),
        ],
        "region '', where it may not": [ruled_plan(regions=("soft",), x=450.0)],
        "stretches another way": [
            ruled_plan(stretch=StretchRule(axis=0.0, tolerance=1.0), x=450.0),
            ruled_plan(stretch=StretchRule(axis=0.0, tolerance=1.0), angle=90.0),
        ],
    }.items():
        assert all(any(words in each for each in found) for found in faults), (words, faults)


def test_the_second_check_knows_which_faces_show_and_which_straps_are_whole():
    flaw = Flaw(spoils="grain", disc=Disc(at=(60.0, 60.0), diameter=20.0))
    hide = plain_hide("barley", flaws=(flaw,))
    for shows, wrong in (("grain", True), ("both", True), ("flesh", False), ("hidden", False)):
        piece = Piece(
            name="square", outline=((0, 0), (100, 0), (100, 100), (0, 100)), cuts=(LayerCut(shows=shows),)
        )
        job = one_piece_job(piece)
        plan = plan_of(job, [hide], [laid(job, piece, Pose(10, 10), hide="barley")])
        found = faults_in(to_text(plan), to_text(job), [to_text(hide)])
        assert any("lies on a flaw" in each for each in found) == wrong, (shows, found)

    strap = Strip(name="strap", width=20.0, length=900.0, joins=1, lap=25.0, least_part=300.0)
    job = Job(name="straps", articles=(Article(name="straps", sets=1, strips=(strap,)),))
    plan = json.loads(to_text(nest(job, [slim_hide()], seed=0)))
    assert [each["part"] for each in plan["placements"]] == [1, 2]
    files = to_text(job), [to_text(slim_hide())]
    assert faults_in(json.dumps(plan), *files) == []
    plan["placements"].pop()
    assert any("too short" in each or "missing" in each for each in faults_in(json.dumps(plan), *files))


def slim_hide():
    """Too short for the strap in one part."""
    return plain_hide(
        "slim", outline=((0, 0), (700, 0), (700, 200), (0, 200)), backbone=((700, 100), (0, 100))
    )
