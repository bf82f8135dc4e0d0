"""The steps of the goals: what each does, when it has nothing to do, and in which order they are gone through."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from nestplan.model import Piece
from nestplan.model.goals import COMPLETE, FILL, GATHER, GOALS, INSERT, Goal, SearchStep
from nestplan.nesting import steps
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.first_candidate import first_candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.progress import Observer
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.mates import distances_of_mates
from nestplan.nesting.steps import STEPS, Step, can_improve, improved
from tests.small_jobs import HANDED, one_piece_job, plain_hide, strap_job


class Stages(Observer):
    def __init__(self) -> None:
        self.heard: list[str] = []

    def on_stage(self, progress):
        self.heard.append(progress.stage)


def search(problem: LeatherProblem, passes: int = 3):
    """The first candidate, the last, and the stages heard."""
    stages = Stages()
    with ThreadPoolExecutor(2) as pool:
        context = SearchContext(SearchBudget(passes=passes, observer=stages), pool, seed=0)
        first = first_candidate(problem, context)
        stages.heard.clear()
        return first, improved(first, context), stages.heard


def squares(sets: int, *hides, goal: Goal = COMPLETE) -> LeatherProblem:
    return LeatherProblem(one_piece_job(sets=sets), hides or (plain_hide(),), goal=goal)


def test_every_step_that_a_goal_names_can_be_gone_through():
    assert {step.name for goal in GOALS for step in goal.steps} == set(STEPS)


def test_a_complete_candidate_on_one_hide_is_left_as_it_is():
    first, last, stages = search(squares(5))
    assert not can_improve(first)
    assert last is first
    assert stages == []


@pytest.mark.parametrize(
    ("goal", "stages"),
    [(COMPLETE, ["fill", "complete"]), (FILL, ["fill"]), (GATHER, ["fill", "complete", "gather"])],
)
def test_the_steps_of_a_goal_are_gone_through_in_their_order(goal, stages, monkeypatch):
    for name, step in STEPS.items():
        monkeypatch.setitem(STEPS, name, replace(step, run=lambda candidate, context: candidate))
    first, last, heard = search(squares(200, plain_hide("a"), plain_hide("b"), goal=goal))
    assert can_improve(first)
    assert last is first
    assert heard == stages


def test_no_stage_is_begun_once_the_budget_is_spent():
    first, last, heard = search(squares(200, goal=FILL), passes=0)
    assert last is first
    assert heard == []


def test_steps_of_one_stage_follow_without_asking_the_budget(monkeypatch):
    done = []

    def spend(candidate, context):
        done.append("first")
        context.budget.count_pass()
        return candidate

    monkeypatch.setitem(STEPS, "spend", Step(spend, lambda candidate: True))
    monkeypatch.setitem(STEPS, "note", Step(lambda c, _: done.append("second") or c, lambda candidate: True))
    same = tuple(SearchStep(name, "toying", "Toying") for name in ("spend", "note"))
    search(squares(2, goal=Goal(name="toy", words="", steps=same)), passes=1)
    assert done == ["first", "second"]
    done.clear()
    apart = (same[0], SearchStep("note", "noting", "Noting"))
    search(squares(2, goal=Goal(name="toy", words="", steps=apart)), passes=1)
    assert done == ["first"]


def test_a_job_of_straps_alone_has_no_pieces_to_insert():
    problem = LeatherProblem(strap_job(sets=60), (plain_hide(),), goal=FILL)
    first, last, _ = search(problem)
    assert not first.complete
    assert last is first


def test_pieces_are_inserted_where_the_first_candidate_left_some_out():
    problem = squares(79, goal=Goal(name="toy", words="", steps=(INSERT,)))
    first, last, _ = search(problem, passes=2)
    assert not last.is_worse_than(first)


def test_a_step_never_gives_less_than_it_was_given(monkeypatch):
    problem = squares(6, plain_hide("a"), plain_hide("b"))
    with ThreadPoolExecutor(1) as pool:
        context = SearchContext(SearchBudget(passes=1), pool, seed=0)
        first = first_candidate(problem, context)
        poses = replace(first.poses, field=first.poses.field * 0 - 1)
        assert steps._with_poses(first, poses, context) is first


def test_mates_are_brought_together_with_no_rounds_left_at_no_lost_piece():
    piece = Piece(name="front", outline=HANDED, pair=True, mates_near=True)
    hides = (plain_hide("a"), plain_hide("b"))

    def distances(price: float) -> tuple[list[float], tuple[object, ...]]:
        job = one_piece_job(piece, sets=9, mates_price=price)
        _, last, heard = search(LeatherProblem(job, hides), passes=0)
        assert ("mates" in heard) == (price > 0.0)
        place_poses(last.layout, last.poses)
        return distances_of_mates(last.layout, last.problem.mate_groups), last.merit

    before, merit = distances(0.0)
    after, same = distances(20.0)
    assert same == merit
    assert len(after) == 9
    assert sum(after) <= sum(before)
