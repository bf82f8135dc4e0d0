"""The placements that are selected: what they are, their turn, and what can be done with them."""

from __future__ import annotations

from functools import partial

from PySide6.QtWidgets import QGridLayout, QMenu, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import button, form, number_field, section, soft
from nestplan.desk.document.document import Document
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.plain_text import menu_text
from nestplan.desk.settings import Settings
from nestplan.model.plan import Placement

__all__ = ["SelectedPart"]


class SelectedPart(QWidget):
    """Hidden while nothing is selected."""

    def __init__(self, document: Document, editor: PlanEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self.title = section("")
        self.words = soft()
        self.angle = number_field(-360, 360, whole=False, suffix="°", tip="Type the angle it is to lie at")
        self.angle.edited.connect(lambda angle: editor.turn_to(float(angle)))
        self.lock_button = button(
            "Lock", editor.toggle_lock, icon="lock", tip="Stays where it is when the rest is planned (L)"
        )
        self.turn_over_button = button(
            "Turn over", editor.turn_over, icon="over", tip="Place it face down (M)"
        )
        self.nearest_free_button = button(
            "Nearest free", editor.slide_free, icon="slide", tip="Slide to the nearest free place (F)"
        )
        self.take_off_button = button(
            "Remove", editor.take_off, icon="off", tip="Remove it from the hide; it waits (Delete)"
        )
        self.other_hide_button = button(
            "To another hide", lambda: None, tip="Place it in the nearest free place of another hide"
        )
        self._menu = QMenu(self)
        self._menu.aboutToShow.connect(self._fill_menu)
        self.other_hide_button.setMenu(self._menu)
        grid = QGridLayout()
        for number, made in enumerate(
            (self.lock_button, self.turn_over_button, self.nearest_free_button, self.take_off_button)
        ):
            grid.addWidget(made, number // 2, number % 2)
        grid.addWidget(self.other_hide_button, 2, 0, 1, 2)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addWidget(self.words)
        column.addLayout(form(("Turned to", self.angle)))
        column.addLayout(grid)
        document.selection_changed.connect(self.show_selected)
        document.plan_changed.connect(lambda _: self.show_selected(document.selected))
        self.show_selected(document.selected)

    def show_selected(self, selected: tuple[Placement, ...]) -> None:
        """Show what is selected now."""
        self.setVisible(bool(selected))
        if not selected:
            return
        if len(selected) > 1:
            self.title.setText(f"{len(selected)} pieces selected")
            self.words.setText("")
        else:
            one = selected[0]
            from nestplan.sheets.placement_names import placed_name

            job = self._document.contents.job
            self.title.setText(one.name if job is None else placed_name(job, one))
            facts = [f"set {one.set}"]
            if one.overcut:
                facts.append(f"overcut {self._settings.length(one.overcut)}")
            if one.mirrored:
                facts.append("mirror image")
            if one.locked:
                facts.append("locked")
            if one.done:
                facts.append("already cut")
            self.words.setText(", ".join(facts).capitalize() + ".")
            self.angle.set_value(round(one.angle, 1))
        fixed = any(placement.locked or placement.done for placement in selected)
        self.angle.setEnabled(len(selected) == 1 and not fixed)
        self.lock_button.setText("Unlock" if all(placement.locked for placement in selected) else "Lock")
        self.turn_over_button.setEnabled(not fixed and not any(placement.strip for placement in selected))
        self.nearest_free_button.setEnabled(len(selected) == 1 and not fixed)
        self.take_off_button.setEnabled(not any(placement.done for placement in selected))
        self.other_hide_button.setEnabled(not fixed and len(self._document.contents.hides) > 1)

    def _fill_menu(self) -> None:
        self._menu.clear()
        here = {placement.hide for placement in self._document.selected}
        for hide in self._document.contents.hides:
            if hide.name not in here:
                self._menu.addAction(menu_text(hide.name), partial(self._editor.move_to_hide, hide.name))
