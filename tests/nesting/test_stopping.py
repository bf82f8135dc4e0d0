"""Each stop rule alone, and combined."""

from __future__ import annotations

from nestplan.nesting.progress import Observer, Progress
from nestplan.nesting.stop_rules import AllPlaced, AnyOf, Cancel, NoGain, Passes, Seconds


def test_seconds_stop_when_the_time_is_over():
    assert Seconds(0.0)(Progress())
    rule = Seconds(100.0)
    assert not rule(Progress())
    assert 99.0 < rule.left <= 100.0


def test_passes_stop_at_their_number():
    rule = Passes(3)
    assert [rule(Progress(passes=n)) for n in range(5)] == [False, False, False, True, True]


def test_all_placed_waits_for_the_last_piece():
    assert not AllPlaced()(Progress(placed=4, asked=5))
    assert AllPlaced()(Progress(placed=5, asked=5))
    assert not AllPlaced()(Progress())


def test_no_gain_counts_passes_since_the_last_rise():
    rule = NoGain(2)
    values = [0.1, 0.2, 0.2, 0.3, 0.3, 0.3]
    assert [rule(Progress(passes=n, cut_yield=v)) for n, v in enumerate(values)] == [False] * 5 + [True]


def test_cancel_stops_only_once_asked():
    rule = Cancel()
    assert not rule(Progress())
    rule.cancel()
    assert rule(Progress())
    assert rule.cancelled


def test_any_of_asks_every_rule_so_that_counting_rules_keep_count():
    counting = NoGain(2)
    both = AnyOf(Passes(1), None, counting)
    assert [both(Progress(passes=n)) for n in range(3)] == [False, True, True]
    assert counting(Progress(passes=2))


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
