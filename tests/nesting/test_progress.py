"""What the engine reports to whoever listens."""

from __future__ import annotations

from nestplan.nesting.progress import Observer, Progress


def test_an_observer_may_leave_every_method_out():
    observer = Observer()
    for call in (
        observer.on_start,
        observer.on_stage,
        observer.on_progress,
        observer.on_best,
        observer.on_end,
    ):
        assert call(Progress()) is None
    assert observer.on_candidate(list) is None


def test_progress_begins_with_nothing_placed_and_no_clock():
    progress = Progress()
    assert (progress.stage, progress.placed, progress.asked, progress.left) == ("start", 0, 0, None)
