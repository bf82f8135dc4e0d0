"""How long a search may go on: the clock, the rounds, who stops it; and candidates can be seen."""

from __future__ import annotations

import time

from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from nestplan.nesting.budget import Cancel, SearchBudget
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


def test_seconds_end_a_search_when_the_time_is_over() -> None:
    assert SearchBudget(seconds=0.0).is_spent()
    budget = SearchBudget(seconds=100.0)
    assert not budget.is_spent()
    assert 99.0 < budget.seconds_left <= 100.0
    assert -100.0 <= budget.seconds_overrun < -99.0


def test_passes_end_a_search_at_their_number() -> None:
    budget = SearchBudget(passes=3)
    ended = []
    for _ in range(5):
        ended.append(budget.is_spent())
        budget.count_pass()
    assert ended == [False, False, False, True, True]
    assert SearchBudget().is_spent()


def test_the_share_used_goes_by_passes_or_by_the_clock_less_its_reserve() -> None:
    budget = SearchBudget(passes=4)
    budget.count_pass()
    assert budget.fraction_used() == 0.25
    assert SearchBudget().fraction_used() == 1.0
    budget = SearchBudget(seconds=100.0)
    assert budget.fraction_used() < 0.01
    budget.reserve(100.0)
    assert budget.fraction_used() == 1.0
    assert budget.is_spent()


def test_cancel_stops_only_once_asked() -> None:
    rule = Cancel()
    assert not rule(Progress())
    rule.cancel()
    assert rule(Progress())
    assert rule.cancelled


def test_a_search_that_is_abandoned_ends_and_reports_nothing_more() -> None:
    heard = []

    class Hearing(Observer):
        def on_stage(self, progress):  # type: ignore[no-untyped-def]
            heard.append(progress.stage)

    budget = SearchBudget(seconds=60.0, observer=Hearing())
    budget.begin_stage("lay")
    budget.abandon()
    budget.begin_stage("check")
    assert heard == ["lay"]
    assert budget.is_spent()
    assert budget.deadline_passed()


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


def test_why_a_search_ended_is_told_apart() -> None:
    assert SearchBudget(seconds=0.0).why_ended() == "time"
    assert SearchBudget(seconds=60.0).why_ended() == "done"
    assert SearchBudget(passes=0).why_ended() == "rounds"
    assert SearchBudget(passes=3).why_ended() == "done"
    cancel = Cancel()
    cancel.cancel()
    assert SearchBudget(seconds=60.0, stop=cancel).why_ended() == "stopped"
    overrun = SearchBudget(seconds=0.0)
    overrun.abandon()
    assert overrun.why_ended() == "time", "nobody stopped it: its clock was overrun"


def test_seconds_set_aside_for_a_later_step_are_not_spent_by_those_before() -> None:
    budget = SearchBudget(seconds=60.0)
    budget.set_aside(59.99)
    time.sleep(0.02)
    assert budget.is_spent()
    assert budget.fraction_used() == 1.0
    budget.set_aside(0.0)
    assert not budget.is_spent()


def test_a_search_that_ends_before_its_time_says_why() -> None:
    budget = SearchBudget(passes=2)
    assert budget.why_ended() == "done"
    budget.note_end("no gain")
    assert budget.why_ended() == "no gain"
    budget.count_pass()
    budget.count_pass()
    assert budget.why_ended() == "rounds"
