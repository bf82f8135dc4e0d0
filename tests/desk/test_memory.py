"""What was closed is gone: dialogs, their pictures and their work in threads leave nothing behind in the window."""

from __future__ import annotations

import platform
import subprocess
import sys
import threading

import pytest
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QDialog
from pytestqt.qtbot import QtBot

from nestplan.desk.background import freed_memory
from nestplan.desk.background import task as task_module
from nestplan.desk.background.task import BackgroundTask
from tests.desk.conftest import settle
from tests.desk.small_work import laid_work, sheet


def objects(window) -> int:
    """How many objects the window holds, once those that are on their way out have gone."""
    for _ in range(3):
        QApplication.processEvents()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    return len(window.findChildren(QObject))


@pytest.fixture
def closing(window):
    """Closes every dialog soon after it was opened; counts them."""
    closed = []

    def close():
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, QDialog):
            closed.append(type(dialog).__name__)
            dialog.reject()

    timer = QTimer(window)
    timer.timeout.connect(close)
    timer.start(10)
    yield closed
    timer.stop()


@pytest.mark.parametrize(
    "dialog", ["photo", "templates", "retrace", "measures", "piece", "sizes", "print", "preview", "cut"]
)
def test_a_dialog_that_was_closed_leaves_nothing_in_the_window(window, qtbot, tmp_path, closing, dialog):
    image = QImage(300, 200, QImage.Format.Format_RGB32)
    image.fill(0)
    photo = str(tmp_path / "hide.png")
    assert image.save(photo)
    window.document.open(laid_work(2), {})
    window.go_to("pieces")
    settle(qtbot, window)
    files, papers = window.session.files, window.session.papers
    opened = {
        "photo": lambda: files.take_photo(photo),
        "templates": lambda: files.take_templates(photo),
        "retrace": lambda: files.find_again(photo),
        "measures": files.ask_measures,
        "piece": window.panels["pieces"].from_measures,
        "sizes": window.panels["pieces"].ask_sizes,
        "print": lambda: papers.ask_print("cut sheet"),
        "preview": lambda: papers.ask_preview("cut sheet"),
        "cut": window.menus.actions["All is cut: put the rest back …"].trigger,
    }[dialog]

    def use() -> int:
        times = len(closing)
        opened()
        qtbot.waitUntil(
            lambda: len(closing) > times and QApplication.activeModalWidget() is None, timeout=120_000
        )
        return objects(window)

    assert use() == use(), closing


def test_checks_and_searches_that_have_ended_leave_nothing_in_the_window(window, qtbot):
    window.document.open(laid_work(2), {})
    settle(qtbot, window)

    def change() -> int:
        window.document.add_hide(sheet("another"))
        settle(qtbot, window)
        window.document.stack.undo()
        settle(qtbot, window)
        return objects(window)

    change()
    assert change() == change()


def test_memory_that_work_in_a_thread_freed_is_given_back(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1000.0]
    monkeypatch.setattr(freed_memory.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(freed_memory, "_last", [0.0])
    given = freed_memory.give_back_memory()
    assert given == (platform.libc_ver()[0] == "glibc")
    now[0] += 1.0
    assert not freed_memory.give_back_memory()  # a moment ago
    now[0] += 10.0
    assert freed_memory.give_back_memory() == given


_WORK_IN_MANY_THREADS = """
import ctypes
import threading
from nestplan.desk.background.freed_memory import give_back_memory, share_heaps

def held() -> float:
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) / 1024 for line in status if line.startswith("VmRSS:"))

def work() -> None:
    # Small things between large ones, as a search leaves them.
    large = []
    for _ in range(400):
        large.append(bytearray(60_000))
        small.append(bytes(1_000))
    all_at_work.wait()

assert share_heaps()
before, small, all_at_work = held(), [], threading.Barrier(12)
threads = [threading.Thread(target=work) for _ in range(12)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
full = held()
assert give_back_memory()
library = ctypes.CDLL(None)
library.fopen.restype = ctypes.c_void_p
told = ctypes.c_void_p(library.fopen(b"/dev/stdout", b"w"))
library.malloc_info(0, told)
library.fclose(told)
print(full - before, held() - before)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="this library has no such settings")
def test_what_many_threads_held_goes_back_though_small_things_between_it_stay() -> None:
    told = subprocess.run(
        [sys.executable, "-c", _WORK_IN_MANY_THREADS], capture_output=True, text=True, check=True
    ).stdout
    # The library's own account of its heaps comes first.
    assert 1 <= told.count("<heap nr=") <= 3
    full, left = map(float, told.splitlines()[-1].split())
    assert full > 100.0
    assert left < 40.0


def test_each_piece_of_work_gives_memory_back_at_its_end(
    monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    given: list[str] = []
    monkeypatch.setattr(
        task_module, "give_back_memory", lambda: given.append(threading.current_thread().name)
    )
    for work in (lambda control: 7, lambda control: 1 / 0):
        task = BackgroundTask(work)
        with qtbot.waitSignal(task.ended):
            task.start()
        task.finish()
    assert given == ["nestplan-task"] * 2
