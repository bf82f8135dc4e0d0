"""Emptying in part: dear hides hold less afterwards, cheap ones more, and nothing loses its place."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from nestplan.model import Hide
from nestplan.model.audit import check
from nestplan.model.goals import COMPLETE, GATHER
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.first_candidate import first_candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.search.hide_emptying import hide_choices
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.partial_emptying import on_cheap_hides_first
from nestplan.yields.offcuts import largest_of_each_hide
from tests.small_jobs import one_piece_job, plain_hide

JOB = one_piece_job(sets=90)
"""Some 63 of its squares find a place on one plain hide."""


def hides(*prices: float | None) -> tuple[Hide, ...]:
    return tuple(plain_hide(f"hide {number}", price=price) for number, price in enumerate(prices))


def laid_by_other_prices(context: SearchContext, *prices: float | None) -> Candidate:
    """A candidate that was made while the first hide was the cheapest."""
    first = first_candidate(LeatherProblem(JOB, hides(*range(10, 10 + len(prices))), goal=GATHER), context)
    return replace(first, problem=LeatherProblem(JOB, hides(*prices), goal=GATHER))


def counts(candidate: Candidate, count: int) -> list[int]:
    return [int((candidate.poses.field == field).sum()) for field in range(count)]


@pytest.mark.parametrize("prices", [(300.0, 50.0), (300.0, 50.0, 20.0)])
def test_the_cheap_hides_are_filled_and_the_dear_ones_keep_the_rest(prices):
    with ThreadPoolExecutor(2) as pool:
        context = SearchContext(SearchBudget(passes=12), pool, seed=0)
        before = laid_by_other_prices(context, *prices)
        after = on_cheap_hides_first(before, context, 1.0)
    had, has = counts(before, len(prices)), counts(after, len(prices))
    assert had[0] > 50 > has[0]
    assert has[1] > had[1]
    assert after.complete
    place_poses(after.layout, after.poses)
    assert after.layout.feasible()


def test_a_single_hide_and_a_spent_budget_leave_all_as_it_is():
    with ThreadPoolExecutor(1) as pool:
        context = SearchContext(SearchBudget(passes=5), pool, seed=0)
        one = first_candidate(LeatherProblem(one_piece_job(sets=5), hides(10.0), goal=GATHER), context)
        assert on_cheap_hides_first(one, context, 1.0) is one
        two = laid_by_other_prices(context, 300.0, 50.0)
        assert on_cheap_hides_first(two, context, 0.0) is two
    assert context.budget.progress.passes == 0


def test_a_plan_to_keep_offcuts_leaves_dear_hides_whole_and_the_next_dear_the_emptiest():
    given = hides(90.0, 50.0, 300.0)
    plan = nest(JOB, given, goal=GATHER.name, passes=20)
    assert check(plan, JOB, given) == ()
    assert not plan.unplaced
    on = {hide.name: sum(p.hide == hide.name for p in plan.placements) for hide in given}
    assert on["hide 2"] == 0
    assert on["hide 0"] < on["hide 1"]
    largest = largest_of_each_hide(plan.figures.offcuts)
    # All that the pieces do not cover on the hide that is worth more, but for a strip along its edges.
    assert largest["hide 0"] > 0.9 * (1000.0 * 800.0 - on["hide 0"] * 101.5**2) - 2 * 101.5 * 1000.0
    assert largest["hide 0"] == max(largest.values())


def test_without_prices_the_small_hides_are_taken_where_offcuts_are_to_stay():
    small = plain_hide("small", outline=((0.0, 0.0), (800.0, 0.0), (800.0, 700.0), (0.0, 700.0)), price=None)
    for goal, is_less in ((GATHER, True), (COMPLETE, False)):
        problem = LeatherProblem(one_piece_job(sets=9), (plain_hide("large", price=None), small), goal=goal)
        choices = hide_choices(problem, np.ones(9, bool))
        assert (choices.cost(frozenset({1})) < choices.cost(frozenset({0}))) == is_less
        assert choices.cost(frozenset({0})) < choices.cost(frozenset({0, 1}))
