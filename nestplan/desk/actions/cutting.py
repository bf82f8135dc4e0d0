"""The plan on the table committed as cut, after a question with its counts, and taken back again, also days later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from nestplan.desk.actions.files import FileActions
from nestplan.desk.controls.open_dialog import ask_dialog
from nestplan.desk.document.document import Document, folder_of
from nestplan.desk.messages import Messages
from nestplan.desk.navigation import Navigation
from nestplan.desk.sentences import count
from nestplan.desk.settings import Settings
from nestplan.errors import InputError, NestplanError
from nestplan.model.plan import Plan
from nestplan.tasks.contents import Contents
from nestplan.tasks.cutting import (
    CommittedCut,
    CutOnRack,
    contents_after_cut,
    contents_after_taking_back,
    cut_plan,
    find_cut,
    last_cut,
    take_back_cut,
)

__all__ = ["CutActions"]


@dataclass(frozen=True)
class _CutOnTable:
    """A cut that was committed here: what lay open before it and since, with the files, and the cut itself."""

    before: Contents
    before_files: dict[str, str]
    contents: Contents
    files: dict[str, str]
    cut: CommittedCut


class CutActions:
    """What the window does when all is cut; questions open over `parent`."""

    def __init__(
        self,
        document: Document,
        files: FileActions,
        settings: Settings,
        messages: Messages,
        navigation: Navigation,
        *,
        parent: QWidget,
    ) -> None:
        self._document, self._files, self._settings = document, files, settings
        self._messages, self._navigation, self._parent = messages, navigation, parent
        self._last: _CutOnTable | None = None

    def commit(self) -> None:
        """Ask, save, then commit the plan as cut: hides used up, offcuts on the rack, the job in the log."""
        plan = self._document.contents.plan
        if plan is not None and plan.placements and not self._asked_to_commit(plan):
            return
        if not self._files.save():
            return
        try:
            done = _cut_saved_plan(self._document.contents, dict(self._document.files))
        except NestplanError as error:
            self._messages.report_error(error)
            return
        self._last = done
        self._settings.rack = str(done.cut.rack)
        self._files.show_saved(done.contents, done.files)
        self._navigation.go_to("hides")
        self._messages.notify(
            _cut_words(len(done.cut.used), len(done.cut.offcuts)),
            offers={"Take it back": self._take_last_back},
        )

    def _asked_to_commit(self, plan: Plan) -> bool:
        """Whether the user says that all is cut, told how much is ticked and which hides are used up."""
        ticked, laid = sum(placement.done for placement in plan.placements), len(plan.placements)
        hides = len({placement.hide for placement in plan.placements})
        words = f"{ticked} of {count(laid, 'piece')} {'is' if laid == 1 else 'are'} ticked as cut."
        if ticked < laid:
            words += f" The other {laid - ticked} will count as cut too."
        box = self._question("All is cut?", words)
        box.setInformativeText(
            f"{count(hides, 'hide')} will be used up; what is left of {'it' if hides == 1 else 'them'} goes to the "
            "rack as hides, the job to your log. The menu Plan takes it back."
        )
        cut = box.addButton("All is cut", QMessageBox.ButtonRole.AcceptRole)
        cancel = box.addButton(QMessageBox.StandardButton.Cancel)
        box.setDefaultButton(cancel if ticked < laid else cut)
        ask_dialog(box)
        return box.clickedButton() is cut

    def take_back(self) -> None:
        """Ask, then take back the cut that was committed last on this rack, now or on an earlier day."""
        try:
            found = last_cut(self._rack())
        except NestplanError as error:
            self._messages.report_error(error)
            return
        if found is None:
            self._messages.report_error(
                InputError("There is no cut to take back.", mend="Open the folder of its hides first.")
            )
            return
        box = self._question("Take the cut back?", f"The plan '{found.plan}' was cut on {found.date[:10]}.")
        box.setInformativeText(
            f"{count(found.hides, 'hide')} will be whole again, {count(found.offcuts, 'offcut')} leave the rack."
        )
        back = box.addButton("Take it back", QMessageBox.ButtonRole.AcceptRole)
        box.addButton(QMessageBox.StandardButton.Cancel)
        ask_dialog(box)
        if box.clickedButton() is not back or not self._files.may_leave():
            return
        if self._last is not None and self._last.cut.cut_id == found.cut_id:
            self._take_last_back()
        else:
            self._take_back(found)

    def _take_last_back(self) -> None:
        """Take back the cut committed here; what lies open is as before it, if nothing was done since."""
        last = self._last
        if last is None:
            return
        try:
            take_back_cut(last.cut.rack, last.cut.cut_id, hide_files=last.cut.hide_files)
        except NestplanError as error:
            self._messages.report_error(error)
            return
        self._last = None
        if self._document.contents is last.contents:
            self._files.show_saved(last.before, last.before_files)
        else:
            self._reopen(Path(last.before_files["plan"]))

    def _take_back(self, found: CutOnRack) -> None:
        try:
            take_back_cut(found.rack, found.cut_id, hide_files=found.hide_files)
        except NestplanError as error:
            self._messages.report_error(error)
            return
        self._reopen(found.plan_file)

    def _reopen(self, plan_file: Path | None) -> None:
        """Show what lies in the files now: hides that are whole again, no offcuts that are gone, the plan."""
        try:
            contents, files = contents_after_taking_back(
                self._document.contents, self._document.files, plan_file
            )
        except NestplanError as error:
            self._messages.report_error(error)
            return
        self._files.show_saved(contents, files)
        self._navigation.go_to("plan" if contents.plan else "hides")
        self._messages.notify("The cut was taken back.")

    def _rack(self) -> Path:
        """The folder whose last cut is meant: that of what lies open, else the one a cut was committed in last."""
        folder = folder_of(self._document.files)
        if folder is not None and last_cut(folder) is not None:
            return folder
        return Path(self._settings.rack) if self._settings.rack else Path(self._files.folder())

    def _question(self, title: str, words: str) -> QMessageBox:
        box = QMessageBox(self._parent)
        box.setIcon(QMessageBox.Icon.Question)
        box.setWindowTitle(title)
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setText(words)
        return box


def _cut_saved_plan(contents: Contents, files: Mapping[str, str]) -> _CutOnTable:
    """Commit the plan of `contents`, whose parts are all saved in `files`, as cut.

    Raises InputError if a part is not saved, a hide was used up already, or the rack cannot be written.
    """
    if contents.plan is None or contents.job is None or "plan" not in files or not contents.plan.placements:
        raise InputError(
            "Nothing has been planned and saved, so there is nothing to book.", mend="Save the plan first."
        )
    hides = [Path(files[hide.name]) for hide in contents.hides if hide.name in files]
    saved = find_cut(Path(files["plan"]), job=Path(files[""]), hides=hides)
    done = cut_plan(saved, taken=[hide.name for hide in contents.hides])
    after, files_after = contents_after_cut(contents, files, done)
    return _CutOnTable(contents, dict(files), after, files_after, done)


def _cut_words(gone: int, offcuts: int) -> str:
    used = f"{count(gone, 'hide')} {'is' if gone == 1 else 'are'} used up"
    lie = "lies on the rack as a hide of its own" if offcuts == 1 else "lie on the rack as hides of their own"
    return f"{used}; {count(offcuts, 'offcut')} {lie}."
