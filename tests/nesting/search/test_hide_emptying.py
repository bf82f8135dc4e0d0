"""Emptying hides: everything on as few or as cheap hides as are known to hold it, strips as well."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import msgspec
import numpy as np
import pytest

from nestplan.model import Article, Job, Piece, Strip
from nestplan.model.audit import check
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.first_candidate import first_candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.progress import Observer
from nestplan.nesting.search import hide_emptying
from nestplan.nesting.search.hide_emptying import LEAST_PATIENCE, Patience, on_cheaper_hides
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


def test_patience_ends_long_after_the_last_gain_and_never_before_a_number_of_rounds():
    patience = Patience(100)
    patience.note(110, 5.0)
    assert not patience.is_over(110 + LEAST_PATIENCE - 1)
    assert patience.is_over(110 + LEAST_PATIENCE)
    patience.note(2100, 4.0)
    patience.note(9000, 4.0)
    assert not patience.is_over(2100 + 4 * 2000 - 1)
    assert patience.is_over(2100 + 4 * 2000)


class _Ending(Observer):
    """Remembers why a search ended."""

    def on_end(self, progress):
        self.why, self.passes = progress.ended, progress.passes


def _two_of(outline):
    """A job of two equal pieces without a gap, and two square hides of 100 mm."""
    piece = Piece(name="piece", outline=outline, count=2)
    square = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
    hides = [plain_hide(f"hide {number}", outline=square, backbone=None, price=None) for number in range(2)]
    return Job(name="two", articles=(Article(name="all", sets=1, pieces=(piece,)),), gap=0.0), hides


def test_a_search_for_which_fewer_hides_are_proven_not_to_do_ends_and_says_so():
    job, hides = _two_of(((0.0, 0.0), (66.0, 0.0), (66.0, 66.0), (0.0, 66.0)))
    ending = _Ending()
    plan = nest(job, hides, passes=500, observer=ending, workers=1)
    assert len({placement.hide for placement in plan.placements}) == 2
    assert plan.figures.hides_bound == 2
    assert ending.why == "bound"
    assert ending.passes < 500


def test_a_search_that_gains_nothing_for_long_ends_and_says_so(monkeypatch):
    # Two crosses as wide as the hide always cross, but neither their area nor the discs in them prove that.
    monkeypatch.setattr(hide_emptying, "LEAST_PATIENCE", 12)
    monkeypatch.setattr(hide_emptying, "PATIENCE_SHARE", 0)
    corner = np.array([(5.0, -5.0), (48.0, -5.0), (48.0, 5.0)])
    turns = [np.array([[0.0, 1.0], [-1.0, 0.0]])] * 4
    cross = np.vstack([corner @ np.linalg.matrix_power(turn, k) for k, turn in enumerate(turns)])
    job, hides = _two_of(tuple((x, y) for x, y in cross.round(6).tolist()))
    ending = _Ending()
    plan = nest(job, hides, passes=500, observer=ending, workers=1)
    assert len({placement.hide for placement in plan.placements}) == 2
    assert ending.why == "no gain"
    assert ending.passes < 500
