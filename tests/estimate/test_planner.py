from __future__ import annotations

import pickle

import pytest

from nestplan.estimate.planner import EnginePlanner, largest_offcut_area, plan_figures, total_whole_sets
from nestplan.model import Plan, Source
from nestplan.model.audit import check
from tests.small_jobs import one_piece_job, plain_hide


def test_the_engine_s_plan_is_checked_counted_and_the_same_again() -> None:
    job, hide = one_piece_job(sets=3), plain_hide()
    planner = EnginePlanner(passes=0, seed=4)
    plan = planner.plan(job, [hide], "complete")
    assert check(plan, job, [hide]) == ()
    assert total_whole_sets(plan) == 3
    assert plan.seconds is None
    assert planner.plan(job, [hide], "complete") == plan
    offcuts = plan_figures(plan).offcuts
    assert largest_offcut_area(plan) == max(offcut.area for offcut in offcuts) > 0


def test_a_planner_travels_to_a_worker_and_says_what_it_does() -> None:
    for planner, words in (
        (EnginePlanner(passes=2, seed=5), "2 passes for each plan, seed 5"),
        (EnginePlanner(seconds=1.5), "1.5 s for each plan, seed 0"),
    ):
        assert pickle.loads(pickle.dumps(planner)) == planner
        assert planner.words == words


def test_a_plan_without_figures_is_no_planner_s() -> None:
    plan = Plan(name="p", job=Source(name="j"), hides=())
    with pytest.raises(ValueError, match="has figures"):
        plan_figures(plan)
