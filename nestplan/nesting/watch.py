"""Where a search stands: it keeps the counts, tells the observer, and asks the stop rule.

Not here: the rules (`stopping`) and the record that is passed on (`observing`).
"""

from __future__ import annotations

import time
from dataclasses import replace

from nestplan.nesting.observing import Observer, Progress
from nestplan.nesting.stopping import Passes, Seconds, StopRule

__all__ = ["Watch"]

TELL_EVERY = 0.2
"""Seconds between two calls of Observer.on_progress."""


class Watch:
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
        self._clock = None if seconds is None else Seconds(max(seconds - reserve, 0.0))
        self._bound = self._clock or Passes(passes or 0)
        self._caller = stop
        self._waited = 0.0
        self._told = 0.0
        self.progress = Progress()

    def stage(self, name: str) -> None:
        """A new stage begins."""
        self.note(stage=name)
        self.observer.on_stage(self.progress)

    def note(self, **changes: object) -> None:
        """Change the progress record."""
        left = None if self._clock is None else self._clock.left
        spent = time.monotonic() - self.begun
        self.progress = replace(self.progress, seconds=spent, left=left, **changes)  # type: ignore[arg-type]

    def better(self, **changes: object) -> None:
        """A better state was found."""
        self.note(**changes)
        self.observer.on_best(self.progress)

    def count_pass(self) -> None:
        """One more pass of improvement is done."""
        self.note(passes=self.progress.passes + 1)

    def over(self) -> bool:
        """Whether the search is to end; tells the observer now and then."""
        now = time.monotonic()
        if now - self._told >= TELL_EVERY:
            self._told = now
            self.note()
            self.observer.on_progress(self.progress)
        called_off = self.called_off()
        return self._bound(self.progress) or called_off

    def called_off(self) -> bool:
        """Whether the caller's own rule ends all work, whatever the bound says."""
        if self._caller is None:
            return False
        verdict = self._caller(self.progress)
        waited = float(getattr(self._caller, "waited", 0.0))
        if self._clock is not None and waited > self._waited:
            self._clock.end += waited - self._waited
            self._waited = waited
        return verdict

    def told_off(self) -> bool:
        """As called_off, and the observer is told now and then: for work that the bound does not end."""
        self.over()
        return self.called_off()

    def late(self) -> bool:
        """Whether even the first answer should come to its end: the clock has run out, or the caller says so."""
        return self.called_off() or (self._clock is not None and self._clock.left <= 0.0)

    def used(self, since: float = 0.0) -> float:
        """Share of the bound used up, 0 to 1, counted from `since` (a share as given here before)."""
        share = 1.0
        if self._clock is not None:
            whole = self._clock.end - self.begun
            share = 1.0 if whole <= 0 else 1.0 - self._clock.left / whole
        elif self.passes:
            share = min(self.progress.passes / self.passes, 1.0)
        return 1.0 if since >= 1.0 else max((share - since) / (1.0 - since), 0.0)
