"""A random user at the real window, from a seed: a long run by a command.

    python -m tests.desk.soak --minutes 30 --seed 1

Round after round a small work is opened from its files and used: entries of the menus, buttons, fields, the mouse and
the keys over the table, undo and redo, searches that are called off, questions answered anyhow. Nothing may raise, and
nothing of ours or of Qt may complain; after each round, undo back to the start gives what was opened, redo what there
was at the end, and at the end of all the process has not grown by more than 50 MB. Before the first round each entry of
the menus is chosen once: what is loaded for it and then stays is no leak.

It knows kinds of controls, not their names, so that a change of the window does not stop it.
"""

from __future__ import annotations

import argparse
import contextlib
import faulthandler
import gc
import os
import pkgutil
import random
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from types import TracebackType

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QEvent, QPoint, QSettings, Qt, QTimer, QtMsgType, qInstallMessageHandler
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QDialog,
    QFileDialog,
    QLineEdit,
    QMessageBox,
    QWidget,
)
from shiboken6 import isValid

import nestplan
from nestplan.desk.app import make_application
from nestplan.desk.background.freed_memory import give_back_memory
from nestplan.desk.window import Window
from nestplan.model.files import write_hide, write_job, write_plan
from nestplan.nesting.precompile import PIECES, SEARCH, STRIPS, compile_share
from nestplan.tasks.contents import Contents
from nestplan.tasks.saving import with_present_sources
from tests.desk.small_work import laid_work, pair_job, sheet, spoiled_sheet

__all__ = ["Report", "load_everything", "soak"]

_TEXTS = (
    "",
    "12",
    "12.5",
    "3 1/2 in",
    "-4",
    "0",
    "1e9",
    "abc",
    "5-6 oz",
    "name",
    "ü漢🐄",
    "<b>x</b>",
    "22 3/4",
    "all",
)
_KEYS = (
    Qt.Key.Key_Escape,
    Qt.Key.Key_Delete,
    Qt.Key.Key_Return,
    Qt.Key.Key_Space,
    Qt.Key.Key_Tab,
    Qt.Key.Key_Left,
    Qt.Key.Key_Up,
    Qt.Key.Key_R,
    Qt.Key.Key_F,
    Qt.Key.Key_M,
    Qt.Key.Key_Plus,
    Qt.Key.Key_BracketLeft,
)
_HARMLESS = ("This plugin does not support", "propagateSizeHints")
"""What Qt says where there is no screen."""

_MOST_SECONDS_TO_REST = 5.0
"""How long threads that were begun in a round may take to end before memory is counted."""

_LEAST_WARM_ROUNDS = 3
"""Rounds after which memory is counted: fonts and icons are loaded in the first ones."""


@dataclass
class Report:
    """What came of a run: how much was done, what went wrong, MB held after each round."""

    steps: int = 0
    rounds: int = 0
    faults: list[str] = field(default_factory=list)
    megabytes: list[float] = field(default_factory=list)

    @property
    def course(self) -> str:
        """MB held when it was warm, in the middle, and at the end."""
        warm = self.megabytes[_LEAST_WARM_ROUNDS:] or self.megabytes
        return " → ".join(f"{warm[at]:.0f}" for at in (0, len(warm) // 2, -1))

    @property
    def grown(self) -> float:
        """MB by which the process has grown since it was warm; of three rounds each, the middle one."""
        warm = self.megabytes[_LEAST_WARM_ROUNDS:]
        if len(warm) < 6:
            return 0.0
        return sorted(warm[-3:])[1] - sorted(warm[:3])[1]


class _Watch:
    """Notes whatever raises in the window or its threads, and what Qt complains of."""

    def __init__(self, report: Report) -> None:
        self._report = report
        self.doing = ""

    def note(self, words: str) -> None:
        fault = f"round {self._report.rounds}, {self.doing}: {words}"
        if fault not in self._report.faults:
            # At once: what comes later may end the process.
            print(fault, flush=True)
        self._report.faults.append(fault)

    @contextlib.contextmanager
    def on(self) -> Iterator[None]:
        hook, thread_hook = sys.excepthook, threading.excepthook
        sys.excepthook = self._raised
        threading.excepthook = lambda given: self._raised(
            given.exc_type, given.exc_value, given.exc_traceback
        )
        before = qInstallMessageHandler(self._said)
        try:
            yield
        finally:
            qInstallMessageHandler(before)
            sys.excepthook, threading.excepthook = hook, thread_hook

    def _raised(
        self, kind: type[BaseException], error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.note("".join(traceback.format_exception(kind, error, trace))[-1500:])

    def _said(self, kind: QtMsgType, _context: object, words: str) -> None:
        if kind is not QtMsgType.QtDebugMsg and not any(part in words for part in _HARMLESS):
            self.note(f"Qt: {words}")


class _User:
    """Does one random thing after another at a window."""

    def __init__(self, window: Window, chance: random.Random, watch: _Watch) -> None:
        self.window = window
        self._chance = chance
        self._watch = watch
        self._answering = QTimer(window)
        self._answering.setInterval(30)
        self._answering.timeout.connect(self._answer)
        self._answering.start()
        self._things: tuple[tuple[int, Callable[[], str]], ...] = (
            (4, self._menu),
            (4, self._button),
            (4, self._field),
            (1, self._list),
            (5, self._click),
            (4, self._drag),
            (2, self._wheel),
            (4, self._key),
            (2, self._undo),
            (1, self._select),
            (1, self._wait),
        )

    def do_something(self) -> None:
        """One random thing, and all that follows from it at once."""
        weights = [weight for weight, _ in self._things]
        thing = self._chance.choices([thing for _, thing in self._things], weights)[0]
        self._watch.doing = thing.__name__
        try:
            self._watch.doing = thing() or thing.__name__
        except Exception:
            # An event that was sent, not waited for, raises here and not at the hook.
            self._watch.note(traceback.format_exc()[-1500:])
        QApplication.processEvents()
        # What was closed is gone before the next thing is done, as in a loop of events that goes on.
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def choose_every_entry(self) -> None:
        """Each entry of the menus once, from first to last."""
        for action in self._entries():
            with contextlib.suppress(RuntimeError):
                # An entry of a menu that was filled anew since is gone.
                if action.isEnabled():
                    self._watch.doing = f"menu {action.text()}"
                    action.trigger()
            QApplication.processEvents()
            QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def stop(self) -> None:
        self._answering.stop()

    def _answer(self) -> None:
        """Close what asks for an answer: files are never chosen, other questions are answered anyhow."""
        box = QApplication.activeModalWidget() or QApplication.activePopupWidget()
        if isinstance(box, QFileDialog):
            box.reject()
        elif isinstance(box, QMessageBox):
            self._chance.choice(box.buttons()).click()
        elif isinstance(box, QDialog):
            box.reject() if self._chance.random() < 0.7 else box.accept()
        elif box is not None:
            box.close()

    def _entries(self) -> list[QAction]:
        return [
            action
            for action in self.window.findChildren(QAction)
            if action.isEnabled() and action.isVisible() and action.text() and not _leaves(action)
        ]

    def _menu(self) -> str:
        action = self._chance.choice(self._entries())
        # An entry of a menu that is filled anew may be gone once it was chosen.
        self._watch.doing = doing = f"menu {action.text()}"
        action.trigger()
        return doing

    def _shown(self, kind: type[QWidget]) -> list[QWidget]:
        # Dialogs that stand beside the window are used too.
        tops = [top for top in QApplication.topLevelWidgets() if top.isVisible()]
        shown = [
            found
            for top in tops
            for found in top.findChildren(kind)
            if found.isVisible() and found.isEnabled()
        ]
        # A dialog that was closed may have gone while they were looked up.
        return [found for found in shown if isValid(found)]

    def _button(self) -> str:
        buttons = self._shown(QAbstractButton)
        if buttons:
            button = self._chance.choice(buttons)
            words = f"button {button.text() or button.toolTip()}"  # type: ignore[attr-defined]
            self._watch.doing = words
            QTest.mouseClick(button, Qt.MouseButton.LeftButton)
            return words
        return "no button"

    def _field(self) -> str:
        fields = [*self._shown(QLineEdit), *self._shown(QAbstractSpinBox), *self._shown(QComboBox)]
        if not fields:
            return "no field"
        chosen = self._chance.choice(fields)
        self._watch.doing = f"field {type(chosen).__name__} {chosen.accessibleName() or chosen.objectName()}"
        if isinstance(chosen, QComboBox) and chosen.count():
            chosen.setFocus()
            chosen.setCurrentIndex(self._chance.randrange(chosen.count()))
            chosen.activated.emit(chosen.currentIndex())
            return self._watch.doing
        words = self._chance.choice(_TEXTS)
        chosen.setFocus()
        QTest.keyClick(chosen, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClicks(chosen, words.encode("ascii", "ignore").decode())
        QTest.keyClick(chosen, self._chance.choice((Qt.Key.Key_Return, Qt.Key.Key_Tab, Qt.Key.Key_Escape)))
        return f"{self._watch.doing} {words!r}"

    def _list(self) -> str:
        views = self._shown(QAbstractItemView)
        if views:
            view = self._chance.choice(views)
            model = view.model()  # type: ignore[attr-defined]
            if model is not None and model.rowCount():
                view.setCurrentIndex(model.index(self._chance.randrange(model.rowCount()), 0))  # type: ignore[attr-defined]
        return "list"

    def _place(self) -> QPoint:
        view = self.window.table.viewport()
        return QPoint(self._chance.randrange(view.width()), self._chance.randrange(view.height()))

    def _keys_held(self) -> Qt.KeyboardModifier:
        return self._chance.choice(
            (
                Qt.KeyboardModifier.NoModifier,
                Qt.KeyboardModifier.NoModifier,
                Qt.KeyboardModifier.ShiftModifier,
                Qt.KeyboardModifier.ControlModifier,
            )
        )

    def _click(self) -> str:
        if not self.window.table.isVisible():
            return "no table"
        view, place = self.window.table.viewport(), self._place()
        button = self._chance.choice(
            (Qt.MouseButton.LeftButton, Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton)
        )
        click = QTest.mouseDClick if self._chance.random() < 0.15 else QTest.mouseClick
        click(view, button, self._keys_held(), place)
        return "click"

    def _drag(self) -> str:
        if not self.window.table.isVisible():
            return "no table"
        view, held = self.window.table.viewport(), self._keys_held()
        QTest.mousePress(view, Qt.MouseButton.LeftButton, held, self._place())
        for _ in range(self._chance.randint(1, 4)):
            QTest.mouseMove(view, self._place())
            QApplication.processEvents()
            if self._chance.random() < 0.1:
                self._key()
        QTest.mouseRelease(view, Qt.MouseButton.LeftButton, held, self._place())
        return "drag"

    def _wheel(self) -> str:
        scale = 1.25 if self._chance.random() < 0.5 else 0.8
        self.window.table.scale(scale, scale)
        return "wheel"

    def _key(self) -> str:
        focus = QApplication.focusWidget()
        # Without a screen a dialog that was closed may keep the focus; nobody can type into it.
        is_seen = focus is not None and focus.isVisible()
        target = focus if is_seen and self._chance.random() < 0.4 else self.window.table
        QTest.keyClick(target, self._chance.choice(_KEYS), self._keys_held())
        return "key"

    def _undo(self) -> str:
        stack = self.window.document.stack
        for _ in range(self._chance.randint(1, 6)):
            stack.redo() if self._chance.random() < 0.3 else stack.undo()
            QApplication.processEvents()
        return "undo and redo"

    def _select(self) -> str:
        document = self.window.document
        plan = document.contents.plan
        if plan is not None and plan.placements:
            document.select(self._chance.sample(plan.placements, min(3, len(plan.placements))))
        document.show_next_hide(self._chance.choice((-1, 1)))
        return "select"

    def _wait(self) -> str:
        QTest.qWait(self._chance.choice((10, 60, 200)))
        return "wait"


def _leaves(action: QAction) -> bool:
    """Whether an action ends the program; a search that goes on for minutes is ended elsewhere."""
    words = action.text().replace("&", "").lower()
    return action.menu() is not None or "quit" in words or "exit" in words or words.startswith("close")


def _write_work(folder: Path, chance: random.Random) -> list[Path]:
    """A small work in files: hides, a job, and at times a plan with pieces laid."""
    folder.mkdir(parents=True)
    hides = (spoiled_sheet(), sheet("second", 700.0, 400.0))
    job = pair_job(sets=chance.randint(1, 3))
    contents = Contents(hides, job, None)
    if chance.random() < 0.6:
        laid = laid_work(chance.randint(2, 12))
        contents = Contents((*laid.hides, hides[1]), laid.job, laid.plan)
    files = {hide.name: str(folder / f"{hide.name}.hide.json") for hide in contents.hides}
    files |= {"": str(folder / "small.job.json")}
    for hide in contents.hides:
        write_hide(files[hide.name], hide)
    assert contents.job is not None
    write_job(files[""], contents.job)
    if contents.plan is not None:
        files["plan"] = str(folder / "plan.json")
        write_plan(files["plan"], with_present_sources(contents.plan, contents, files))
    return [Path(file) for file in files.values()]


def soak(
    seed: int,
    *,
    seconds: float,
    steps_a_round: int,
    rounds: int = sys.maxsize,
    every_entry_first: bool = False,
) -> Report:
    """Use the window for so long, or for so many rounds; what came of it.

    With `every_entry_first` each entry of the menus is chosen before, which counts as no round.
    """
    report, chance = Report(), random.Random(seed)
    watch = _Watch(report)
    with tempfile.TemporaryDirectory() as home, watch.on():
        QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(Path(home) / "settings"))
        make_application()
        window = Window(recovery=Path(home) / "recovery")
        window.session.messages.sent.connect(
            lambda told: watch.note(told.words) if "Something went wrong inside" in told.words else None
        )
        window.resize(1200, 800)
        user = _User(window, chance, watch)
        window.show()
        if every_entry_first:
            _open_work(window, chance, Path(home) / "first")
            user.choose_every_entry()
            _be_quiet(window)
        end = time.monotonic() + seconds
        while time.monotonic() < end and report.rounds < rounds:
            window.show()
            _one_round(window, user, chance, watch, Path(home) / str(report.rounds), steps_a_round, end)
            report.steps += steps_a_round
            report.rounds += 1
            report.megabytes.append(_megabytes_without_work(window))
        watch.doing = "leaving"
        _leave(window, user)
    return report


def _one_round(
    window: Window, user: _User, chance: random.Random, watch: _Watch, folder: Path, steps: int, end: float
) -> None:
    watch.doing = "opening"
    _open_work(window, chance, folder)
    start = [window.document.contents]
    opened = window.document.opened.connect(lambda: start.__setitem__(0, window.document.contents))
    for _ in range(steps):
        if time.monotonic() > end or not window.isVisible():
            break
        user.do_something()
    watch.doing = "undo back to the start"
    _be_quiet(window)
    stack, end_index, at_the_end = (
        window.document.stack,
        window.document.stack.index(),
        window.document.contents,
    )
    while stack.canUndo():
        stack.undo()
        QApplication.processEvents()
    if stack.index() == 0 and window.document.contents != start[0]:
        watch.note("undo back to the start does not give the start")
    watch.doing = "redo on to the end"
    while stack.canRedo() and stack.index() < end_index:
        stack.redo()
        QApplication.processEvents()
    if stack.index() == end_index and window.document.contents != at_the_end:
        watch.note("redo on to the end does not give the end")
    window.document.opened.disconnect(opened)


def _open_work(window: Window, chance: random.Random, folder: Path) -> None:
    """Open a small work whose searches are short."""
    window.session.settings.minutes = 0.02
    window.document.stack.setClean()
    window.session.files.open(_write_work(folder, chance))


def _be_quiet(window: Window) -> None:
    """Call off what is being drawn, asked or searched."""
    for _ in range(4):
        QTest.keyClick(window.table, Qt.Key.Key_Escape)
        QApplication.processEvents()
    QTest.qWait(50)


def load_everything() -> None:
    """Load all modules of ours and every kernel: what is loaded late, and then stays, is no leak."""
    for module in pkgutil.walk_packages(nestplan.__path__, "nestplan."):
        if not module.name.endswith("__main__"):
            import_module(module.name)
    for share in (PIECES, STRIPS, SEARCH):
        compile_share(share)


def _leave(window: Window, user: _User) -> None:
    user.stop()
    window.document.stack.setClean()
    window.close()
    window.deleteLater()
    for _ in range(3):
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()
    gc.collect()


def _megabytes_without_work(window: Window) -> float:
    """What the process holds once the work of a round and all that was begun with it are let go of.

    A round's own undo steps, plans and photographs are no leak: what is there without them is.
    """
    window.document.open(Contents(), {})
    end = time.monotonic() + _MOST_SECONDS_TO_REST
    # What was begun ends: a search, an estimate, a picture.
    while threading.active_count() > 1 and time.monotonic() < end:
        QTest.qWait(50)
    gc.collect()
    give_back_memory()
    return _megabytes()


def _megabytes() -> float:
    try:
        words = Path("/proc/self/status").read_text()
    except OSError:
        return 0.0
    return next(int(line.split()[1]) / 1024.0 for line in words.splitlines() if line.startswith("VmRSS:"))


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--steps", type=int, default=200, help="in one round")
    given = parser.parse_args(arguments)
    faulthandler.enable()
    load_everything()
    report = soak(given.seed, seconds=60.0 * given.minutes, steps_a_round=given.steps, every_entry_first=True)
    print(
        f"{report.steps} steps in {report.rounds} rounds, {len(report.faults)} faults; "
        f"{report.course} MB (warm, middle, end), {report.grown:+.0f} MB since it was warm"
    )
    return 1 if report.faults or report.grown > 50.0 else 0


if __name__ == "__main__":
    sys.exit(main())
