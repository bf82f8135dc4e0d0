"""The live line of a search on standard error, and why the search ended, in words."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from nestplan.nesting.progress import Observer, Progress

__all__ = ["ProgressLine", "progress_line"]

_ENDINGS = {
    "": "it gave its best plan so far",
    "time": "the time was used up",
    "rounds": "all rounds were made",
    "stopped": "it was stopped",
    "no gain": "nothing was gained for long",
    "bound": "all of it needs as many hides",
    "done": "nothing is left to try",
}


class ProgressLine(Observer):
    """Shows placed, yield and time left on one line, and keeps why the search ended."""

    def __init__(self, show: Callable[[str], None]) -> None:
        self._show = show
        self._last = Progress()

    @property
    def ending_in_words(self) -> str:
        """Why the search ended, as a sentence."""
        return f"The search ended after {self._last.seconds:.0f} s: {_ENDINGS[self._last.ended]}."

    def on_progress(self, progress: Progress) -> None:
        left = "" if progress.left is None else f", {progress.left:.0f} s left"
        self._show(
            f"{progress.stage}: {progress.placed} of {progress.asked} placed, "
            f"{progress.sets} of {progress.sets_asked} sets, {progress.cut_yield:.1%} in cut shapes{left}"
        )

    on_start = on_stage = on_best = on_progress

    def on_end(self, progress: Progress) -> None:
        self._last = progress


def _to_nobody(words: str) -> None:
    """Where there is no terminal to show a line on."""


@contextmanager
def progress_line() -> Iterator[ProgressLine]:
    """An observer that keeps one live line on standard error, where that is a terminal."""
    if not sys.stderr.isatty():
        yield ProgressLine(_to_nobody)
        return
    from rich.console import Console

    with Console(stderr=True).status("reading the hides") as status:
        yield ProgressLine(status.update)
