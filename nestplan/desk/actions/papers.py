"""Printing and exporting as the window does them: where to, asked; then done off the window's thread.

The pages and files themselves are `exporting`; how a page reaches a printer is `printing`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import QEventLoop, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QWidget

from nestplan.desk.actions.files import FileActions
from nestplan.desk.background.comparing import HideComparison
from nestplan.desk.background.task import BackgroundTask
from nestplan.desk.controls.open_dialog import ask_dialog
from nestplan.desk.document.document import Document
from nestplan.desk.messages import Messages
from nestplan.desk.output.exporting import booklet, export, export_comparison
from nestplan.desk.sentences import count
from nestplan.desk.settings import Settings
from nestplan.errors import InputError, NestplanError
from nestplan.sheets.catalogue import SHEETS, everything_to_export
from nestplan.storage import file_stem

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

    from nestplan.drawing.pages import Booklet

__all__ = ["PaperActions"]

Made = TypeVar("Made")
"""What a piece of work in the background gives."""


class PaperActions:
    """What the window prints and exports; dialogs open over `parent`."""

    def __init__(
        self,
        document: Document,
        comparison: HideComparison,
        settings: Settings,
        messages: Messages,
        files: FileActions,
        *,
        parent: QWidget,
    ) -> None:
        self._document, self._comparison, self._settings = document, comparison, settings
        self._messages, self._files, self._parent = messages, files, parent

    def ask_export(self, name: str) -> None:
        """Ask where one of the papers is to go, write it and say so."""
        kind = everything_to_export()[name]
        folder = Path(self._files.folder())
        if not kind.endings:
            path = QFileDialog.getExistingDirectory(self._parent, kind.words, str(folder))
        else:
            start = folder / f"{file_stem(self._title())}-{name.replace(' ', '-')}{kind.endings[0]}"
            endings = ";;".join(f"{ending[1:].upper()} (*{ending})" for ending in kind.endings)
            path, chosen = QFileDialog.getSaveFileName(self._parent, kind.words, str(start), endings)
            if path and Path(path).suffix.lower() not in kind.endings:
                selected = next(
                    (ending for ending in kind.endings if f"*{ending}" in chosen), kind.endings[0]
                )
                path += selected
        if path:
            self.export_to(name, Path(path))

    def _title(self) -> str:
        job, hide = self._document.contents.job, self._document.hide
        if job is not None:
            return job.name
        return hide.name if hide is not None else "nestplan"

    def export_to(self, name: str, path: Path) -> bool:
        """Write one of the papers. Whether it was done."""
        contents, hide = self._document.contents, self._document.hide
        unit, paper = self._settings.unit, self._settings.paper

        def write() -> Path:
            export(name, contents, hide, path, unit, paper)
            return path

        if self._in_background(f"Writing {path.name} …", write) is None:
            return False
        self._messages.notify(f"Written: {path}", offers=_opening(path))
        return True

    def ask_comparison(self) -> None:
        """Ask for a folder and write the comparison of the hides into it."""
        if not self._comparison.answers:
            self._messages.report_error(
                InputError("There is no comparison yet.", mend="Compare the hides first (step 3).")
            )
            return
        path = QFileDialog.getExistingDirectory(
            self._parent, "The comparison of the hides, into a folder", self._files.folder()
        )
        if path:
            self.comparison_to(Path(path))

    def comparison_to(self, folder: Path) -> bool:
        """Write the comparison as table and pictures. Whether it was done."""
        comparison = self._comparison
        answers, together, by = comparison.ranked(), comparison.combination, comparison.ranking
        contents, unit = self._document.contents, self._settings.unit

        def write() -> Path:
            export_comparison(answers, together, contents, folder, by, unit)
            return folder

        if self._in_background("Writing the comparison …", write) is None:
            return False
        self._messages.notify(
            f"Written: compare.pdf, .png, .csv and .json in {folder}", offers=_opening(folder / "compare.pdf")
        )
        return True

    def ask_print(self, name: str) -> None:
        """Ask for a printer and print one of the catalogue's sheets."""
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        dialog = QPrintDialog(printer, self._parent)
        dialog.setWindowTitle(f"Print: {SHEETS[name].title}")
        if ask_dialog(dialog) == QPrintDialog.DialogCode.Accepted:
            self.print_on(name, printer)

    def ask_preview(self, name: str) -> None:
        """Show one of the catalogue's sheets as it will be printed; from there it can be."""
        from PySide6.QtPrintSupport import QPrinter, QPrintPreviewDialog

        from nestplan.desk.output.printing import preview_booklet

        pages = self._laid_out(name)
        if pages is None:
            return
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)  # the dialog does not keep it alive
        dialog = QPrintPreviewDialog(printer, self._parent)
        dialog.setWindowTitle(f"Before it is printed: {SHEETS[name].title}")
        dialog.paintRequested.connect(lambda printer: preview_booklet(pages, printer))
        ask_dialog(dialog)

    def _laid_out(self, name: str) -> Booklet | None:
        contents, unit, paper = self._document.contents, self._settings.unit, self._settings.paper
        return self._in_background(
            f"Laying out: {SHEETS[name].title} …", lambda: booklet(name, contents, unit, paper)
        )

    def print_on(self, name: str, printer: QPrinter) -> bool:
        """Print one of the catalogue's sheets at true size. Whether it was done."""
        from nestplan.desk.output.printing import print_booklet

        pages = self._laid_out(name)
        if pages is None:
            return False
        try:
            print_booklet(pages, printer)
        except NestplanError as error:
            self._messages.report_error(error)
            return False
        self._messages.notify(
            f"Sent to the printer: {SHEETS[name].title}, {count(len(pages.pages), 'page')}. Measure the gauge "
            "on a full-size sheet: a printer that scales to fit spoils it."
        )
        return True

    def _in_background(self, words: str, work: Callable[[], Made]) -> Made | None:
        """What `work` gives, worked out in a thread while the window lives on; None where it failed, which is told."""
        answer: list[Made] = []
        self._messages.notify(words)
        loop = QEventLoop()
        task = BackgroundTask(lambda control: work(), parent=self._parent)
        task.done.connect(answer.append)
        task.failed.connect(self._messages.report_error)
        task.ended.connect(loop.quit)
        task.start()
        loop.exec()
        task.finish()
        return answer[0] if answer else None


def _opening(path: Path) -> dict[str, Callable[[], object]]:
    """The offer to open a file that was written."""
    return {"Open it": lambda: QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))}
