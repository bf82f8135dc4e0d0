"""The best plan so far, made and judged beside the search, so that whoever stops it has an answer at once.

What lives here: the search in a thread of its own, a second thread that turns its drafts into plans now and then,
and the caller's thread, which waits for the first of: the search's own end, a stop rule that says so, a clock that
is overrun. What does not: how a draft becomes a plan (`answers`), when to stop (`watch`, `stopping`).

A search that neither a clock nor a caller can end early runs without all this, in the caller's thread.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from nestplan.model.plan import Plan
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.candidate import Candidate, with_strips_after
from nestplan.nesting.result.plan_builder import PlanBuilder

__all__ = ["PlanPublisher", "wait_for"]

LOOK_EVERY = 0.02
"""Seconds between two looks of the waiting thread."""
IDLE_SHARE = 4.0
"""The second thread rests this many times as long as it worked, so that the search has the machine."""
OVERRUN = 0.1
"""Share of the seconds asked by which the search may overrun them before the plan at hand is given instead."""
OVERRUN_FIXED = 3.0
"""Seconds more, for what comes after the search: above all why something is not placed."""
MOST_RESERVE = 0.3
"""Share of the seconds asked that is kept at most for what comes after the search."""
WHOLE_COSTS = 3.0
"""How many times as long as a plan in brief one in full takes, until it is known."""
MAKING = 1.0
"""Seconds that a caller who stops waits for a plan that is just being made, where there is none yet."""
SOON = 100
"""Pieces up to which the last plan is made so soon that none in brief is worth making before it."""


class PlanPublisher:
    """Holds the plan of the best draft offered, or of one shortly before it."""

    def __init__(self, answers: PlanBuilder, watch: SearchBudget) -> None:
        self._answers = answers
        self._watch = watch
        self._news = threading.Condition()
        self._draft: Candidate | None = None
        self._plan: Plan | None = None
        self._briefed: Candidate | None = None
        self._planned: Candidate | None = None
        self._whole_of: Candidate | None = None
        self._whole: tuple[Candidate, Plan] | None = None
        self._making: Candidate | None = None
        self._soon: Candidate | None = None
        self._closed = False
        self._fault: BaseException | None = None
        self._brief_cost = self._whole_cost = 0.0

    def offer(self, draft: Candidate) -> None:
        """A better draft than those before. Of the first one the plan is made here and now, with nothing beside it
        that takes the machine, so that it is at hand soon."""
        if self._watch.called_off():
            return
        if self._draft is None and self._answers.is_last(draft) and len(draft.poses.field) <= SOON:
            self._soon = draft
            return
        first = self._draft is None and self._watch.may_end_early
        with self._news:
            self._draft = draft
            if not first:
                self._news.notify_all()
        if first:
            self._make_brief(draft)
            with self._news:
                self._news.notify_all()

    def close(self) -> None:
        """No more plans are wanted."""
        with self._news:
            self._closed = True
            self._news.notify_all()

    @property
    def plan(self) -> Plan | None:
        """The plan at hand; None before there is one. Raises what went wrong in making one."""
        if self._fault is not None:
            raise self._fault
        return self._plan

    def at_hand(self) -> Plan:
        """The plan at hand; before there is one, that of the first draft if there is one, else an empty one."""
        with self._news:
            if self._plan is None and self._draft is not None:
                self._news.wait_for(lambda: self._plan is not None or self._fault is not None, MAKING)
        return self.plan or self._answers.brief(self._soon)

    def last(self, draft: Candidate) -> Plan:
        """The plan of the search's last draft, made in brief where the clock leaves no time for more."""
        with self._news:
            # Where the second thread is at this very plan, it is waited for rather than made twice.
            self._news.wait_for(lambda: self._making is not draft)
            whole = self._whole
        if whole is not None and whole[0] is draft:
            return whole[1]
        left, asked = self._watch.left, self._watch.seconds
        if left is not None and asked is not None:
            cost = self._whole_cost or WHOLE_COSTS * self._brief_cost
            if cost > left + OVERRUN * asked + OVERRUN_FIXED:
                return self._answers.brief(draft)
        return self._answers.full(draft, late=self._late)

    def keep(self) -> None:
        """Make plans of what is offered, until closed: for a thread of its own. In brief first; in full what has
        not been bettered meanwhile."""
        while (draft := self._awaited()) is not None:
            began = time.monotonic()
            try:
                if draft is self._briefed:
                    self._make_whole(draft)
                else:
                    self._make_brief(draft)
            except BaseException as fault:
                with self._news:
                    self._fault = fault
                    self._news.notify_all()
                return
            rest = IDLE_SHARE * (time.monotonic() - began)
            with self._news:
                self._news.wait_for(lambda: self._closed, rest)

    def _awaited(self) -> Candidate | None:
        """The draft to make a plan of, once there is one; None when closed."""
        with self._news:
            self._news.wait_for(lambda: self._closed or (self._plan and self._draft is not self._whole_of))
            return None if self._closed else self._draft

    def _make_brief(self, offered: Candidate) -> None:
        began = time.monotonic()
        draft = with_strips_after(offered) if offered.later else offered
        if self._plan is None or draft.merit[:2] >= offered.merit[:2]:
            plan = self._answers.brief(draft)
            with self._news:
                self._plan, self._planned = plan, draft
                self._news.notify_all()
        self._briefed = offered
        self._brief_cost = time.monotonic() - began
        self._keep_back(max(WHOLE_COSTS * self._brief_cost, self._whole_cost))

    def _make_whole(self, offered: Candidate) -> None:
        began = time.monotonic()
        draft = self._planned
        assert draft is not None
        with self._news:
            if self._closed:
                return
            self._making = draft
        try:
            plan = self._answers.full(draft, late=lambda: self._closed or self._late())
            with self._news:
                if not self._closed:
                    self._plan, self._whole_of, self._whole = plan, offered, (draft, plan)
        finally:
            with self._news:
                self._making = None
                self._news.notify_all()
        self._whole_cost = time.monotonic() - began
        self._keep_back(self._whole_cost)

    def _late(self) -> bool:
        """Whether what is only said of a plan, such as the reasons, is to be left out from here on."""
        spare = OVERRUN * (self._watch.seconds or 0.0) + 0.7 * OVERRUN_FIXED
        return self._watch.called_off() or self._watch.overrun() > spare

    def _keep_back(self, cost: float) -> None:
        asked = self._watch.seconds
        if asked is not None:
            self._watch.keep_back(min(max(cost - OVERRUN * asked, 0.0), MOST_RESERVE * asked))


def wait_for(search: Callable[[], Plan], ready: PlanPublisher, watch: SearchBudget) -> Plan:
    """What `search` gives, or the plan at hand if the caller's rule ends it first or its clock is overrun."""
    if not watch.may_end_early:
        return search()
    found: list[Plan] = []
    failed: list[BaseException] = []
    over = threading.Event()

    def run() -> None:
        try:
            found.append(search())
        except BaseException as fault:
            failed.append(fault)
        finally:
            over.set()

    threading.Thread(target=run, name="nestplan-search").start()
    threading.Thread(target=ready.keep, name="nestplan-ready").start()
    allowed = OVERRUN * (watch.seconds or 0.0) + OVERRUN_FIXED
    try:
        while not over.wait(LOOK_EVERY):
            if watch.called_off_at_once() or (watch.overrun() > allowed and ready.plan is not None):
                return ready.at_hand()
        if failed:
            raise failed[0]
        return found[0]
    finally:
        watch.abandon()
        ready.close()
