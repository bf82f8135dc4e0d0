"""Where a search stands: it keeps the counts, tells the observer, and asks the stop rule.

Not here: the rules (`stopping`), the record that is passed on (`observing`), plans held ready for whoever stops the
search (`ready`).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from nestplan.model.plan import Placement
from nestplan.nesting.progress import Observer, Progress
from nestplan.nesting.stop_rules import Passes, Seconds, StopRule

__all__ = ["SearchBudget"]

TELL_EVERY = 0.2
"""Seconds between two calls of Observer.on_progress."""


class SearchBudget:
    """The one place where a search looks at the clock.

    Bounded by `seconds`, or by `passes` of improvement, or by neither: then Lay alone answers. `stop` is a rule of
    the caller's besides; where it lets the search wait, it tells by `waited` how many seconds so far, and the clock
    leaves them out. `reserve` seconds are kept for what comes after the search.
    """

    def __init__(
        self,
        *,
        seconds: float | None = None,
        passes: int | None = None,
        stop: StopRule | None = None,
        observer: Observer | None = None,
        reserve: float = 0.0,
    ) -> None:
        self.observer = observer or Observer()
        self.begun = time.monotonic()
        self.passes = passes if seconds is None else None
        self.seconds = seconds
        self._clock = None if seconds is None else Seconds(seconds)
        self._reserve = reserve
        self._bound: StopRule = Passes(passes or 0)
        self._caller = stop
        self._lock = threading.Lock()
        self._waited = 0.0
        self._told = 0.0
        self._abandoned = False
        self.progress = Progress()

    @property
    def may_end_early(self) -> bool:
        """Whether a clock or the caller can end the search before it has done what it was to do."""
        return self._clock is not None or self._caller is not None

    @property
    def left(self) -> float | None:
        """Seconds to go by the clock, what is kept in reserve included, never negative; None without a clock."""
        return None if self._clock is None else self._clock.left

    def overrun(self) -> float:
        """Seconds by which the clock is overrun; negative before its end. Without a clock never."""
        return -float("inf") if self._clock is None else time.monotonic() - self._clock.end

    def keep_back(self, reserve: float) -> None:
        """So many seconds are needed for what comes after the search."""
        self._reserve = reserve

    def stage(self, name: str) -> None:
        """A new stage begins."""
        self.note(stage=name)
        self._tell(lambda observer: observer.on_stage(self.progress))

    def note(self, **changes: object) -> None:
        """Change the progress record."""
        spent = time.monotonic() - self.begun
        self.progress = replace(self.progress, seconds=spent, left=self.left, **changes)  # type: ignore[arg-type]

    def better(self, **changes: object) -> None:
        """A better state was found."""
        self.note(**changes)
        self._tell(lambda observer: observer.on_best(self.progress))

    def show(self, lying: Callable[[], Sequence[Placement]]) -> None:
        """Let the observer see what lies where in a better state."""
        self._tell(lambda observer: observer.on_draft(lying))

    def count_pass(self) -> None:
        """One more pass of improvement is done."""
        self.note(passes=self.progress.passes + 1)

    def abandon(self) -> None:
        """Nobody waits for this search any more: it ends as soon as it can, and tells nothing further."""
        self._abandoned = True

    def over(self) -> bool:
        """Whether the search is to end; tells the observer now and then."""
        now = time.monotonic()
        if now - self._told >= TELL_EVERY:
            self._told = now
            self.note()
            self._tell(lambda observer: observer.on_progress(self.progress))
        called_off = self.called_off()
        bound = self._bound(self.progress) if self._clock is None else self._run_out()
        return bound or called_off

    def called_off(self) -> bool:
        """Whether the caller's own rule ends all work, whatever the bound says."""
        if self._abandoned:
            return True
        if self._caller is None:
            return False
        verdict = self._caller(self.progress)
        with self._lock:
            waited = float(getattr(self._caller, "waited", 0.0))
            if self._clock is not None and waited > self._waited:
                self._clock.end += waited - self._waited
                self._waited = waited
        return verdict or self._abandoned

    def called_off_at_once(self) -> bool:
        """Whether someone waits for the answer this moment: a rule of the caller's says so that does not merely
        look at the progress (`StopRule.at_once`, see `stopping`)."""
        if self._caller is None or not getattr(self._caller, "at_once", True):
            return False
        ask = getattr(self._caller, "asked_at_once", None)
        return bool(ask(self.progress)) if ask is not None else self.called_off()

    def told_off(self) -> bool:
        """As called_off, and the observer is told now and then: for work that the bound does not end."""
        self.over()
        return self.called_off()

    def late(self) -> bool:
        """Whether even the first answer should come to its end: the clock has run out, or the caller says so."""
        return self.called_off() or self._run_out()

    def used(self, since: float = 0.0) -> float:
        """Share of the bound used up, 0 to 1, counted from `since` (a share as given here before)."""
        share = 1.0
        if self._clock is not None:
            whole = self._clock.end - self._reserve - self.begun
            share = 1.0 if whole <= 0 else min((time.monotonic() - self.begun) / whole, 1.0)
        elif self.passes:
            share = min(self.progress.passes / self.passes, 1.0)
        return 1.0 if since >= 1.0 else max((share - since) / (1.0 - since), 0.0)

    def _run_out(self) -> bool:
        return self._clock is not None and self._clock.left <= self._reserve

    def _tell(self, call: Callable[[Observer], None]) -> None:
        if not self._abandoned:
            call(self.observer)
