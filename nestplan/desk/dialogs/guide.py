"""The guide in a window of its own, shown by F1: Markdown with pictures from resources/guide."""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QSize, Qt, QUrl
from PySide6.QtGui import QImage, QResizeEvent, QTextDocument
from PySide6.QtWidgets import QDialog, QTextBrowser, QVBoxLayout, QWidget

from nestplan.resources import resource

__all__ = ["GuideWindow"]

_MARGINS = 24
"""Pixels of the margins of a text and of its scroll bar."""


class _Pages(QTextBrowser):
    """Text with pictures that are never wider than it."""

    def __init__(self) -> None:
        super().__init__()
        self._pictures: dict[QUrl, QImage] = {}

    def loadResource(self, kind: int, name: QUrl | str) -> object:
        found = super().loadResource(kind, name)
        image = QImage.fromData(found) if isinstance(found, QByteArray) else QImage()
        if image.isNull():
            return found
        self._pictures[QUrl(name)] = image
        return self._fitting(image)

    def _fitting(self, image: QImage) -> QImage:
        room = self.viewport().width() - _MARGINS
        if image.width() <= room:
            return image
        return image.scaledToWidth(max(room, 1), Qt.TransformationMode.SmoothTransformation)

    def resizeEvent(self, event: QResizeEvent) -> None:
        text = self.document()
        for name, image in self._pictures.items():
            text.addResource(QTextDocument.ResourceType.ImageResource.value, name, self._fitting(image))
        text.markContentsDirty(0, text.characterCount())
        super().resizeEvent(event)


class GuideWindow(QDialog):
    """Shows the guide, and below it what is `added` (Markdown); may stay open beside the work."""

    def __init__(self, added: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Guide: from the hide to the table")
        self.resize(QSize(860, 720).boundedTo(self.screen().availableSize() - QSize(8, 36)))
        self.text = _Pages()
        self.text.setOpenExternalLinks(False)
        self.text.setSearchPaths([str(resource("guide"))])
        self.text.document().setBaseUrl(QUrl.fromLocalFile(str(resource("guide")) + "/"))
        guide = resource("guide", "guide.md").read_text(encoding="utf-8")
        self.text.setMarkdown(f"{guide}\n\n{added}" if added else guide)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.text)
