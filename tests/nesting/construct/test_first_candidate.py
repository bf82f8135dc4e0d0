"""Candidates: strips laid anew around other poses, and pieces laid anew from other seeds."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from nestplan.model import Article, Job, Piece, Strip
from nestplan.model.goals import FILL
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.first_candidate import first_candidate, reconstructed, with_strips_last
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
