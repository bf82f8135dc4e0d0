"""Printing and exporting as the window does them: where to, asked; then done off the window's thread.

The pages and files themselves are `exporting`; how a page reaches a printer is `printing`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEventLoop, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog

from nestplan.desk.background.task import BackgroundTask
from nestplan.desk.output.exporting import booklet, export, export_comparison
from nestplan.desk.sentences import count
from nestplan.errors import InputError, NestplanError
from nestplan.storage import file_stem
from nestplan.tasks.exporting import EXPORTS, PRINTS

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

    from nestplan.desk.window import Window

__all__ = ["PaperActions"]


class PaperActions:
    """What the window prints and exports."""

    def __init__(self, window: Window) -> None:
        self._window = window

    def ask_export(self, name: str) -> None:
        """Ask where one of the papers is to go, write it and say so."""
        window, kind = self._window, EXPORTS[name]
        folder = Path(window.files.folder())
        if not kind.endings:
            path = QFileDialog.getExistingDirectory(window, kind.words, str(folder))
        else:
            start = folder / f"{file_stem(self._title())}-{name.replace(' ', '-')}{kind.endings[0]}"
            endings = ";;".join(f"{ending[1:].upper()} (*{ending})" for ending in kind.endings)
            path, chosen = QFileDialog.getSaveFileName(window, kind.words, str(start), endings)
            if path and Path(path).suffix.lower() not in kind.endings:
                picked = next((ending for ending in kind.endings if f"*{ending}" in chosen), kind.endings[0])
                path += picked
        if path:
            self.export_to(name, Path(path))

    def _title(self) -> str:
        document = self._window.document
        if document.contents.job is not None:
            return document.contents.job.name
        return document.hide.name if document.hide is not None else "nestplan"

    def export_to(self, name: str, path: Path) -> bool:
        """Write one of the papers. Whether it was done."""
        window = self._window
        contents, hide, settings = window.document.contents, window.document.hide, window.settings
        unit, paper = settings.unit, settings.paper
        done = self._aside(
            f"Writing {path.name} …", lambda: export(name, contents, hide, path, unit, paper) or path
        )
        if done is None:
            return False
        url = QUrl.fromLocalFile(str(path))
        window.notice.tell(f"Written: {path}", offers={"Open it": lambda: QDesktopServices.openUrl(url)})
        return True

    def ask_comparison(self) -> None:
        """Ask for a folder and write the comparison of the hides into it."""
        window = self._window
        if not window.choose_panel.answers:
            window.report_error(
                InputError("There is no comparison yet.", mend="Compare the hides first (step 3).")
            )
            return
        path = QFileDialog.getExistingDirectory(
            window, "The comparison of the hides, into a folder", str(window.files.folder())
        )
        if path:
            self.comparison_to(Path(path))

    def comparison_to(self, folder: Path) -> bool:
        """Write the comparison as table and pictures. Whether it was done."""
        window, panel = self._window, self._window.choose_panel
        answers, together, by = panel.ranked(), panel.together.found, panel.by.value
        contents, unit = window.document.contents, window.settings.unit
        done = self._aside(
            "Writing the comparison …",
            lambda: export_comparison(answers, together, contents, folder, by, unit) or folder,
        )
        if done is None:
            return False
        url = QUrl.fromLocalFile(str(folder / "compare.pdf"))
        window.notice.tell(
            f"Written: compare.pdf, .png, .csv and .json in {folder}",
            offers={"Open it": lambda: QDesktopServices.openUrl(url)},
        )
        return True

    def ask_print(self, name: str) -> None:
        """Ask for a printer and print one of PRINTS."""
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        dialog = QPrintDialog(printer, self._window)
        dialog.setWindowTitle(f"Print: {PRINTS[name]}")
        if dialog.exec() == QPrintDialog.DialogCode.Accepted:
            self.print_on(name, printer)

    def print_on(self, name: str, printer: QPrinter) -> bool:
        """Print one of PRINTS at true size. Whether it was done."""
        from nestplan.desk.output.printing import print_booklet

        window, contents = self._window, self._window.document.contents
        unit, paper = window.settings.unit, window.settings.paper
        pages = self._aside(f"Laying out: {PRINTS[name]} …", lambda: booklet(name, contents, unit, paper))
        if pages is None:
            return False
        try:
            print_booklet(pages, printer)
        except NestplanError as error:
            window.report_error(error)
            return False
        window.notice.tell(
            f"Sent to the printer: {PRINTS[name]}, {count(len(pages.pages), 'page')}. Measure the gauge on a full-size "
            "sheet: a printer that scales to fit spoils it."
        )
        return True

    def _aside(self, words: str, work: Callable[[], Any]) -> Any:
        """What `work` gives, worked out in a thread while the window lives on; None where it failed, which is told."""
        window, answer = self._window, []
        window.notice.tell(words)
        loop = QEventLoop()
        task = BackgroundTask(lambda control: work(), parent=window)
        task.done.connect(answer.append)
        task.failed.connect(window.report_error)
        task.ended.connect(loop.quit)
        task.start()
        loop.exec()
        task.finish()
        task.deleteLater()
        return answer[0] if answer else None
