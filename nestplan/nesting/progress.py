"""What the engine reports while it works: one Progress record, and an observer of methods that do nothing.

The window, the command line and the statistics each give an observer of their own. The engine never prints.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from nestplan.model.plan import Placement

__all__ = ["Ending", "Observer", "Progress"]


Ending = Literal["time", "rounds", "stopped", "no gain", "bound", "done"]
"""Why a search is over: the clock ran out, the rounds are made, the caller stopped it, nothing was gained for long,
fewer hides are proven not to do, there is nothing left to try."""


@dataclass(frozen=True)
class Progress:
    """Where the search stands, of its best candidate so far.

    `stage` is the word for what it does now; `placed` of `asked` cut pieces and strips; `sets` whole sets of
    `sets_asked`; `cut_yield` the cut area over the usable area of the hides in use, 0 to 1; `passes` rounds of
    improvement done; `seconds` since the start; `left` seconds to go, None where the clock does not decide; `ended` why
    the search is over, empty while it goes on.
    """

    stage: str = "start"
    placed: int = 0
    asked: int = 0
    sets: int = 0
    sets_asked: int = 0
    cut_yield: float = 0.0
    passes: int = 0
    seconds: float = 0.0
    left: float | None = None
    ended: Ending | Literal[""] = ""


class Observer:
    """Methods the engine calls. Each does nothing here; override what is of interest, and return soon.

    The engine may call from a thread of its own.
    """

    def on_start(self, progress: Progress) -> None:
        """The problem is read, nothing is placed yet."""

    def on_stage(self, progress: Progress) -> None:
        """A new stage begins: `strips`, `lay`, `check`, or that of a step of the goal."""

    def on_progress(self, progress: Progress) -> None:
        """Some times a second: where the best candidate stands."""

    def on_best(self, progress: Progress) -> None:
        """A better candidate was found."""

    def on_candidate(self, placements: Callable[[], Sequence[Placement]]) -> None:
        """The better candidate, for who wants to see it: `placements()` gives what lies where, copies not yet numbered.

        Ask now or not at all; it costs some milliseconds.
        """

    def on_end(self, progress: Progress) -> None:
        """The plan is made and checked."""
