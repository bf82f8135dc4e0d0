"""A photograph of templates: the sheet in it, then the pieces, each seen over the photo to accept, mend and name."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QListWidget,
    QListWidgetItem,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    button,
    fit_rows,
    form,
    row_of,
    section,
    soft,
    text_field,
)
from nestplan.desk.dialogs.sheet_photo import SheetPhotoDialog
from nestplan.desk.dialogs.template_view import TemplateView
from nestplan.desk.editing.template_choices import TemplateTalk
from nestplan.desk.settings import Settings
from nestplan.errors import NestplanError

__all__ = ["TemplatesDialog"]

_MEANINGS = {"": "what do they mean?", "punch": "punch here", "mark": "mark here", "ignore": "nothing"}


class TemplatesDialog(SheetPhotoDialog):
    """Asks for the sheet, shows the templates found, and asks what is not known; `made` carries the pieces."""

    made = Signal(object)
    found_words = (
        "Found. Check that it is your sheet, of this size: every length hangs on it. Then find the templates."
    )
    failed_words = "Something went wrong inside nestplan. Mark the corners anew, or draw the pieces by hand."

    def __init__(self, file: str, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(file, settings, parent)
        self.setWindowTitle(f"Pieces from {Path(file).name}")
        self._settings = settings
        self.talk: TemplateTalk | None = None
        self.pieces_view = TemplateView()
        self.pieces_view.selected.connect(self._select)
        self.pieces_view.mended.connect(self._mended)
        self.read_button = button(
            "Find the templates",
            self._read,
            main=True,
            tip="Follow the edge of everything on the plain ground",
        )
        self.take_button = button("Take the pieces", self._take, main=True, tip="Add them to the job")
        self.rows = QListWidget()
        self.rows.setToolTip("Untick what is no template")
        self.rows.currentRowChanged.connect(self._select)
        self.rows.itemChanged.connect(self._ticked)
        self.name = text_field(tip="What the piece is called")
        self.name.edited.connect(self._named)
        self.mend_button = button(
            "Change its points", self.pieces_view.mend, tip="Drag, add or take out points"
        )
        self.symmetric = QCheckBox("Make it exactly symmetric")
        self.symmetric.clicked.connect(self._symmetric)
        self.pairs = QCheckBox()
        self.pairs.clicked.connect(lambda on: self._say("Join mirror images", join_pairs=on))
        self.groups: dict[str, Choice] = {}
        self.diameters: dict[str, LengthField] = {}
        self.undo_button = button("Undo", self._undo, tip="Take the last answer or change back")
        self._asked = QVBoxLayout()
        self.warned = soft()
        for keys, act in (
            (QKeySequence.StandardKey.Undo, self._undo), (QKeySequence.StandardKey.Redo, self._redo)
        ):  # fmt: skip
            QShortcut(keys, self, act)
        self.views = QStackedWidget()
        self.views.addWidget(self.view)
        self.views.addWidget(self.pieces_view)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._sheet_page())
        self._pages.addWidget(self._pieces_page())
        self._lay_out(self.views, self.words, self._pages)

    def _sheet_page(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self._sheet_form())
        column.addWidget(self.find_button)
        column.addWidget(self.read_button)
        column.addStretch(1)
        return page

    def _pieces_page(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.rows)
        column.addLayout(form(("Name", self.name)))
        column.addLayout(row_of(self.mend_button, self.undo_button))
        column.addWidget(self.symmetric)
        column.addWidget(self.pairs)
        column.addLayout(self._asked)
        column.addWidget(self.warned)
        column.addWidget(self.take_button)
        return page

    def _refresh(self) -> None:
        super()._refresh()
        self.read_button.setEnabled(self.scale is not None and not self._busy)
        talk = self.talk
        taken = 0 if talk is None else len(talk.read.found) - len(talk.choices.left_out)
        self.take_button.setEnabled(talk is not None and taken > 0 and not talk.open_groups)
        self.take_button.setText(f"Take {taken} template{'s' * (taken != 1)}")

    def _read(self) -> None:
        from nestplan.intake.photo.reading import read_photo
        from nestplan.tasks.templates import read_templates

        scale, file = self.scale, self._file
        if scale is None:
            return

        def work(control: TaskControl) -> object:
            read = read_templates(
                read_photo(file), scale, on_step=control.report, cancelled=lambda: control.cancelled
            )
            control.report("comparing the templates")
            # Worked out here, off the window's thread.
            _ = read.pairs, read.axes
            return TemplateTalk(read)

        self._start(work, self._show)

    def _show(self, talk: TemplateTalk | None) -> None:
        if talk is None:
            return
        self.talk = talk
        self.pieces_view.show_talk(talk)
        self._ask_groups()
        self.views.setCurrentIndex(1)
        self._pages.setCurrentIndex(1)
        self.words.setText(
            "Click a template or its line; double click it to change its points. Untick what is none. Blue edges are "
            "cut, orange holes punched or cut out; say what the green marks mean."
        )
        letters = talk.read.letters
        pairs = ", ".join(f"{letters[a]} and {letters[b]}" for a, b, _ in talk.read.pairs)
        self.pairs.setText(f"One piece, left and right, of {pairs}")
        self.pairs.setVisible(bool(pairs))
        warnings = "\n".join(f"May be wrong: {each.what} {each.mend}" for each in talk.read.warnings)
        self.warned.setText(warnings)
        self.warned.setVisible(bool(warnings))
        self._show_choices()
        self.rows.setCurrentRow(0)

    def _ask_groups(self) -> None:
        assert self.talk is not None
        for group, count in self.talk.read.marks_drawn.items():
            choice = Choice(_MEANINGS, tip="Nothing is guessed: say it once for all of this form and colour")
            choice.edited.connect(partial(self._meant, group))
            diameter = LengthField(self._settings, tip="How wide the hole is")
            diameter.set_value(4.0)
            diameter.edited.connect(partial(self._meant, group))
            diameter.setVisible(False)
            self.groups[group], self.diameters[group] = choice, diameter
            self._asked.addWidget(section(f"{count} {group}" if count > 1 else f"1 {group[:-1]}"))
            self._asked.addLayout(row_of(choice, diameter))

    def _show_choices(self) -> None:
        """Show what is said so far."""
        talk = self.talk
        if talk is None:
            return
        self.rows.blockSignals(True)
        row = max(self.rows.currentRow(), 0)
        self.rows.clear()
        for number in range(len(talk.read.found)):
            item = QListWidgetItem(talk.name(number))
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            taken = number not in talk.choices.left_out
            item.setCheckState(Qt.CheckState.Checked if taken else Qt.CheckState.Unchecked)
            self.rows.addItem(item)
        self.rows.setCurrentRow(row)
        self.rows.blockSignals(False)
        fit_rows(self.rows, most=8)
        self.pairs.setChecked(talk.choices.join_pairs)
        for group, choice in self.groups.items():
            meaning = talk.choices.meanings.get(group)
            choice.set_value("" if meaning is None else meaning.do)
            self.diameters[group].setVisible(
                meaning is not None and meaning.do == "punch" and group.endswith("dots")
            )
        self._select(row)
        self._refresh()
        self.pieces_view.update()

    def _select(self, number: int) -> None:
        talk = self.talk
        if talk is None or not 0 <= number < len(talk.read.found):
            return
        if number != self.pieces_view.current:
            self.pieces_view.select(number)
        if number != self.rows.currentRow():
            self.rows.setCurrentRow(number)
        self.name.set_value(talk.name(number))
        self.symmetric.setEnabled(number in talk.read.axes and number not in talk.choices.outlines)
        self.symmetric.setChecked(number in talk.choices.symmetric)

    def _say(self, words: str, **changes: object) -> None:
        if self.talk is not None:
            self.fault.hide()
            self.talk.say(words, **changes)
            self._show_choices()

    def _ticked(self, item: QListWidgetItem) -> None:
        if self.talk is None:
            return
        number = self.rows.row(item)
        if item.checkState() == Qt.CheckState.Checked:
            left_out = self.talk.choices.left_out - {number}
        else:
            left_out = self.talk.choices.left_out | {number}
        if left_out != self.talk.choices.left_out:
            self._say("Leave a template out", left_out=left_out)

    def _named(self, name: str) -> None:
        if self.talk is not None:
            self._say("Name a template", names={**self.talk.choices.names, self.pieces_view.current: name})

    def _symmetric(self, on: bool) -> None:
        if self.talk is not None:
            chosen = self.talk.choices.symmetric
            number = frozenset({self.pieces_view.current})
            self._say("Make a template symmetric", symmetric=chosen | number if on else chosen - number)

    def _meant(self, group: str, _value: object) -> None:
        from nestplan.intake.photo.templates_to_model import Meaning

        if self.talk is None:
            return
        meanings = {key: value for key, value in self.talk.choices.meanings.items() if key != group}
        do = self.groups[group].value
        if do:
            wide = self.diameters[group].value if do == "punch" and group.endswith("dots") else None
            meanings[group] = Meaning(do, wide)
        self._say("Say what marks mean", meanings=meanings)

    def _mended(self, number: int, ring: object) -> None:
        if self.talk is not None:
            self._say("Change points", outlines={**self.talk.choices.outlines, number: ring})

    def _undo(self) -> None:
        self._step_back(lambda talk: talk.undo())

    def _redo(self) -> None:
        self._step_back(lambda talk: talk.redo())

    def _step_back(self, step: Callable[[TemplateTalk], str]) -> None:
        if self.talk is not None and step(self.talk):
            mending = self.pieces_view.tool
            if mending is not None:
                mending.ring = self.talk.outline(self.pieces_view.current)
            self._show_choices()

    def _take(self) -> None:
        if self.talk is None:
            return
        try:
            pieces = self.talk.pieces()
        except NestplanError as error:
            self._show_error(f"{error.what} {error.mend}".strip())
            return
        self.made.emit(pieces)
        count = len(pieces)
        self.notified.emit(f"{count} piece{'s' * (count != 1)} taken from the photo.")
        self.accept()
