"""The window: rack, table or page, side panel of the step at hand, strip of steps and menus, put together.

What is shown and done is in the `Session`; which steps there are, in `steps`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QPoint, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QMainWindow,
    QMenu,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from nestplan.desk.dialogs.guide import GuideWindow
from nestplan.desk.editing.command import Command
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.frame.body import Body
from nestplan.desk.frame.notice import Notice
from nestplan.desk.frame.rack import Rack
from nestplan.desk.frame.step_strip import StepStrip
from nestplan.desk.frame.toolbar import Toolbar
from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.menus.edit import EditCommands, fill_edit_menu
from nestplan.desk.menus.file import fill_file_menu
from nestplan.desk.menus.help import fill_help_menu
from nestplan.desk.menus.hides import fill_adding_menu
from nestplan.desk.menus.view import StepEntry, fill_view_menu
from nestplan.desk.output.desktop_notice import tell_desktop
from nestplan.desk.plain_text import menu_text
from nestplan.desk.session import Session
from nestplan.desk.settings import recovery_folder
from nestplan.desk.steps import Step, registered_steps
from nestplan.desk.table.legend import Legend
from nestplan.desk.table.placing import PlaceTool
from nestplan.desk.table.rulers import TableWithRulers
from nestplan.desk.table.tracing import PointerPosition, Tool, TraceTool
from nestplan.desk.theme import apply_theme, icon, renew_icons, style_sheet_put_off

__all__ = ["Window"]

_USUAL_SIZE = QSize(1320, 840)
_LONG_SEARCH = 20.0
"""Seconds of a search after which its end is told to someone who has turned to another window."""
_FRAME = QSize(8, 36)
"""Pixels that a desktop's frame may take beside and above a window."""


class Window(QMainWindow):
    """Everything one sees. `recovery` may be a folder of the caller's choice (for tests); with `tips` each step says
    something once, to who comes to it for the first time."""

    def __init__(self, *, recovery: Path | None = None, tips: bool = False) -> None:
        super().__init__()
        with style_sheet_put_off():
            self._make(recovery or recovery_folder(), tips)
        self._take_place()
        self.ruled.set_unit(self.settings.unit)
        self.go_to(next(iter(self.registered)))
        self.retitle()
        QTimer.singleShot(0, self, self.session.recovered.offer)

    def _make(self, recovery: Path, tips: bool) -> None:
        self._tips = tips
        self.setObjectName("desk")
        self.setAcceptDrops(True)
        self.session = Session(self, recovery)
        self.document, self.settings = self.session.document, self.session.settings
        self.table, self.navigation = self.session.table, self.session.navigation
        self.registered = {step.name: step for step in registered_steps()}
        self.editors: dict[str, StepEditor] = {
            name: step.editor(self.session) for name, step in self.registered.items()
        }
        self.panels = {name: step.panel(self.session) for name, step in self.registered.items()}
        self._subject = ("", "")
        self._guide: GuideWindow | None = None
        self._build()
        self.menus = MenuBuilder(self.menuBar())
        self._fill_menus()
        self._connect()
        for layer in self.settings.hidden_layers:
            self.table.set_layer(layer, False)

    def _take_place(self) -> None:
        """Open as the last time, or of a good size; never larger than the screen."""
        self.resize(_USUAL_SIZE)
        if self.settings.geometry is not None:
            self.restoreGeometry(self.settings.geometry)
        self.body.restore(self.settings.columns)
        room = self.screen().availableGeometry()
        # The title bar and the frame, which are not known yet, have to find room too.
        self.resize(self.size().boundedTo(room.size() - _FRAME))
        corner = self.pos()
        least, most = room.topLeft(), room.bottomRight() - QPoint(self.width(), self.height())
        self.move(
            max(least.x(), min(corner.x(), most.x())),
            max(least.y(), min(corner.y(), most.y())),
        )

    def _build(self) -> None:
        self.rack = Rack(self.document, self.settings)
        self.ruled = TableWithRulers(self.table)
        self.side = QStackedWidget()
        self.side.setObjectName("side")
        for panel in self.panels.values():
            self.side.addWidget(panel)
        self.centre = QStackedWidget()
        self.centre.addWidget(self.ruled)
        self._pages: dict[Callable[[Session], QWidget], QWidget] = {}
        for step in self.registered.values():
            for make in (step.page, step.start_page):
                if make is not None and make not in self._pages:
                    self._pages[make] = make(self.session)
                    self.centre.addWidget(self._pages[make])
        self.legend = Legend(self.table)
        self.legend.wanted = self.settings.legend
        self.toolbar = Toolbar(self.table.fit, self.toggle_tape, self.toggle_legend)
        self.legend.shown.connect(self.toolbar.legend.setChecked)
        self.strip = StepStrip(list(self.registered.values()))
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.toolbar)
        column.addWidget(self.centre, 1)
        self.notice = Notice(middle)
        self.notice.beside = self.legend
        self.body = Body(self.rack, middle, self.side)
        whole = QFrame()
        outer = QVBoxLayout(whole)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        outer.addWidget(self.body, 1)
        outer.addWidget(self.strip)
        self.setCentralWidget(whole)

    def _fill_menus(self) -> None:
        session, builder = self.session, self.menus
        fill_file_menu(
            builder, builder.menu("&File"), session.files, session.papers, self.settings, self.close
        )
        commands = EditCommands(
            duplicate=lambda: self.editor.duplicate(),
            select_all=lambda: self.editor.select_all(),
            select_kind=lambda: self.editor.select_kind(),
            copy_picture=self.copy_picture,
        )
        fill_edit_menu(builder, builder.menu("&Edit"), self.document.stack, self.table, commands)
        for step in self.registered.values():
            if step.menu is not None:
                title, fill = step.menu
                fill(builder, builder.menu(title), session)
        entries = [
            StepEntry(step.word, step.keys, step.icon, self._leading_to(step))
            for step in self.registered.values()
        ]
        fill_view_menu(
            builder,
            builder.menu("&View"),
            entries,
            self.document,
            self.table,
            self.settings,
            rack=self.body.toggle_rack,
            side=self.body.toggle_side,
            measure=self.toggle_tape,
            legend=self.toggle_legend,
            zoom_to_selection=self.zoom_to_selection,
        )
        fill_help_menu(builder, builder.menu("&Help"), self.show_guide, self)
        adding = QMenu(self)
        fill_adding_menu(adding, session.files, session.trace_hide)
        self.rack.add.setMenu(adding)
        self.toolbar.layers.setMenu(builder.menus["Show"])
        self.addActions([action for action in builder.actions.values() if not action.shortcut().isEmpty()])

    def _leading_to(self, step: Step) -> Callable[[], None]:
        return lambda: self.go_to(step.name)

    def _connect(self) -> None:
        messages = self.session.messages
        messages.sent.connect(self.notice.show_message)
        self.document.told.connect(messages.notify)
        for editor in dict.fromkeys(self.editors.values()):
            editor.error_reported.connect(messages.report_error)
            editor.notified.connect(messages.notify)
        self.strip.chosen.connect(self.go_to)
        self.navigation.changed.connect(self._step_changed)
        self.table.tool_changed.connect(self._tool_changed)
        self.table.menu_requested.connect(self._show_context_menu)
        self.table.released_outside.connect(self._dropped_outside)
        self.table.pointer_moved.connect(self._show_place)
        self.document.changed.connect(lambda _: self.refresh())
        self.document.hide_shown.connect(lambda _: self._fit_if_new())
        self.table.records_shown.connect(self._show_legend)
        self.document.opened.connect(self._opened)
        self.document.stack.cleanChanged.connect(self.retitle)
        self.document.stack.indexChanged.connect(self._drop_old_undo)
        self.document.deleted.connect(self._tell_change)
        self.session.plan_search.changed.connect(self.refresh)
        self.session.plan_search.finished.connect(self._tell_end_of_search)
        self.session.plan.checked.connect(lambda _: self.refresh())
        self.settings.unit_changed.connect(self.ruled.set_unit)
        self.settings.theme_changed.connect(self.change_theme)

    @property
    def step(self) -> Step:
        """The step at hand."""
        return self.registered[self.navigation.step]

    @property
    def editor(self) -> StepEditor:
        """What is done on the table in the step at hand."""
        return self.editors[self.step.name]

    def zoom_to_selection(self) -> None:
        """Show what is selected as large as there is room for; all of it where nothing is."""
        box = self.editor.selected_box()
        if box is None:
            self.table.fit()
        else:
            self.table.show_area(box)

    def copy_picture(self) -> None:
        """Put what is seen of the table on the clipboard."""
        QApplication.clipboard().setPixmap(self.table.viewport().grab())
        self.session.messages.notify("The picture of the table is on the clipboard.")

    def _show_context_menu(self, pointer: PointerPosition, at: QPoint) -> None:
        """What the right button offers for what is under the pointer."""
        if self.table.tool.unfinished:
            return
        self.editor.select_at(pointer)
        self.context_menu(self.editor.commands()).popup(at)

    def context_menu(self, commands: Sequence[Command]) -> QMenu:
        """A menu of commands, and what there is everywhere on the table."""
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        everywhere = [
            Command("Zoom to the selection", self.zoom_to_selection, key="Ctrl+9"),
            Command("Fit", self.table.fit, "fit", "Ctrl+0"),
            Command("Copy the picture of the table", self.copy_picture, key="Ctrl+Shift+C"),
        ]
        for command in (*commands, None, *everywhere):
            if command is None:
                menu.addSeparator()
                continue
            words = menu_text(command.words)
            made = menu.addAction(f"{words}\t{command.key}" if command.key else words)
            made.setEnabled(command.enabled)
            if command.icon:
                made.setIcon(icon(command.icon))
            made.triggered.connect(lambda _=False, act=command.action: act())
        return menu

    def _dropped_outside(self, at: QPoint) -> None:
        """A piece that is dragged onto a hide of the rack goes there."""
        tool, name = self.table.tool, self.rack.hide_at(at)
        if isinstance(tool, PlaceTool) and tool.held is not None and name:
            tool.key("escape")
            self.session.plan.move_to_hide(name)

    def go_to(self, step: str) -> None:
        """Make another step the one at hand."""
        self.navigation.go_to(step)
        self.strip.show_step(self.navigation.step)

    def _step_changed(self, left: str, name: str) -> None:
        if left:
            self.editors[left].leave()
        self.notice.clear_unless_asking()
        self.strip.show_step(name)
        self.side.setCurrentWidget(self.panels[name])
        self.editors[name].enter()
        self.refresh()
        self._fit_if_new()
        self._say_first_tip()

    def _say_first_tip(self) -> None:
        """What helps in a step, once; not over words that ask for something, nor where there is nothing to do yet."""
        step, seen = self.step, self.settings.tips_seen
        waits = step.is_empty(self.document.contents) or not self.notice.isHidden()
        if self._tips and step.first_tip and step.name not in seen and not waits:
            self.settings.tips_seen = seen | {step.name}
            self.session.messages.notify(step.first_tip)

    def refresh(self) -> None:
        """Show the page and the words that go with the work as it is now."""
        self._show_page()
        for name, step in self.registered.items():
            self.strip.show_progress(name, step.progress(self.session))
        self.retitle()

    def _show_page(self) -> None:
        step, page = self.step, None
        tracing = isinstance(self.table.tool, TraceTool)
        empty = step.start_page is not None and step.is_empty(self.document.contents)
        if empty and step.start_page is not None and not tracing:
            page = self._pages[step.start_page]
        elif step.page is not None:
            page = self._pages[step.page]
        # Before there is anything to change, a panel of fields would only be in the way.
        self.body.show_for_step(rack=step.shows_rack and not empty, side=not empty)
        self.centre.setCurrentWidget(page or self.ruled)
        self.toolbar.setVisible(page is None)
        self.toolbar.hint.setVisible(page is None and bool(self.toolbar.hint.text()))

    def retitle(self, _clean: bool = True) -> None:
        """Name the work in the window's title."""
        job = self.document.contents.job
        hide = self.document.hide
        name = job.name if job else hide.name if hide else "empty table"
        self.setWindowTitle(f"{name}[*] - nestplan")
        self.setWindowModified(not self.document.stack.isClean())

    def toggle_tape(self) -> None:
        """Measure on the table, or put the tape away."""
        self.editors[self.step.name].toggle_tape(self.settings.length)

    def toggle_legend(self) -> None:
        """Show the key to the colours, or put it away."""
        self.settings.legend = self.legend.wanted = not self.legend.isVisible()
        self.legend.arrange()
        self.toolbar.legend.setChecked(self.legend.isVisible())

    def _show_legend(self) -> None:
        """What lies on the table now, and nothing else, is in its key."""
        self.legend.show_entries(tuple(self.editors[self.step.name].legend()))

    def change_theme(self, theme: str) -> None:
        """Dress the window for another light."""
        application = QApplication.instance()
        if isinstance(application, QApplication):
            apply_theme(application, theme)
        self.table.rebuild()
        self.rack.refresh()
        renew_icons(self)
        self.menus.renew_icons()
        self.session.comparison.changed.emit()

    def show_guide(self) -> None:
        """Open the guide."""
        if self._guide is None:
            added = "\n\n".join(step.guide for step in self.registered.values() if step.guide)
            self._guide = GuideWindow(added, self)
        self._guide.show()
        self._guide.raise_()

    def _tell_change(self, words: str) -> None:
        self.session.messages.notify_change(f"{words}.", self.document.stack.undo)

    def _tell_end_of_search(self, seconds: float) -> None:
        """Call back someone who has turned to something else while a search went on for long."""
        if seconds >= _LONG_SEARCH:
            tell_desktop(self, f"The search has ended: {self.registered['plan'].progress(self.session)}.")

    def _drop_old_undo(self) -> None:
        """Words that offer to take something back go when something else is the last change."""
        if self.notice.offers_undo:
            self.notice.clear()

    def _tool_changed(self, tool: Tool) -> None:
        self.toolbar.show_hint(tool.hint)
        self._show_page()

    def _show_place(self, at: tuple[float, float] | None) -> None:
        length = self.settings.length
        self.toolbar.place.setText(f"{length(at[0])} · {length(at[1])}" if at is not None else "")

    def _fit_if_new(self) -> None:
        """Show all of what lies on the table when it is another thing than before."""
        subject = self.editors[self.step.name].subject()
        if subject != self._subject and self.step.page is None:
            self._subject = subject
            QTimer.singleShot(0, self.table, self.table.fit)

    def _opened(self) -> None:
        self._subject = ("", "")
        self.editors[self.step.name].enter()
        self.refresh()
        self._fit_if_new()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        urls = event.mimeData().urls()
        self.session.files.open([Path(url.toLocalFile()) for url in urls if url.isLocalFile()])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.notice.isVisible():
            self.notice.clear()
        else:
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.session.files.may_leave():
            event.ignore()
            return
        self.settings.geometry = self.saveGeometry()
        self.settings.columns = self.body.saveState()
        self.settings.save()
        for panel in self.panels.values():
            panel.close()
        self.session.close()
        self.table.blockSignals(True)  # nobody is left to be told of what goes with it
        for timer in self.findChildren(QTimer):
            timer.stop()
        event.accept()
