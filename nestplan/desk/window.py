"""The window: the rack, the table, the side panel of the step at hand, and the strip of steps, put together.

The one place that puts errors into words. Menus are in `menus`, opening and saving in `file_actions`.
"""

from __future__ import annotations

import traceback
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QHBoxLayout,
    QMainWindow,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from nestplan.desk.actions.files import FileActions
from nestplan.desk.actions.papers import PaperActions
from nestplan.desk.background.checking import Checker
from nestplan.desk.document.document import Document
from nestplan.desk.document.recovery import RecoveredWork, Recovery
from nestplan.desk.editing.hide_editor import HideEditor
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.frame.empty import empty_pieces, empty_table
from nestplan.desk.frame.head import Head
from nestplan.desk.frame.notice import Notice
from nestplan.desk.frame.rack import Rack
from nestplan.desk.frame.step_strip import Steps
from nestplan.desk.menus import Menus
from nestplan.desk.panels.choose import Board, ChoosePanel
from nestplan.desk.panels.cutting import CuttingPanel
from nestplan.desk.panels.hides import HidesPanel
from nestplan.desk.panels.pieces import PiecesPanel
from nestplan.desk.panels.plan import PlanPanel
from nestplan.desk.sentences import count, cut_words, job_words, plan_words
from nestplan.desk.settings import Settings, recovery_folder
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.item_shapes import LAYERS
from nestplan.desk.table.rulers import TableWithRulers
from nestplan.desk.table.tracing import StrokeTool, Tool, TraceTool
from nestplan.desk.theme import apply_theme, icon
from nestplan.errors import NestplanError

__all__ = ["Window"]


class Window(QMainWindow):
    """Everything one sees. `recovery` may be a folder of the caller's choice (for tests)."""

    def __init__(self, *, recovery: Path | None = None) -> None:
        super().__init__()
        self.setObjectName("desk")
        self.setAcceptDrops(True)
        self.settings, self.document = Settings(self), Document(self)
        self.checker = Checker(self.document, self)
        self.recovery = Recovery(self.document, recovery or recovery_folder(), self)
        self.table = Table()
        self.hides = HideEditor(self.document, self.table)
        self.pieces = PieceEditor(self.document, self.table)
        self.plan = PlanEditor(self.document, self.table, self.checker, self.settings)
        self.works: dict[str, StepEditor] = {
            "hides": self.hides,
            "pieces": self.pieces,
            "choose": self.plan,
            "plan": self.plan,
            "cut": self.plan,
        }
        self.step = ""
        self._subject = (False, "")
        self.files, self.papers = FileActions(self), PaperActions(self)
        self._build()
        self.menus = Menus(self)
        self._connect()
        for layer in self.settings.hidden_layers:
            self.table.set_layer(layer, False)
        self.resize(1320, 840)
        if self.settings.geometry is not None:
            self.restoreGeometry(self.settings.geometry)
        self.ruled.set_unit(self.settings.unit)
        self.go_to("hides")
        self.retitle()
        QTimer.singleShot(0, self, self._offer_found)

    def _build(self) -> None:
        self.rack = Rack(self.document, self.settings)
        self.ruled = TableWithRulers(self.table)
        self.notice = Notice()
        self.board = Board()
        self.hide_panel = HidesPanel(self.document, self.hides, self.settings)
        self.piece_panel = PiecesPanel(self.document, self.pieces, self.settings)
        self.choose_panel = ChoosePanel(self.document, self.board, self.settings)
        self.plan_panel = PlanPanel(self.document, self.plan, self.settings)
        self.cut_panel = CuttingPanel(self.document, self.plan)
        self.panels = {
            "hides": self.hide_panel,
            "pieces": self.piece_panel,
            "choose": self.choose_panel,
            "plan": self.plan_panel,
            "cut": self.cut_panel,
        }
        self.side = QStackedWidget()
        self.side.setObjectName("side")
        self.side.setFixedWidth(348)
        for panel in self.panels.values():
            self.side.addWidget(panel)
        self.empty = empty_table(self)
        self.empty_pieces = empty_pieces(self)
        self.centre = QStackedWidget()
        for page in (self.ruled, self.empty, self.empty_pieces, self.board):
            self.centre.addWidget(page)
        self.head = Head(self.table.fit, self.take_tape)
        self.steps = Steps()
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.head)
        column.addWidget(self.notice)
        column.addWidget(self.centre, 1)
        body = QHBoxLayout()
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(0)
        body.addWidget(self.rack)
        body.addWidget(middle, 1)
        body.addWidget(self.side)
        whole = QFrame()
        outer = QVBoxLayout(whole)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addLayout(body, 1)
        outer.addWidget(self.steps)
        self.setCentralWidget(whole)

    def _connect(self) -> None:
        for editor in (self.hides, self.pieces, self.plan):
            editor.error_reported.connect(self.report_error)
            editor.notified.connect(self.notice.tell)
        self.choose_panel.failed.connect(self.report_error)
        self.checker.broke.connect(self.report_error)
        self.steps.chosen.connect(self.go_to)
        self.table.tool_changed.connect(self._show_hint)
        self.table.pointed.connect(self._show_place)
        self.document.changed.connect(lambda _: self.refresh())
        self.document.hide_shown.connect(self._hide_shown)
        self.document.opened.connect(self._opened)
        self.document.stack.cleanChanged.connect(lambda _: self.retitle())
        self.plan.search_changed.connect(self._search_changed)
        self.plan.checked.connect(lambda _: self.refresh())
        self.cut_panel.print_sheet.clicked.connect(lambda: self.papers.ask_export("cut sheet"))
        self.cut_panel.again.clicked.connect(self._plan_again)
        self.piece_panel.import_action.triggered.connect(self.files.ask_pieces)
        self.settings.unit_changed.connect(self.ruled.set_unit)
        self.settings.theme_changed.connect(self.change_theme)

    def go_to(self, step: str) -> None:
        """Make another step the one at hand."""
        if step == self.step:
            self.steps.show_step(step)
            return
        if self.step:
            self.works[self.step].leave()
        self.step = step
        self.notice.pass_by()
        self.steps.show_step(step)
        self.side.setCurrentWidget(self.panels[step])
        self.plan.cutting = step == "cut"
        self.rack.setVisible(step not in ("pieces", "choose"))
        self.works[step].enter()
        if step == "choose":
            self.choose_panel.refresh()
        elif step == "cut":
            self.cut_panel.refresh()
        self.refresh()
        self._fit_if_new()

    def refresh(self) -> None:
        """Show the page and the words that go with the work as it is now."""
        contents = self.document.contents
        tracing = isinstance(self.table.tool, TraceTool)
        page: QWidget = self.ruled
        if self.step == "choose":
            page = self.board
        elif self.step != "pieces" and not contents.hides and not tracing:
            page = self.empty
        elif self.step == "pieces" and contents.job is None and not tracing:
            page = self.empty_pieces
        self.centre.setCurrentWidget(page)
        self.head.setVisible(page is self.ruled)
        self.head.hint.setVisible(page is self.ruled and bool(self.head.hint.text()))
        checked = self.checker.latest
        figures = checked.figures if checked is not None and checked.plan is contents.plan else None
        figures = figures or (contents.plan.figures if contents.plan else None)
        self.steps.tell("hides", count(len(contents.hides), "hide") if contents.hides else "lay one out")
        self.steps.tell("pieces", job_words(contents.job))
        self.steps.tell("choose", "which hide gives what")
        self.steps.tell("plan", plan_words(contents.plan, contents.job, figures))
        self.steps.tell("cut", cut_words(contents.plan))
        self.retitle()

    def retitle(self) -> None:
        """Name the work in the window's title."""
        job = self.document.contents.job
        hide = self.document.hide
        name = job.name if job else hide.name if hide else "empty table"
        self.setWindowTitle(f"{name}[*] - nestplan")
        self.setWindowModified(not self.document.stack.isClean())

    def trace_hide(self) -> None:
        """Trace a new hide on the table."""
        self.go_to("hides")
        self.hides.trace_new()
        self.refresh()
        if not self.document.contents.hides:
            self.table.fit()

    def draw_piece(self) -> None:
        """Draw a new piece on the table."""
        self.go_to("pieces")
        self.pieces.draw_piece()
        self.refresh()

    def take_tape(self) -> None:
        """Measure on the table."""
        if isinstance(self.table.tool, StrokeTool) and self.table.tool.stays:
            self.works[self.step].rest()
            return
        words = "Draw the tape from one spot to another. Shift keeps to 15° steps; Esc puts it away."
        label = lambda start, end: self._tape_words(start, end)  # noqa: E731
        rest = self.works[self.step].rest
        self.table.set_tool(StrokeTool(lambda *_: None, label=label, stays=True, cancelled=rest, words=words))

    def _tape_words(self, start: tuple[float, float], end: tuple[float, float]) -> str:
        dx, dy = end[0] - start[0], end[1] - start[1]
        length = self.settings.length
        return f"{length((dx * dx + dy * dy) ** 0.5)}  ({length(abs(dx))} across, {length(abs(dy))} up)"

    def report_error(self, error: object) -> None:
        """Put an error into words above the table: what, where, and what to do about it."""
        if isinstance(error, NestplanError):
            where = ", ".join(
                part for part in (Path(error.file).name if error.file else "", error.place) if part
            )
            words = f"{error.what} {error.mend}".strip()
            self.notice.tell(f"{words}  ({where})" if where else words, alarm=True)
            return
        if isinstance(error, BaseException):
            traceback.print_exception(error)
        self.notice.tell(
            f"Something went wrong inside nestplan: {error}. Your work is safe; please report this.",
            alarm=True,
        )

    def change_theme(self, wish: str) -> None:
        """Dress the window for another light."""
        application = QApplication.instance()
        apply_theme(application, wish)
        self.table.rebuild()
        self.rack.refresh()
        for made in self.findChildren(QWidget):
            sign = made.property("sign")
            if sign and hasattr(made, "setIcon"):
                made.setIcon(icon(sign))
        self.menus.apply_theme()
        if self.step == "choose":
            self.choose_panel.refresh()

    def _show_hint(self, tool: Tool) -> None:
        self.head.say(tool.words)
        self.head.hint.setVisible(bool(tool.words) and self.centre.currentWidget() is self.ruled)

    def _show_place(self, at: tuple[float, float] | None) -> None:
        length = self.settings.length
        self.head.place.setText(f"{length(at[0])} · {length(at[1])}" if at is not None else "")

    def _hide_shown(self, _hide: object) -> None:
        self._fit_if_new()

    def _fit_if_new(self) -> None:
        """Show all of what lies on the table when it is another thing than before."""
        thing = self.document.piece if self.step == "pieces" else self.document.hide
        subject = (self.step == "pieces", thing.name if thing is not None else "")
        if subject != self._subject and self.step != "choose":
            self._subject = subject
            QTimer.singleShot(0, self.table, self.table.fit)

    def _opened(self) -> None:
        self._subject = (False, "")
        self.works[self.step].enter()
        self.refresh()
        self._fit_if_new()

    def _search_changed(self) -> None:
        running = self.plan.running
        self.recovery.planning = running
        self.recovery.live = self.plan.search.draft_plan if running else lambda: None
        self.recovery.note()
        self.refresh()

    def _plan_again(self) -> None:
        self.go_to("plan")
        self.plan_panel.begin()

    def _offer_found(self) -> None:
        found = self.recovery.found()
        if not found:
            return
        newest = found[0]
        self.notice.tell(
            f"nestplan was ended before its work was saved: {newest.words}",
            offers={
                "Take it up again": lambda: self._take_found(newest),
                "Throw it away": lambda: self.recovery.forget(newest),
            },
        )

    def _take_found(self, found: RecoveredWork) -> None:
        self.document.open(found.contents, found.files)
        self.document.stack.resetClean()
        self.files.saved = type(found.contents)()
        self.recovery.note()
        self.recovery.forget(found)
        self.go_to("plan" if found.planning or found.contents.plan else "hides")
        if found.planning:
            self.notice.tell("A plan was being made when nestplan ended. Start it again when you like.")

    def set_layer(self, layer: str, visible: bool) -> None:
        """Show or hide a layer of the table, and remember it."""
        self.table.set_layer(layer, visible)
        self.settings.hidden_layers = [name for name in LAYERS if name in self.table.hidden]

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        self.files.open([Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.notice.isVisible():
            self.notice.clear()
        else:
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.files.may_leave():
            event.ignore()
            return
        self.settings.geometry = self.saveGeometry()
        self.settings.save()
        self.plan.close()
        self.choose_panel.close_task()
        self.checker.close()
        self.recovery.close()
        for timer in self.findChildren(QTimer):
            timer.stop()
        event.accept()
