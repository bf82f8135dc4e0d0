"""Drafts: strips laid anew around other poses, and pieces laid anew from other seeds."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from nestplan.model import Article, Job, Piece, Strip
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.candidate import first_draft, laid_anew, with_strips_after
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from tests.generated_hides import generated_hide, generated_job
from tests.small_jobs import SQUARE, plain_hide


def test_strips_laid_again_are_missed_once():
    lace = Strip(name="lace", width=8.0, length=60000.0, count=1, use="lace", source="disc")
    square = Piece(name="square", outline=SQUARE)
    job = Job(name="laced", articles=(Article(name="bag", sets=8, pieces=(square,), strips=(lace,)),))
    with ThreadPoolExecutor(1) as pool:
        draft = first_draft(LeatherProblem(job, (plain_hide(),)), SearchContext(SearchBudget(), pool, 0))
    missing = [(w.strip.name, w.count) for w in draft.missing]
    assert missing
    again = with_strips_after(replace(draft, after=()))
    assert [(w.strip.name, w.count) for w in again.missing] == missing
    assert again.merit == draft.merit


def test_laying_anew_never_gives_less():
    task = LeatherProblem(generated_job(2, pieces=6), (generated_hide(2, "goat"),), beyond=True)
    with ThreadPoolExecutor(2) as pool:
        work = SearchContext(SearchBudget(passes=8), pool, 0)
        draft = first_draft(task, work)
        anew = laid_anew(draft, work, 0.9)
    assert anew.merit >= draft.merit
    assert work.watch.progress.passes >= 7
