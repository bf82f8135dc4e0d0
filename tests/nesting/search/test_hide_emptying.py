"""Emptying hides: everything on as few or as cheap hides as are known to hold it, strips as well."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import msgspec
import pytest

from nestplan.model import Strip
from nestplan.model.audit import check
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.first_candidate import first_candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.search.hide_emptying import on_cheaper_hides
from tests.benchmarks.known_plans import known_job, outcome
from tests.small_jobs import one_piece_job, plain_hide


def test_a_dear_hide_is_emptied_onto_cheap_ones():
    hides = (
        plain_hide("dear", price=500.0),
        plain_hide("cheap", price=50.0),
        plain_hide("other", price=60.0),
    )
    problem = LeatherProblem(one_piece_job(sets=30), hides)
    with ThreadPoolExecutor(2) as pool:
        context = SearchContext(SearchBudget(passes=20), pool, seed=0)
        first = first_candidate(problem, context)
        moved = on_cheaper_hides(first, context, 1.0)
    assert moved.complete
    assert moved.cost == 50.0


def test_where_no_cheaper_choice_has_room_nothing_is_done():
    problem = LeatherProblem(one_piece_job(sets=3), (plain_hide("one"), plain_hide("two", price=200.0)))
    with ThreadPoolExecutor(2) as pool:
        context = SearchContext(SearchBudget(passes=20), pool, seed=0)
        first = first_candidate(problem, context)
        assert on_cheaper_hides(first, context, 1.0) is first
    assert context.budget.progress.passes == 0


def test_strips_move_with_the_pieces():
    job = one_piece_job(sets=60)
    strips = (
        Strip(name="strap", width=30.0, length=600.0, count=1),
        Strip(name="lace", width=6.0, length=700.0, count=1, use="lace"),
    )
    article = msgspec.structs.replace(job.articles[0], sets=6, strips=strips)
    job = msgspec.structs.replace(job, articles=(article,))
    hides = (plain_hide("dear", price=500.0), plain_hide("cheap", price=50.0))
    plan = nest(job, hides, passes=30)
    assert {placement.hide for placement in plan.placements} == {"cheap"}
    assert not plan.unplaced
    assert check(plan, job, hides) == ()


@pytest.mark.parametrize(("seed", "kind"), [(1, "pieces"), (2, "prices"), (1, "strips")])
def test_a_plan_as_cheap_as_the_known_one_is_found(seed, kind):
    found, words = outcome(known_job(seed, kind), passes=60)
    assert found, words
