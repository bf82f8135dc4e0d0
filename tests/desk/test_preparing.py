"""The first start: the engine is made ready while the window can be used, and it is said."""

from __future__ import annotations

import time

import pytest
from PySide6.QtWidgets import QApplication

from nestplan.desk.background.preparing import prepare_in_background
from tests.desk.small_work import sheet


@pytest.mark.parametrize("prepared", [False, True])
def test_the_window_can_be_used_while_the_engine_is_made_ready(window, qtbot, monkeypatch, prepared):
    calls = []

    def prepare():
        time.sleep(0.5)
        calls.append("compiled")

    monkeypatch.setattr("nestplan.nesting.precompile.is_prepared", lambda **_: prepared)
    monkeypatch.setattr("nestplan.nesting.precompile.prepare", prepare)
    told = []
    task = prepare_in_background(window, told.append)
    window.document.add_hide(sheet())
    QApplication.processEvents()
    assert window.document.hide is not None
    qtbot.waitUntil(lambda: not task.running, timeout=60_000)
    assert calls == ([] if prepared else ["compiled"])
    assert len(told) == (0 if prepared else 2)
    task.finish()
