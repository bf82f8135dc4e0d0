"""A hide found again in the window: seen over the photograph of today, taken with its plan in one step."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication

from nestplan.desk.dialogs.retrace import RetraceDialog
from nestplan.geometry.pose import Pose
from nestplan.model.hide import Hide
from nestplan.tasks.contents import Contents
from tests.desk.photographs import sheet_beside_a_skin
from tests.small_jobs import laid, one_piece_job, plan_of


@pytest.fixture
def contents():
    """The skin of the photograph as it was taken in another day: turned by 40 degrees, with a lobe that is gone now."""
    turns = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    radius = 300 * (1 + 0.12 * np.cos(3 * turns) + 0.05 * np.sin(5 * turns))
    ring = np.column_stack((1.2 * radius * np.cos(turns), radius * np.sin(turns)))
    ring[(turns > 2.0) & (turns < 2.4)] *= 1.25
    angle = np.radians(40)
    ring = ring @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    hide = Hide(name="skin", leather="goat", outline=tuple(map(tuple, ring.tolist())))
    job = one_piece_job()
    (piece,) = job.articles[0].pieces
    return Contents((hide,), job, plan_of(job, [hide], [laid(job, piece, Pose(-50, -50), hide="skin")]))


def test_a_hide_and_its_plan_are_taken_as_they_lie_now(window, contents, tmp_path, qtbot):
    photo, _ = sheet_beside_a_skin(tmp_path / "today.png")
    window.document.open(contents, {})
    window.go_to("hides")
    dialog = RetraceDialog(str(photo), "skin", window.document.contents, window.settings, window)
    dialog.made.connect(window.session.files._retraced)
    dialog.resize(1100, 700)
    dialog.show()
    dialog.find_button.click()
    qtbot.waitUntil(lambda: len(dialog.view.corners) == 4 or dialog.fault.isVisible(), timeout=60_000)
    qtbot.waitUntil(dialog.again_button.isEnabled, timeout=60_000)
    dialog.again_button.click()
    qtbot.waitUntil(lambda: dialog.outcome is not None or dialog.fault.isVisible(), timeout=120_000)
    assert dialog.outcome is not None, dialog.fault.text()
    assert "Leather is gone" in dialog.told.text()
    assert "The plan keeps every rule" in dialog.told.text()
    QApplication.processEvents()
    assert dialog.grab().save(str(tmp_path / "retrace.png"))
    dialog.take_button.click()
    QApplication.processEvents()
    now = window.document.contents
    assert now.hides[0].outline != contents.hides[0].outline
    assert now.plan.placements[0].angle == pytest.approx(320, abs=2)
    assert now.photo("skin") is not None
    window.document.stack.undo()
    assert window.document.contents.hides[0].outline == contents.hides[0].outline
