"""What the engine tells while it works: one Progress record, and an observer of methods that do nothing.

The window, the command line and the statistics each give an observer of their own. The engine never prints.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nestplan.model.plan import Placement

__all__ = ["Observer", "Progress"]


@dataclass(frozen=True)
class Progress:
    """Where the search stands, of its best state so far.

    `placed` of `asked` cut pieces and strips; `sets` whole sets of `sets_asked`; `cut_yield` is the cut area
    over the usable area of the hides in use, 0 to 1; `bound` an upper bound on whole sets; `passes` rounds of
    improvement done; `seconds` since the start; `left` seconds to go, None where the clock does not decide.
    """

    stage: str = "start"
    placed: int = 0
    asked: int = 0
    sets: int = 0
    sets_asked: int = 0
    cut_yield: float = 0.0
    bound: int = 0
    passes: int = 0
    seconds: float = 0.0
    left: float | None = None


class Observer:
    """Methods the engine calls. Each does nothing here; override what is of interest, and return soon.

    The engine may call from a thread of its own.
    """

    def on_start(self, progress: Progress) -> None:
        """The problem is read, nothing is laid yet."""

    def on_stage(self, progress: Progress) -> None:
        """A new stage begins: `strips`, `lay`, `complete`, `fill`, `gather`, `polish` or `check`."""

    def on_progress(self, progress: Progress) -> None:
        """Some times a second: where the best state stands."""

    def on_best(self, progress: Progress) -> None:
        """A better state was found."""

    def on_draft(self, lying: Callable[[], Sequence[Placement]]) -> None:
        """What was found better, for who wants to see it: `lying()` gives what lies where, copies not yet numbered.

        Ask now or not at all; it costs some milliseconds.
        """

    def on_end(self, progress: Progress) -> None:
        """The plan is made and checked."""
