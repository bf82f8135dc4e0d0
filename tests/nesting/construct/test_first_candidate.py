"""Candidates: strips laid anew around other poses, and pieces laid anew from other seeds."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
import shapely

from nestplan.model import Article, Hide, Job, Piece, Strip
from nestplan.model.goals import FILL
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.first_candidate import (
    MOST_GRACE,
    LayingDeadline,
    first_candidate,
    reconstructed,
    with_exact_outlines,
    with_strips_last,
)
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from tests.generated_hides import generated_hide, generated_job
from tests.small_jobs import SQUARE, plain_hide


def test_strips_laid_again_are_missed_once():
    lace = Strip(name="lace", width=8.0, length=60000.0, count=1, use="lace", source="disc")
    square = Piece(name="square", outline=SQUARE)
    job = Job(name="laced", articles=(Article(name="bag", sets=8, pieces=(square,), strips=(lace,)),))
    with ThreadPoolExecutor(1) as pool:
        context = SearchContext(SearchBudget(), pool, 0)
        candidate = first_candidate(LeatherProblem(job, (plain_hide(),)), context)
    missing = [(strips.strip.name, strips.count) for strips in candidate.missing_strips]
    assert missing
    again = with_strips_last(replace(candidate, strips_last=()))
    assert [(strips.strip.name, strips.count) for strips in again.missing_strips] == missing
    assert again.merit == candidate.merit


def test_laying_anew_never_gives_less():
    problem = LeatherProblem(generated_job(2, pieces=6), (generated_hide(2, "goat"),), goal=FILL)
    with ThreadPoolExecutor(2) as pool:
        context = SearchContext(SearchBudget(passes=8), pool, 0)
        candidate = first_candidate(problem, context)
        anew = reconstructed(candidate, context, 0.9)
    assert anew.merit >= candidate.merit
    assert context.budget.progress.passes >= 7


@pytest.mark.parametrize("spare", [0.1, 5.0])
def test_what_fits_only_by_its_exact_outline_has_a_place(spare: float):
    # A point every 2 mm, every other one 0.05 mm aside, so that thinning the edge takes something off the leather.
    side = 300.1 + spare
    edge = shapely.get_coordinates(shapely.segmentize(shapely.box(0.0, 0.0, side, side).exterior, 2.0))[:-1]
    drawn = edge + 0.05 * (np.arange(len(edge)) % 2)[:, None]
    hide = Hide(name="hide", leather="goat", outline=tuple((x, y) for x, y in drawn.tolist()))
    panel = Piece(name="panel", outline=((0.0, 0.0), (300.0, 0.0), (300.0, 300.0), (0.0, 300.0)))
    job = Job(name="tight", articles=(Article(name="bag", sets=1, pieces=(panel,)),), gap=0.0)
    with ThreadPoolExecutor(1) as pool:
        context = SearchContext(SearchBudget(), pool, 0)
        first = first_candidate(LeatherProblem(job, (hide,)), context)
        found = with_exact_outlines(first, context)
    assert first.complete == (spare > 1.0)
    assert found.complete
    assert found.problem.exact == (spare < 1.0)


def test_a_clock_that_has_run_out_leaves_laces_out_but_not_all_pieces():
    lace = Strip(name="lace", width=6.0, length=3000.0, count=3, use="lace", source="disc")
    square = Piece(name="square", outline=SQUARE)
    job = Job(name="laced", articles=(Article(name="bag", sets=4, pieces=(square,), strips=(lace,)),))
    with ThreadPoolExecutor(1) as pool:
        context = SearchContext(SearchBudget(seconds=-60.0), pool, 0)
        candidate = first_candidate(LeatherProblem(job, (plain_hide(),)), context)
    assert candidate.fields_used == {0}
    assert not candidate.strips_last
    assert [strips.count for strips in candidate.missing_strips] == [12]


def test_a_first_laying_may_overrun_the_clock_by_no_more_than_its_grace():
    budget = SearchBudget(seconds=1e-6)
    deadline = LayingDeadline(budget, 1000.0)
    assert not deadline(0)
    assert budget.is_overrun()
    assert not deadline(0), "nothing was tried yet"
    assert not deadline(1), "the grace begins with the first piece"
    budget._end -= MOST_GRACE * 1000.0
    assert deadline(2), "what came before had taken long"
    late = LayingDeadline(budget, 0.0)
    assert [late(0), late(1)] == [False, True]
