"""Quitting with unsaved work thrown away: the program ends in order and says nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

_PROGRAM = """
    import sys
    from pathlib import Path
    from PySide6.QtCore import QSettings, QTimer
    from PySide6.QtWidgets import QApplication
    import nestplan.desk.window as shown
    from nestplan.desk import app
    from tests.desk.answers import Answer
    from tests.desk.small_work import laid_work, pair_job, sheet

    folder, state = Path(sys.argv[1]), sys.argv[2]
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder / "settings"))
    shown.recovery_folder = lambda: folder / "recovery"
    app.make_application()

    def work():
        window = next(each for each in QApplication.topLevelWidgets() if isinstance(each, shown.Window))
        window.document.open(laid_work(3), {})
        window.document.add_hide(sheet("other"))
        if state == "searching":
            window.document.edit_job("Ask for more", pair_job(sets=60))
            window.session.search()
        elif state == "tracing":
            window.session.trace_hide()
        elif state == "typing":
            window.go_to("hides")
            window.panels["hides"].name.setFocus()
            window.panels["hides"].name.setText("half a na")
        elif state == "projecting":
            window.session.projector.show()
            window.session.projector.dialog.show_view()
        Answer("Discard")
        QTimer.singleShot(400, window.menus.actions["Quit"].trigger)

    QTimer.singleShot(200, work)
    print("ended", app.run([]))
"""


@pytest.mark.parametrize("state", ["laid", "searching", "tracing", "typing", "projecting"])
def test_quitting_and_discarding_says_nothing(tmp_path, state):
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(_PROGRAM), str(tmp_path), state],
        cwd=Path(__file__).resolve().parents[2],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    said = [line for line in done.stderr.splitlines() if "This plugin does not support" not in line]
    assert done.stdout.strip() == "ended 0"
    assert said == []
    assert not list((tmp_path / "recovery").glob("*.work"))
