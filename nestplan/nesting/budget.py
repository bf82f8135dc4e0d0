"""How long a search may go on: the clock, the rounds, whoever stops it, and where it stands.

The search asks its budget and knows no clock of its own.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from nestplan.model.plan import Placement
from nestplan.nesting.progress import Ending, Observer, Progress

__all__ = ["OVERRUN_SECONDS", "OVERRUN_SHARE", "Cancel", "SearchBudget", "StopRule"]

OVERRUN_SHARE = 0.1
OVERRUN_SECONDS = 3.0
"""A plan is handed out at the latest when the seconds asked are overrun by this share and so many seconds, everything
that comes after the search included."""
REPORT_EVERY = 0.2
"""Seconds between two calls of Observer.on_progress."""

StopRule = Callable[[Progress], bool]
"""Asked again and again; once it says yes, the best plan made so far is handed out at once."""


class Cancel:
    """The stop rule of someone who calls `cancel`, in any thread."""

    def __init__(self) -> None:
        self._event = threading.Event()

    def cancel(self) -> None:
        """Ask for the best plan so far."""
        self._event.set()

    @property
    def cancelled(self) -> bool:
        """Whether it was asked."""
        return self._event.is_set()

    def __call__(self, progress: Progress) -> bool:
        return self._event.is_set()


class SearchBudget:
    """The one place where a search looks at the clock.

    Bounded by `seconds`, or by `passes` of improvement, or by neither: then the first candidate is the answer. `stop`
    is the caller's own rule besides; where it lets the search wait, its `waited` tells how many seconds so far, and the
    clock leaves them out.
    """

    def __init__(
        self,
        *,
        seconds: float | None = None,
        passes: int | None = None,
        stop: StopRule | None = None,
        observer: Observer | None = None,
    ) -> None:
        self.observer = observer or Observer()
        self.started = time.monotonic()
        self.passes = passes if seconds is None else None
        self.seconds = seconds
        self.progress = Progress()
        self._end = None if seconds is None else self.started + seconds
        self._reserve = self._aside = 0.0
        self._stop = stop
        self._lock = threading.Lock()
        self._waited = 0.0
        self._reported = 0.0
        self._abandoned = False
        self._why_done: Ending = "done"

    @property
    def may_end_early(self) -> bool:
        """Whether a clock or the caller can end the search before it has done what it was to do."""
        return self._end is not None or self._stop is not None

    @property
    def seconds_left(self) -> float | None:
        """Seconds to go by the clock, the reserve included, never negative; None without a clock."""
        return None if self._end is None else max(self._end - time.monotonic(), 0.0)

    @property
    def seconds_overrun(self) -> float:
        """Seconds by which the clock is overrun, negative before its end; minus infinity without a clock."""
        return -math.inf if self._end is None else time.monotonic() - self._end

    def is_overrun(self) -> bool:
        """Whether the clock has run out, whatever was kept for what comes after the search."""
        return self.seconds_overrun > 0.0

    def reserve(self, seconds: float) -> None:
        """Keep so many seconds for what comes after the search, in place of those kept before."""
        self._reserve = seconds

    def set_aside(self, seconds: float) -> None:
        """Keep so many seconds for a later step of the search, besides what is reserved, in place of those before."""
        self._aside = seconds

    def is_spent(self) -> bool:
        """Whether the search is to end; reports progress now and then."""
        self.report()
        cancelled = self.cancelled()
        spent = self.progress.passes >= (self.passes or 0) if self._end is None else self._out_of_time()
        return spent or cancelled

    def cancelled(self) -> bool:
        """Whether the caller's own rule ends all work, whatever the clock or the passes say."""
        if self._abandoned:
            return True
        if self._stop is None:
            return False
        verdict = self._stop(self.progress)
        with self._lock:
            waited = float(getattr(self._stop, "waited", 0.0))
            if self._end is not None and waited > self._waited:
                self._end += waited - self._waited
                self._waited = waited
        return verdict or self._abandoned

    def deadline_passed(self) -> bool:
        """Whether even the first candidate should come to its end: the clock has run out, or the caller says so."""
        return self.cancelled() or self._out_of_time()

    def fraction_used(self) -> float:
        """Share of the clock or of the passes used up, 0 to 1."""
        if self._end is not None:
            whole = self._end - self._reserve - self._aside - self.started
            return 1.0 if whole <= 0 else min((time.monotonic() - self.started) / whole, 1.0)
        return min(self.progress.passes / self.passes, 1.0) if self.passes else 1.0

    def why_ended(self) -> Ending:
        """Why a search that ends now does so."""
        if self._stop is not None and self._stop(self.progress):
            return "stopped"
        if self._end is not None and self._out_of_time():
            return "time"
        if self._end is None and self.progress.passes >= (self.passes or 0):
            return "rounds"
        return self._why_done

    def note_end(self, why: Ending) -> None:
        """The step of the search that decides ends before its time, and why."""
        self._why_done = why

    def count_pass(self) -> None:
        """One more pass of improvement is done."""
        self.update(passes=self.progress.passes + 1)

    def abandon(self) -> None:
        """Nobody waits for this search any more: it ends as soon as it can, and reports nothing further."""
        self._abandoned = True

    def update(self, **changes: object) -> None:
        """Change the progress record."""
        spent = time.monotonic() - self.started
        self.progress = replace(self.progress, seconds=spent, left=self.seconds_left, **changes)  # type: ignore[arg-type]

    def begin_stage(self, name: str) -> None:
        """A new stage begins."""
        self.update(stage=name)
        self._tell(lambda observer: observer.on_stage(self.progress))

    def report(self) -> None:
        """Tell the observer where the search stands, if it was not told a moment ago."""
        now = time.monotonic()
        if now - self._reported >= REPORT_EVERY:
            self._reported = now
            self.update()
            self._tell(lambda observer: observer.on_progress(self.progress))

    def report_best(self, counts: dict[str, object], placements: Callable[[], Sequence[Placement]]) -> None:
        """A better candidate was found: its counts for the progress record, and what lies where."""
        self.update(**counts)
        self._tell(lambda observer: observer.on_best(self.progress))
        self._tell(lambda observer: observer.on_candidate(placements))

    def _out_of_time(self) -> bool:
        left = self.seconds_left
        return left is not None and left <= self._reserve + self._aside

    def _tell(self, call: Callable[[Observer], None]) -> None:
        if not self._abandoned:
            call(self.observer)
