"""Opening, saving and importing as the window does them: questions asked, answers taken.

Reading and writing itself is in `files`; what goes out on paper is asked for in `paper_actions`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import msgspec
from PySide6.QtCore import QObject, QSize, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from nestplan.desk.background.checking import PlanChecker
from nestplan.desk.controls.open_dialog import open_dialog
from nestplan.desk.dialogs.conflicts import ask_about_conflicts
from nestplan.desk.document.document import Document, folder_of
from nestplan.desk.editing.hide_editor import HideEditor
from nestplan.desk.messages import Messages
from nestplan.desk.navigation import Navigation
from nestplan.desk.recent_jobs import RecentJob
from nestplan.desk.sentences import left_words, opened_words, repair_words, saved_words
from nestplan.desk.settings import Settings
from nestplan.desk.table.thumbnails import thumbnail
from nestplan.errors import NestplanError
from nestplan.model.cut_journal import RackRepair
from nestplan.model.hide import Hide
from nestplan.storage import real_path
from nestplan.tasks.contents import Contents, HidePhoto
from nestplan.tasks.hide_pictures import pictures_beside
from nestplan.tasks.opening import DRAWING_SUFFIXES, PHOTO_SUFFIXES, OpenedFiles, file_kind, open_files
from nestplan.tasks.output_paths import free_name
from nestplan.tasks.save_conflicts import SaveConflict, check_save, contents_beside, contents_of_theirs
from nestplan.tasks.saving import save_contents

__all__ = ["FileActions"]

_OPEN = (
    "Hides, jobs, plans (*.json);;Drawings (*.dxf *.svg *.csv);;"
    "Photographs (*.jpg *.jpeg *.png *.tif);;All files (*)"
)


_PICTURE = QSize(176, 100)
"""Of a recent job, pixels."""


class FileActions(QObject):
    """What the window does with files. `saved` is the work as it was last opened or saved.

    `pieces_read` carries the pieces of a drawing; dialogs open over `parent`.
    """

    pieces_read = Signal(object)

    def __init__(
        self,
        document: Document,
        hides: HideEditor,
        checker: PlanChecker,
        settings: Settings,
        messages: Messages,
        navigation: Navigation,
        *,
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self._document, self._hides, self._checker = document, hides, checker
        self._settings, self._messages, self._navigation = settings, messages, navigation
        self._parent = parent
        self.saved = Contents()

    def ask_open(self) -> None:
        """Ask for files and open them."""
        names, _ = QFileDialog.getOpenFileNames(self._parent, "Open", self.folder(), _OPEN)
        if names:
            self.open([Path(name) for name in names])

    def ask_folder(self) -> None:
        """Ask for a folder and open the hides, job and plan in it."""
        name = QFileDialog.getExistingDirectory(self._parent, "Open a folder", self.folder())
        if name:
            self.open([Path(name)])

    def open(self, paths: Sequence[Path]) -> None:
        """Open files: on an empty table they are the work, on a laid one hides join and a job takes its place."""
        document, repairs = self._document, list[RackRepair]()
        opened, faults = _open_what_can_be(paths, repairs.append)
        if opened is None:
            self._messages.report_error(faults[0])
            return
        if opened.hides or opened.job or opened.plan:
            if document.contents == Contents() or (document.stack.isClean() and (opened.job or opened.plan)):
                photos = pictures_beside(opened.files)
                contents = Contents(tuple(opened.hides), opened.job, opened.plan, photos)
                self.saved = contents
                document.open(contents, opened.files)
                self._remember([str(real_path(path)) for path in paths])
            else:
                self._join(opened)
            step = "plan" if opened.plan else "hides" if opened.hides else "pieces"
            self._navigation.go_to(step)
        words = [*map(repair_words, repairs), opened_words(opened)]
        if faults:
            self._messages.report_error(faults[0], faults[1:])
        elif any(words):
            self._messages.notify(" ".join(filter(None, words)))
        for photo in opened.photos[:1]:
            self.take_photo(photo)
        for drawing in opened.drawings:
            self.take_drawing(drawing, pieces=self._navigation.step == "pieces")

    def open_recent(self, job: RecentJob) -> None:
        """Open a job of the last days in place of what lies on the table."""
        if self.may_leave():
            self.saved = Contents()
            self._document.open(Contents(), {})
            self.open([Path(file) for file in job.files])

    def _remember(self, files: list[str]) -> None:
        """Put what lies open at the head of the recent jobs, with its name and a picture of it."""
        contents = self._document.contents
        planned = {placement.hide for placement in contents.plan.placements} if contents.plan else set()
        hide = next((hide for hide in contents.hides if hide.name in planned), self._document.hide)
        name = contents.job.name if contents.job else hide.name if hide else ""
        picture = thumbnail(hide, contents.plan, contents.job, _PICTURE) if hide is not None else None
        self._settings.add_recent(files, name, picture)

    def _join(self, opened: OpenedFiles) -> None:
        document, names = self._document, [hide.name for hide in self._document.contents.hides]
        hides, photos = list(document.contents.hides), list(document.contents.photos)
        pictures = dict(pictures_beside(opened.files))
        for hide in opened.hides:
            name = free_name(hide.name, names)
            names.append(name)
            if name == hide.name:
                document.add_file(name, opened.files[hide.name])
            hides.append(hide if name == hide.name else msgspec.structs.replace(hide, name=name))
            if hide.name in pictures:
                photos.append((name, pictures[hide.name]))
        contents = replace(document.contents, hides=tuple(hides), photos=tuple(photos))
        if opened.job is not None:
            contents = replace(contents, job=opened.job, plan=opened.plan)
            document.add_file("", opened.files[""])
        document.change("Open files", contents)

    def open_demo(self) -> None:
        """Open the demo: the invented Quillmere pageant. It is saved elsewhere, never over itself."""
        from nestplan.resources import demo_folder

        if not self.may_leave():
            return
        try:
            opened = open_files([demo_folder()])
        except (NestplanError, FileNotFoundError) as error:
            self._messages.report_error(error)
            return
        self.saved = Contents()
        self._document.open(Contents(tuple(opened.hides), opened.job, opened.plan), {})
        self._navigation.go_to("hides")
        self._messages.notify(
            "The demo: a village pageant's belts on six hides, all invented. Go through the steps below; "
            "step 4 plans it."
        )

    def start_anew(self) -> None:
        """An empty table."""
        if self.may_leave():
            self.saved = Contents()
            self._document.open(Contents(), {})
            self._navigation.go_to("hides")

    def save(self) -> bool:
        """Save every file that has changed; ask for a folder where one is new. Whether it was done."""
        folder = folder_of(self._document.files)
        unnamed = [h for h in self._document.contents.hides if h.name not in self._document.files]
        if folder is None or (unnamed and folder is None):
            return self.save_elsewhere()
        return self.save_in(folder, self._document.files)

    def save_elsewhere(self) -> bool:
        """Ask for a folder and save everything there."""
        name = QFileDialog.getExistingDirectory(self._parent, "Save in which folder?", self.folder())
        return bool(name) and self.save_in(Path(name), {})

    def save_in(self, folder: Path, files: dict[str, str]) -> bool:
        """Save what has changed (all of it where `files` is empty) in a folder. Whether it was done."""
        document = self._document
        saved = self.saved if files else Contents()
        check = check_save(document.contents, saved, files, document.fingerprints)
        if check.conflicts:
            answer = ask_about_conflicts(check.conflicts, self._parent)
            if answer == "cancel":
                return False
            if answer == "theirs":
                return self._take_theirs(folder, files, check.conflicts)
            contents, files = contents_beside(document.contents, files, check.conflicts)
            document.change("Keep both", contents)
        try:
            done = save_contents(self._with_figures(), saved, files, folder, leave=check.left)
        except NestplanError as error:
            self._messages.report_error(error)
            return False
        if not files:
            document.forget_files()  # what undo brings back is saved here too
        document.note_saved(done.files, check.left)
        if done.used_changed:
            document.change("Mark as used up", replace(document.contents, hides=done.contents.hides))
        self.saved = document.contents
        document.stack.setClean()
        self._remember(list(document.files.values()))
        self._messages.notify(" ".join([f"Saved in {folder}.", *saved_words(done), *left_words(check.left)]))
        return True

    def _take_theirs(self, folder: Path, files: dict[str, str], conflicts: Sequence[SaveConflict]) -> bool:
        """Take what is in the files in place of ours, as a step that can be undone, and save the rest."""
        document = self._document
        document.change("Take theirs", contents_of_theirs(document.contents, conflicts))
        for conflict in conflicts:
            document.add_file(conflict.name, str(conflict.file))
        return self.save_in(folder, files)

    def _with_figures(self) -> Contents:
        """What lies open, its plan with the figures that were counted last, where they are its own."""
        contents, latest = self._document.contents, self._checker.latest
        if latest is None or latest.plan is not contents.plan or contents.plan is None or not latest.figures:
            return contents
        return replace(contents, plan=msgspec.structs.replace(contents.plan, figures=latest.figures))

    def show_saved(self, contents: Contents, files: dict[str, str]) -> None:
        """Show what lies in these files, in place of what lies open."""
        self.saved = contents
        self._document.open(contents, files)

    def may_leave(self) -> bool:
        """Whether the work at hand may go: it is saved, or the user says so."""
        if self._document.stack.isClean():
            return True
        buttons = QMessageBox.StandardButton
        answer = QMessageBox.question(
            self._parent,
            "Unsaved work",
            "Save the work on the table first?",
            buttons.Save | buttons.Discard | buttons.Cancel,
            buttons.Save,
        )
        if answer == buttons.Save:
            return self.save()
        return answer == buttons.Discard

    def ask_photo(self) -> None:
        """Ask for a photograph of a hide."""
        endings = " ".join(f"*{ending}" for ending in PHOTO_SUFFIXES)
        name, _ = QFileDialog.getOpenFileName(
            self._parent, "Photograph of a hide", self.folder(), f"Pictures ({endings})"
        )
        if name:
            self.take_photo(name)

    def take_photo(self, name: str) -> None:
        """Ask what is needed to take a hide from a photograph."""
        from nestplan.desk.dialogs.photo import PhotoDialog

        dialog = PhotoDialog(name, self._settings, self._parent)
        dialog.error_reported.connect(self._messages.report_error)
        dialog.made.connect(self._photo_made)
        dialog.notified.connect(self._messages.notify)
        open_dialog(dialog)

    def _photo_made(self, hide: Hide, photo: HidePhoto) -> None:
        self._document.add_hide(hide, photo)
        self._navigation.go_to("hides")
        self._hides.edit_points()
        self._hides.table.fit()

    def ask_again(self) -> None:
        """Ask for a photograph of the current hide as it lies now."""
        hide = self._document.hide
        if hide is None:
            self._messages.notify("There is no hide to find again; open one first.")
            return
        endings = " ".join(f"*{ending}" for ending in PHOTO_SUFFIXES)
        name, _ = QFileDialog.getOpenFileName(
            self._parent, f"Photograph of {hide.name} as it lies now", self.folder(), f"Pictures ({endings})"
        )
        if name:
            self.find_again(name)

    def find_again(self, name: str) -> None:
        """Find the current hide again in a photograph of it as it lies now."""
        from nestplan.desk.dialogs.retrace import RetraceDialog

        hide = self._document.hide
        if hide is None:
            return
        dialog = RetraceDialog(name, hide.name, self._document.contents, self._settings, self._parent)
        dialog.error_reported.connect(self._messages.report_error)
        dialog.made.connect(self._retraced)
        open_dialog(dialog)

    def _retraced(self, contents: Contents) -> None:
        self._document.change("Take the hide as it lies", contents)
        self._hides.table.fit()

    def ask_measures(self) -> None:
        """Ask for the kind and tape measures of a hide."""
        from nestplan.desk.dialogs.measured_hide import MeasuredHideDialog

        dialog = MeasuredHideDialog(self._settings, self._parent)
        dialog.made.connect(self._hide_made)
        open_dialog(dialog)

    def _hide_made(self, hide: Hide) -> None:
        self._document.add_hide(hide)
        self._navigation.go_to("hides")
        self._hides.table.fit()

    def ask_hide_drawing(self) -> None:
        """Ask for the drawing of a hide."""
        self._ask_drawing("Drawing of a hide", pieces=False)

    def ask_pieces(self) -> None:
        """Ask for a drawing of pieces."""
        self._ask_drawing("Drawing of the pieces", pieces=True)

    def ask_templates(self) -> None:
        """Ask for a photograph of templates."""
        endings = " ".join(f"*{ending}" for ending in PHOTO_SUFFIXES)
        name, _ = QFileDialog.getOpenFileName(
            self._parent, "Photograph of templates", self.folder(), f"Pictures ({endings})"
        )
        if name:
            self.take_templates(name)

    def take_templates(self, name: str) -> None:
        """Ask what is needed to take pieces from a photograph of templates."""
        from nestplan.desk.dialogs.templates import TemplatesDialog

        dialog = TemplatesDialog(name, self._settings, self._parent)
        dialog.error_reported.connect(self._messages.report_error)
        dialog.made.connect(self._templates_made)
        dialog.notified.connect(self._messages.notify)
        open_dialog(dialog)

    def _templates_made(self, pieces: object) -> None:
        self._navigation.go_to("pieces")
        self.pieces_read.emit(pieces)

    def _ask_drawing(self, title: str, *, pieces: bool) -> None:
        endings = " ".join(f"*{ending}" for ending in (*DRAWING_SUFFIXES, ".json"))
        names, _ = QFileDialog.getOpenFileNames(self._parent, title, self.folder(), f"Drawings ({endings})")
        for name in names:
            self.take_drawing(name, pieces=pieces)

    def take_drawing(
        self,
        name: str,
        *,
        pieces: bool,
        units: str | None = None,
        repair: bool = False,
        ignored: tuple[str, ...] = (),
    ) -> None:
        """Take the hide or the pieces out of a drawing; offer what would mend it where it cannot be read."""
        from nestplan.errors import ShapeError, UnitError
        from nestplan.intake.drawings.polylines import FrameError
        from nestplan.intake.drawings.to_model import read_hide_drawing, read_piece_drawing

        table = dict.fromkeys(ignored, "ignore") if ignored else None

        def again(**changed: Any) -> None:
            said: dict[str, Any] = {"units": units, "repair": repair, "ignored": ignored}
            self.take_drawing(name, pieces=pieces, **{**said, **changed})

        try:
            if pieces:
                read = read_piece_drawing(name, units=units, repair=repair, layers=table)
                self._navigation.go_to("pieces")
                self.pieces_read.emit(read)
            else:
                self._document.add_hide(read_hide_drawing(name, units=units, repair=repair, layers=table))
                self._navigation.go_to("hides")
        except UnitError as error:
            offers = {unit: partial(again, units=unit) for unit in ("mm", "cm", "in")}
            self._messages.notify(
                f"{error.what} In which unit was {Path(name).name} drawn?", alarm=True, offers=offers
            )
        except ShapeError as error:
            mends = {} if repair else {"Mend it": partial(again, repair=True)}
            if isinstance(error, FrameError) and error.layer and error.layer not in ignored:
                mends[f"Leave out the layer {error.layer}"] = partial(again, ignored=(*ignored, error.layer))
            self._messages.notify(str(error), alarm=True, offers=mends)
        except NestplanError as error:
            self._messages.report_error(error)

    def folder(self) -> str:
        """Where to begin when a file is asked for."""
        folder = folder_of(self._document.files)
        recent = self._settings.recent_jobs.jobs
        if folder is None and recent:
            folder = Path(recent[0].files[0]).parent
        return str(folder or Path.home())


def _open_what_can_be(
    paths: Sequence[Path], on_repair: Callable[[RackRepair], None]
) -> tuple[OpenedFiles | None, list[NestplanError]]:
    """What is in the files, without those that cannot be read, and what is wrong with these."""
    try:
        return open_files(paths, on_repair=on_repair), []
    except NestplanError as error:
        first = error
    readable: list[Path] = []
    faults: list[NestplanError] = []
    for path in _files_in(paths):
        try:
            open_files([path], beside=False, on_repair=on_repair)
        except NestplanError as error:
            faults.append(error)
        else:
            readable.append(path)
    if not readable or not faults:
        return None, [first]
    try:
        return open_files(readable, on_repair=on_repair), faults
    except NestplanError as error:
        return None, [error]


def _files_in(paths: Sequence[Path]) -> list[Path]:
    """The files, and those of nestplan in folders among them."""
    files: list[Path] = []
    for path in paths:
        if path.is_dir():
            files += [file for file in sorted(path.iterdir()) if file_kind(file) in ("hide", "job", "plan")]
        else:
            files.append(path)
    return files
