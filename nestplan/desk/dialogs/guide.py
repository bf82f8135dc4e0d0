"""The guide in a window of its own, shown by F1: Markdown with pictures from resources/guide."""

from __future__ import annotations

from PySide6.QtCore import QSize, QUrl
from PySide6.QtWidgets import QDialog, QTextBrowser, QVBoxLayout, QWidget

from nestplan.resources import resource

__all__ = ["GuideWindow"]


class GuideWindow(QDialog):
    """Shows the guide, and below it what is `added` (Markdown); may stay open beside the work."""

    def __init__(self, added: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Guide: from the hide to the table")
        self.resize(QSize(860, 720).boundedTo(self.screen().availableSize() - QSize(8, 36)))
        self.text = QTextBrowser()
        self.text.setOpenExternalLinks(False)
        self.text.setSearchPaths([str(resource("guide"))])
        self.text.document().setBaseUrl(QUrl.fromLocalFile(str(resource("guide")) + "/"))
        guide = resource("guide", "guide.md").read_text(encoding="utf-8")
        self.text.setMarkdown(f"{guide}\n\n{added}" if added else guide)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.text)
