"""The best checked plan so far, made beside the search, so that whoever stops it has an answer at once.

Three threads meet here. The search offers its candidates; a second thread makes plans of them now and then; the
caller's thread waits for the search's own end, a stop rule that says so, or a clock that is overrun. A search that
neither a clock nor the caller can end early runs without all this, in the caller's thread.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, wait
from dataclasses import dataclass, replace

from nestplan.model.plan import Plan
from nestplan.nesting.budget import OVERRUN_SECONDS, OVERRUN_SHARE, SearchBudget
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.first_candidate import with_strips_last
from nestplan.nesting.result.plan_builder import PlanBuilder
from nestplan.nesting.steps import can_improve

__all__ = ["PlanPublisher", "plan_in_time"]

LOOK_EVERY = 0.02
"""Seconds between two looks of the waiting thread."""
IDLE_SHARE = 4.0
"""The second thread rests this many times as long as it worked, so that the search has the machine."""
OVERRUN_FIXED = OVERRUN_SECONDS - 1.5
"""Seconds, besides OVERRUN_SHARE, by which the search may overrun those asked before the best plan so far is given
instead; the rest is the caller's, who may measure what is left and write it down."""
DESCRIBING_SHARE = 0.6
"""Share of these seconds after which nothing more is looked for that is only said of a plan: reasons, measures."""
MOST_RESERVE = 0.3
"""Share of the seconds asked that is kept at most for what comes after the search."""
FULL_TO_BRIEF = 3.0
"""How many times as long as a plan in brief one in full takes, until it is known."""
PATIENCE = 1.0
"""Seconds that a caller who stops waits for a plan that is just being made, where there is none yet."""
FEW_PIECES = 100
"""Pieces up to which the last plan is made so soon that none in brief is worth making before it."""


@dataclass(frozen=True, eq=False)
class _Published:
    """A plan, the candidate that it shows, and the newest candidate offered that it is known to be as good as."""

    plan: Plan
    candidate: Candidate
    offered: Candidate
    is_full: bool


class PlanPublisher:
    """Makes plans of the candidates offered, and holds the best of them.

    Its contract, under any number of threads: `best` gives the plan published last, which the audit has checked, and
    never one of a candidate offered before that plan's. `wait` gives it at once, or soon. `final` gives the plan of the
    search's last candidate. What goes wrong in making a plan is raised from each of them. After `close` nothing more is
    published.
    """

    def __init__(self, builder: PlanBuilder, budget: SearchBudget) -> None:
        self._builder = builder
        self._budget = budget
        self._costs = _PlanCosts(budget)
        self._changed = threading.Condition()
        self._newest: Candidate | None = None
        self._held_back: Candidate | None = None
        self._published: _Published | None = None
        self._in_progress: Candidate | None = None
        self._failure: BaseException | None = None
        self._closed = False

    def offer(self, candidate: Candidate) -> None:
        """Take a better candidate than those before, from the search's thread.

        Of the first one the plan is made here and now, with nothing beside it that takes the machine, so that there is
        one soon; unless it is small and the search has nothing to better in it, so that `final` comes in a moment.
        """
        if self._budget.cancelled():
            return
        is_first = self._newest is None
        if is_first and not can_improve(candidate) and len(candidate.poses.field) <= FEW_PIECES:
            self._held_back = candidate
            return
        with self._changed:
            self._newest = candidate
            self._changed.notify_all()
        if is_first and self._budget.may_end_early:
            self._publish_brief(candidate)

    def best(self) -> Plan | None:
        """The plan published last; None before there is one."""
        if self._failure is not None:
            raise self._failure
        published = self._published
        return None if published is None else published.plan

    def wait(self) -> Plan:
        """The plan published last; before there is one, that of the first candidate if it is made in a second, else
        one with nothing on it but what is kept."""
        with self._changed:
            if self._newest is not None:
                self._changed.wait_for(lambda: self._published or self._failure, PATIENCE)
        plan = self.best()
        if plan is not None:
            return plan
        return self._builder.empty() if self._held_back is None else self._builder.brief(self._held_back)

    def final(self, candidate: Candidate) -> Plan:
        """The plan of the search's last candidate, made in brief where the clock leaves no time for more."""
        with self._changed:
            # Where the second thread is at this very plan, it is waited for; whatever else it would make comes late.
            self._changed.wait_for(lambda: self._in_progress is not candidate)
            self._closed = True
            self._changed.notify_all()
            published = self._published
        is_of_it = published is not None and published.candidate is candidate
        # Late, a plan in full would say no more than the one in brief.
        if published is not None and is_of_it and (published.is_full or self._deadline_passed()):
            return published.plan
        if self._costs.has_time_for_full():
            return self._builder.full(candidate, deadline_passed=self._deadline_passed)
        return self._builder.brief(candidate)

    def run(self) -> None:
        """Make plans of what is offered, until closed: for a thread of its own. In brief first; in full of what has
        not been bettered meanwhile."""
        while (candidate := self._next()) is not None:
            began = time.monotonic()
            is_new = self._published is None or candidate is not self._published.offered
            try:
                if is_new or self._published is None:
                    self._publish_brief(candidate)
                else:
                    self._publish_full(self._published)
            except BaseException as failure:
                with self._changed:
                    self._failure = failure
                    self._changed.notify_all()
                return
            self._rest(IDLE_SHARE * (time.monotonic() - began), until_newer=not is_new)

    def _rest(self, seconds: float, *, until_newer: bool) -> None:
        """Leave the machine to the search for so long; after a plan in full only until there is something newer, of
        which there is no plan at all yet."""

        def is_over() -> bool:
            published = self._published
            newer = published is not None and published.offered is not self._newest
            return self._closed or (until_newer and newer)

        with self._changed:
            self._changed.wait_for(is_over, seconds)

    def close(self) -> None:
        """No more plans are wanted."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def _next(self) -> Candidate | None:
        """The candidate to make a plan of, once there is one; None when closed."""

        def is_due() -> bool:
            published = self._published
            return published is not None and not (published.is_full and published.offered is self._newest)

        with self._changed:
            self._changed.wait_for(lambda: self._closed or is_due())
            return None if self._closed else self._newest

    def _publish_brief(self, offered: Candidate) -> None:
        began = time.monotonic()
        candidate = with_strips_last(offered) if offered.stale_strips else offered
        published = self._published
        if published is not None and candidate.is_worse_than(offered):
            found = replace(published, offered=offered)
        else:
            found = _Published(self._builder.brief(candidate), candidate, offered, is_full=False)
        self._publish(found)
        self._costs.note_brief(time.monotonic() - began)

    def _publish_full(self, published: _Published) -> None:
        with self._changed:
            if self._closed:
                return
            self._in_progress = published.candidate
        try:
            # Once for all plans, and within a time of its own: no part of what a plan costs.
            self._builder.prove_bounds(published.candidate, self._deadline_passed)
            began = time.monotonic()
            plan = self._builder.full(
                published.candidate, deadline_passed=lambda: self._closed or self._deadline_passed()
            )
            self._publish(replace(published, plan=plan, is_full=True))
        finally:
            with self._changed:
                self._in_progress = None
                self._changed.notify_all()
        self._costs.note_full(time.monotonic() - began)

    def _publish(self, found: _Published) -> None:
        with self._changed:
            if not self._closed:
                self._published = found
            self._changed.notify_all()

    def _deadline_passed(self) -> bool:
        """Whether what is only said of a plan, such as the reasons, is to be left out from here on."""
        spare = OVERRUN_SHARE * (self._budget.seconds or 0.0) + DESCRIBING_SHARE * OVERRUN_FIXED
        return self._budget.cancelled() or self._budget.seconds_overrun > spare


class _PlanCosts:
    """How many seconds plans take to make; what the last one will take is kept in reserve by the budget."""

    def __init__(self, budget: SearchBudget) -> None:
        self._budget = budget
        self._brief = self._full = 0.0

    def note_brief(self, seconds: float) -> None:
        """A plan in brief took so many seconds."""
        self._brief = seconds
        self._reserve(max(FULL_TO_BRIEF * seconds, self._full))

    def note_full(self, seconds: float) -> None:
        """A plan in full took so many seconds."""
        self._full = seconds
        self._reserve(seconds)

    def has_time_for_full(self) -> bool:
        """Whether the clock leaves time for a plan in full."""
        left, asked = self._budget.seconds_left, self._budget.seconds
        if left is None or asked is None:
            return True
        return (self._full or FULL_TO_BRIEF * self._brief) <= left + OVERRUN_SHARE * asked + OVERRUN_FIXED

    def _reserve(self, seconds: float) -> None:
        asked = self._budget.seconds
        if asked is not None:
            self._budget.reserve(min(max(seconds - OVERRUN_SHARE * asked, 0.0), MOST_RESERVE * asked))


def plan_in_time(search: Callable[[], Plan], publisher: PlanPublisher, budget: SearchBudget) -> Plan:
    """What `search` gives, or the best plan so far if the caller's rule ends it first or its clock is overrun.

    Raises what `search` raises.
    """
    if not budget.may_end_early:
        return search()
    answer: Future[Plan] = Future()

    def run() -> None:
        try:
            answer.set_result(search())
        except BaseException as failure:
            answer.set_exception(failure)

    threading.Thread(target=run, name="nestplan-search").start()
    threading.Thread(target=publisher.run, name="nestplan-publisher").start()
    allowed = OVERRUN_SHARE * (budget.seconds or 0.0) + OVERRUN_FIXED
    try:
        while not wait([answer], LOOK_EVERY).done:
            overrun = budget.seconds_overrun > allowed and publisher.best() is not None
            if budget.cancelled() or overrun:
                return publisher.wait()
        return answer.result()
    finally:
        budget.abandon()
        publisher.close()
