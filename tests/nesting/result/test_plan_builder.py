"""A candidate made into a plan: numbered, widened, judged, with its reasons and figures."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from nestplan.errors import WrongPlanError
from nestplan.model.audit import Fault, check
from nestplan.model.goals import FILL
from nestplan.nesting import proofs
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.first_candidate import first_candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Poses
from nestplan.nesting.result import plan_builder
from nestplan.nesting.result.plan_builder import PlanBuilder, numbered_placements
from tests.small_jobs import lined_piece, one_piece_job, plain_hide


def laid_out(problem: LeatherProblem) -> Candidate:
    with ThreadPoolExecutor(1) as pool:
        return first_candidate(problem, SearchContext(SearchBudget(), pool, seed=0))


@pytest.fixture(scope="module")
def short() -> Candidate:
    """More squares than the hide holds."""
    return laid_out(LeatherProblem(one_piece_job(sets=90), (plain_hide(),)))


def test_a_plan_says_what_it_was_made_from_and_how():
    problem = LeatherProblem(one_piece_job(sets=2), (plain_hide(),), goal=FILL)
    plan = PlanBuilder(problem, seed=7, passes=3, seconds=None).empty()
    assert (plan.name, plan.goal, plan.seed, plan.passes, plan.seconds) == ("small", "fill", 7, 3, None)
    assert [source.name for source in plan.hides] == ["plain"]
    assert plan.placements == ()
    assert plan.unplaced[0].count == 2


def test_the_full_plan_has_reasons_measured_offcuts_and_proven_bounds(short):
    plan = PlanBuilder(short.problem, 0, 0, None).full(short)
    assert len(plan.placements) + plan.unplaced[0].count == 90
    assert "taken the room" in plan.unplaced[0].why
    assert all(offcut.rectangle_width > 0 for offcut in plan.figures.offcuts)
    assert plan.figures.sets[0].bound <= 80


def test_the_brief_plan_holds_the_same_and_leaves_the_rest_out(short):
    builder = PlanBuilder(short.problem, 0, 0, None)
    brief, full = builder.brief(short), builder.full(short)
    assert brief.placements == full.placements
    assert brief.figures.net == full.figures.net
    assert all(offcut.rectangle_width == 0 for offcut in brief.figures.offcuts)
    assert brief.figures.sets[0].bound >= full.figures.sets[0].bound


def test_the_figures_of_the_same_placements_are_counted_once(short, monkeypatch):
    counted = []
    count = plan_builder.figures_of
    monkeypatch.setattr(
        plan_builder, "figures_of", lambda *plan, **how: counted.append(plan) or count(*plan, **how)
    )
    builder = PlanBuilder(short.problem, 0, 0, None)
    brief, full = builder.brief(short), builder.full(short)
    assert len(counted) == 1
    job, hides = short.problem.job, short.problem.hides
    assert full.figures == count(full, job, hides, bounds=short.problem.proofs.sets_by_now())
    assert builder.empty().figures.placed == 0
    assert len(counted) == 2
    assert brief.figures.gross == full.figures.gross


def test_after_the_deadline_overcuts_stay_at_their_least():
    problem = LeatherProblem(one_piece_job(lined_piece(), sets=1), (plain_hide(),))
    poses = Poses.none(2)
    poses.field[:], poses.y[:], poses.x[:] = 0, 400.0, (300.0, 522.0)
    candidate = Candidate(problem, Layout(problem.as_shapes()), (), poses)
    builder = PlanBuilder(problem, 0, 0, None)
    hurried = builder.full(candidate, deadline_passed=lambda: True)
    assert sorted(p.overcut for p in hurried.placements) == [0.0, 6.0]
    assert sorted(p.overcut for p in builder.full(candidate).placements) == [0.0, 12.0]


def test_placements_stand_in_the_order_of_hide_kind_and_copy(short):
    placed = numbered_placements(short)
    assert [p.copy for p in placed] == list(range(1, len(placed) + 1))
    assert [p.set for p in placed] == sorted(p.set for p in placed)


def test_bounds_are_proven_once_whatever_the_number_of_plans(short, monkeypatch):
    asked = []
    prove = proofs.set_bounds
    monkeypatch.setattr(proofs, "set_bounds", lambda *job, **how: asked.append(job) or prove(*job, **how))
    builder = PlanBuilder(LeatherProblem(short.problem.job, short.problem.hides), 0, 0, None)
    with ThreadPoolExecutor(2) as pool:
        plans = list(pool.map(lambda _: builder.full(short), range(2)))
    assert plans[0] == plans[1]
    assert len(asked) == 1


def test_a_plan_that_the_audit_refuses_even_when_it_is_empty_is_not_handed_out(short, monkeypatch):
    monkeypatch.setattr(plan_builder, "check", lambda *_: (Fault("figures", (), "a fault"),))
    with pytest.raises(WrongPlanError, match="a fault"):
        PlanBuilder(short.problem, 0, 0, None).brief(short)


def test_what_the_check_refuses_is_taken_out_and_the_rest_delivered_with_the_reason(short, monkeypatch):
    def refuse_the_third(plan, job, hides):
        wrong = [n for n, placement in enumerate(plan.placements) if placement.copy == 3]
        return tuple(Fault("flaw", (number,), "'square' covers a flaw.") for number in wrong) or check(
            plan, job, hides
        )

    monkeypatch.setattr(plan_builder, "check", refuse_the_third)
    whole = numbered_placements(short)
    plan = PlanBuilder(short.problem, 0, 0, None).full(short)
    assert len(plan.placements) == len(whole) - 1
    assert 3 not in [placement.copy for placement in plan.placements]
    assert sum(entry.count for entry in plan.unplaced) == 90 - len(plan.placements)
    (told,) = [entry for entry in plan.unplaced if entry.reason == "taken back"]
    assert (told.piece, told.count) == ("square", 1)
    assert "'square' covers a flaw." in told.why
    assert "report it" in told.change
    assert plan.figures.placed == len(plan.placements)
