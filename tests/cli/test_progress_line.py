"""The live line of a search, and why it ended in words."""

from __future__ import annotations

from nestplan.cli.progress_line import ProgressLine, progress_line
from nestplan.nesting.progress import Progress


def test_the_line_says_what_is_placed_and_how_long_it_goes_on():
    shown: list[str] = []
    line = ProgressLine(shown.append)
    line.on_best(Progress(stage="lay", placed=3, asked=5, sets=1, sets_asked=2, cut_yield=0.5, left=4.2))
    assert shown == ["lay: 3 of 5 placed, 1 of 2 sets, 50.0% in cut shapes, 4 s left"]


def test_why_the_search_ended_is_said_in_words():
    with progress_line() as line:
        line.on_end(Progress(seconds=7.4, ended="done"))
        assert line.ending_in_words == "The search ended after 7 s: nothing is left to try."
        line.on_end(Progress(seconds=10.0, ended="time"))
        assert "time was used up" in line.ending_in_words
