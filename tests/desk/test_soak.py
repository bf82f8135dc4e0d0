"""A random user at the real window for a short while: nothing raises, and undo leads back to the start."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from tests.desk import soak as soaking
from tests.desk.soak import Report, soak


def test_a_random_user_meets_no_fault_and_undo_leads_back_to_the_start(qapp):
    report = soak(5, seconds=60.0, steps_a_round=60, rounds=2)
    assert report.rounds >= 1
    assert report.steps >= 60
    assert report.faults == []


def test_what_raises_and_what_undo_does_not_bring_back_is_noticed(qapp, monkeypatch):
    be_quiet = soaking._be_quiet

    def spoil(window):
        be_quiet(window)
        window.document.contents = type(window.document.contents)()
        QTimer.singleShot(0, window, lambda: 1 / 0)
        QApplication.processEvents()
        while window.document.stack.canUndo():
            window.document.stack.undo()
        window.document.contents = type(window.document.contents)()

    monkeypatch.setattr(soaking, "_be_quiet", spoil)
    report = soak(6, seconds=30.0, steps_a_round=5, rounds=1)
    assert any("ZeroDivisionError" in fault for fault in report.faults)
    assert any("does not give the start" in fault for fault in report.faults)


def test_growth_is_told_by_what_is_held_at_the_end():
    steady = Report(megabytes=[100, 300, 350, 400, 410, 405, 402, 409, 411, 404])
    assert steady.grown < 10
    leaking = Report(megabytes=[float(100 + 20 * n) for n in range(20)])
    assert leaking.grown > 200
