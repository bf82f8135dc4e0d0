"""How long a search may go on: the clock, the rounds, who stops it; and candidates can be seen."""

from __future__ import annotations

import time

from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.nest import nest
from nestplan.nesting.progress import Observer, Progress


class _Waiting:
    """A rule that lets the search wait for a fifth of a second, once."""

    def __init__(self) -> None:
        self.waited = 0.0

    def __call__(self, progress: Progress) -> bool:
        if not self.waited:
            time.sleep(0.2)
            self.waited = 0.2
        return False


def test_the_clock_leaves_out_what_the_callers_rule_waits() -> None:
    budget = SearchBudget(seconds=0.1, stop=_Waiting())
    assert not budget.is_spent()
    time.sleep(0.12)
    assert budget.is_spent()


def test_a_rule_that_says_so_ends_the_search_at_once() -> None:
    assert SearchBudget(seconds=60.0, stop=lambda progress: True).is_spent()


def test_the_observer_sees_what_lies_where() -> None:
    square = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
    job = Job(
        name="squares",
        articles=(Article(name="square", sets=3, pieces=(Piece(name="square", outline=square),)),),
    )
    sheet = Hide(name="sheet", leather="leather", outline=((0, 0), (500, 0), (500, 300), (0, 300)))
    seen = []

    class Looking(Observer):
        def on_candidate(self, placements):  # type: ignore[no-untyped-def]
            seen.append(placements())

    plan = nest(job, (sheet,), passes=0, observer=Looking())
    assert len(plan.placements) == 3
    assert [placement.hide for placement in seen[-1]] == ["sheet"] * 3
