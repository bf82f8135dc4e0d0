"""When to stop: small rules, each a callable that looks at the progress and answers yes or no.

The search asks `stop(progress)` and knows no clock. Any callable of that form will do. A rule that says yes gets the
best plan made so far at once; one whose `at_once` is False, since it merely looks at the progress and nobody waits for
it, gets the plan of the state it saw.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from nestplan.nesting.progress import Progress

__all__ = ["AllPlaced", "AnyOf", "Cancel", "NoGain", "Passes", "Seconds", "StopRule"]

StopRule = Callable[[Progress], bool]


class Seconds:
    """Stops so many seconds after it was made."""

    at_once = False

    def __init__(self, limit: float) -> None:
        self.end = time.monotonic() + limit

    @property
    def left(self) -> float:
        """Seconds to go, never negative."""
        return max(self.end - time.monotonic(), 0.0)

    def __call__(self, progress: Progress) -> bool:
        return time.monotonic() >= self.end


class Passes:
    """Stops after so many passes: the rule for plans that must come out the same again."""

    at_once = False

    def __init__(self, limit: int) -> None:
        self.limit = limit

    def __call__(self, progress: Progress) -> bool:
        return progress.passes >= self.limit


class AllPlaced:
    """Stops once everything asked for lies."""

    at_once = False

    def __call__(self, progress: Progress) -> bool:
        return progress.asked > 0 and progress.placed >= progress.asked


class NoGain:
    """Stops when the best value has not risen for so many passes."""

    at_once = False

    def __init__(self, passes: int) -> None:
        self.passes = passes
        self._best: tuple[int, int, float] | None = None
        self._since = 0

    def __call__(self, progress: Progress) -> bool:
        value = (progress.sets, progress.placed, progress.cut_yield)
        if self._best is None or value > self._best:
            self._best, self._since = value, progress.passes
        return progress.passes - self._since >= self.passes


class Cancel:
    """Stops when someone, in any thread, has called `cancel`."""

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


class AnyOf:
    """Stops as soon as one of its rules says so; each is asked every time, since some keep count."""

    def __init__(self, *rules: StopRule | None) -> None:
        flat = [part for rule in rules if rule is not None for part in getattr(rule, "rules", (rule,))]
        self.rules: tuple[StopRule, ...] = tuple(flat)

    def __call__(self, progress: Progress) -> bool:
        answers = [rule(progress) for rule in self.rules]
        return any(answers)

    @property
    def at_once(self) -> bool:
        """Whether there is a rule among its own that wants the answer at once."""
        return any(getattr(rule, "at_once", True) for rule in self.rules)

    def asked_at_once(self, progress: Progress) -> bool:
        """Whether one of those rules says so."""
        answers = [rule(progress) for rule in self.rules if getattr(rule, "at_once", True)]
        return any(answers)
