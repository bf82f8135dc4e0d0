"""Work kept safe: written soon after a change, given back after the program was killed, gone after an orderly end."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import msgspec
import pytest
from PySide6.QtWidgets import QApplication

from nestplan.desk.document.document import Document
from nestplan.desk.document.recovery import Recovery
from nestplan.tasks.contents import Contents
from tests.desk.small_work import laid_work, pair_job, sheet
from tests.work_time import WorkTime


@pytest.fixture
def kept(qapp, tmp_path):
    document = Document()
    recovery = Recovery(document, tmp_path / "recovery")
    yield document, recovery
    recovery.close()


def test_a_change_is_written_within_five_seconds_and_gone_after_an_orderly_end(kept, qtbot):
    document, recovery = kept
    document.add_hide(sheet())
    # How long writing then takes is the machine's; it is asked for in good time.
    assert 0 < recovery._timer.remainingTime() <= 5000 - 2000
    qtbot.waitUntil(recovery.path.exists, timeout=60_000)
    assert recovery.found() == ()
    recovery.close()
    assert not recovery.path.exists()


def test_an_empty_table_is_not_kept(kept, qtbot):
    _, recovery = kept
    recovery.note()
    qtbot.wait(2000)
    assert not recovery.path.exists()


def test_a_file_of_another_version_is_left_alone(kept):
    _, recovery = kept
    strange = recovery.path.parent / "1-strange.work"
    strange.write_text("{}")
    assert recovery.found() == ()
    assert strange.exists()


_EDITING = """
    import os, sys, time
    from pathlib import Path
    from nestplan.desk.app import make_application
    from nestplan.desk.window import Window
    from PySide6.QtCore import QSettings
    folder = Path(sys.argv[1])
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder / "settings"))
    application = make_application()
    window = Window(recovery=folder / "recovery")
    window.show()
    from tests.desk.small_work import sheet, pair_job
    from PySide6.QtCore import QTimer
    count = 0
    def edit():
        global count
        count += 1
        window.document.add_hide(sheet(f"sheet {count}"))
        print(count, time.time(), flush=True)
    timer = QTimer()
    timer.timeout.connect(edit)
    timer.start(200)
    if len(sys.argv) > 2:
        window.document.edit_job("Ask", pair_job(sets=200))
        window.document.add_hide(sheet(width=1500, height=1000))
        window.go_to("plan")
        window.panels["plan"].goal.set_value("fill")  # never at its end before its time: it asks for more sets
        QTimer.singleShot(0, lambda: window.panels["plan"].begin(seconds=600))
    application.exec()
"""


def killed_session(folder: Path, seconds: float, *more: str) -> list[tuple[int, float]]:
    """A window that edits five times a second, killed after `seconds`; each edit's number and time.

    However busy the machine is, it is not killed before its work (and with "plan" its search) was once kept.
    """
    here = Path(__file__).resolve().parents[2]
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(_EDITING), str(folder), *more],
        stdout=subprocess.PIPE,
        text=True,
        cwd=here,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
    )
    assert process.stdout is not None
    first = process.stdout.readline()
    time.sleep(seconds)
    wanted = b'"planning":true' if more else b""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        if any(wanted in path.read_bytes() for path in (folder / "recovery").glob("*.work")):
            break
        time.sleep(0.1)
    process.send_signal(signal.SIGKILL)
    rest, _ = process.communicate(timeout=20)
    return [
        (int(n), float(t)) for n, t in (line.split() for line in [first, *rest.splitlines()] if line.strip())
    ]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
@pytest.mark.parametrize("planning", [False, True], ids=["while editing", "while planning"])
def test_after_a_kill_the_work_is_offered_back_at_most_five_seconds_old(
    window_factory, tmp_path, planning, qtbot
):
    edits = killed_session(tmp_path, 6.0, *(["plan"] if planning else []))
    killed_at = edits[-1][1]
    window = window_factory(tmp_path / "recovery")
    qtbot.waitUntil(lambda: bool(window.notice.offers), timeout=60_000)
    assert "before its work was saved" in window.notice.words.text()
    next(b for b in window.notice.offers if b.text() == "Take it up again").click()
    QApplication.processEvents()
    names = {hide.name for hide in window.document.contents.hides}
    kept = [(number, when) for number, when in edits if f"sheet {number}" in names]
    assert kept, "no edit was kept"
    assert killed_at - kept[-1][1] <= 5.0
    assert window.isWindowModified()
    if planning:
        assert window.document.contents.job == pair_job(sets=200)
        assert "A plan was being made" in window.notice.words.text()
    assert window.document.contents != Contents()


def test_thrown_away_work_is_offered_no_more(window_factory, tmp_path, qtbot):
    killed_session(tmp_path, 3.0)
    window = window_factory(tmp_path / "recovery")
    qtbot.waitUntil(lambda: bool(window.notice.offers), timeout=60_000)
    next(b for b in window.notice.offers if b.text() == "Throw it away").click()
    assert window.session.recovery.found() == ()


def test_a_plan_of_500_pieces_is_kept_without_holding_the_window_up(kept):
    document, recovery = kept
    document.open(laid_work(500), {})
    begun = WorkTime()
    recovery._write_soon()
    held = begun.seconds
    recovery._thread.join()
    assert recovery.path.exists()
    assert held < 0.05


@pytest.fixture
def left_behind(qapp, tmp_path):
    """Work as a program leaves it that was killed in the middle of a search: laid by hand, and found so far."""
    from nestplan.tasks.planning import draft_plan

    contents = laid_work(4)
    document = Document()
    recovery = Recovery(document, tmp_path / "dying")
    document.open(contents, {})
    lying = [msgspec.structs.replace(placed, set=1, copy=1) for placed in contents.plan.placements[1:]]
    draft = draft_plan(contents.job, contents.hides, lying, seed=1)
    recovery.planning, recovery.live = True, lambda: draft
    recovery._write_soon()
    recovery._thread.join()
    folder = tmp_path / "recovery"
    folder.mkdir()
    shutil.copy(recovery.path, folder / "7-left.work")
    recovery.close()
    return folder, contents, draft


def take_up(window, qtbot):
    qtbot.waitUntil(lambda: bool(window.notice.offers), timeout=60_000)
    next(b for b in window.notice.offers if b.text() == "Take it up again").click()
    QApplication.processEvents()


def test_what_a_search_had_found_is_a_step_of_its_own_above_the_plan_laid_by_hand(
    left_behind, window_factory, qtbot
):
    folder, contents, draft = left_behind
    window = window_factory(folder)
    take_up(window, qtbot)
    assert window.document.contents.plan == draft
    assert sorted(placed.set for placed in draft.placements) == [1, 2, 3]
    window.menus.actions["Undo"].trigger()
    assert window.document.contents.plan == contents.plan
    assert window.isWindowModified()


def test_the_old_file_stays_until_the_work_taken_up_is_written_anew(left_behind, window_factory, qtbot):
    folder, _, _ = left_behind
    window = window_factory(folder)
    take_up(window, qtbot)
    old = folder / "7-left.work"
    assert old.exists(), "killed now, all would be lost"
    qtbot.waitUntil(lambda: not old.exists(), timeout=60_000)
    assert window.session.recovery.path.exists()


@pytest.mark.parametrize(
    "spoiled",
    [
        b"",
        b"\xff\xfe\x00",
        b'{"saved": 1e300}',
        b'{"saved": 9e9, "hides": [{"name": "x"}]}',
        b'{"saved": "now"}',
    ],
)
def test_a_spoiled_file_does_not_hide_the_others(left_behind, window_factory, qtbot, spoiled):
    folder, contents, _ = left_behind
    (folder / "8-spoiled.work").write_bytes(spoiled)
    window = window_factory(folder)
    take_up(window, qtbot)
    assert window.document.contents.hides == contents.hides
    assert (folder / "8-spoiled.work").exists()
