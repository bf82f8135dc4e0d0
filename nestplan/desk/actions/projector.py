"""The plan under a projector: its dialog, made when it is first asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from nestplan.desk.document.document import Document
from nestplan.desk.navigation import Navigation
from nestplan.desk.settings import Settings

if TYPE_CHECKING:
    from nestplan.desk.dialogs.projector import ProjectorDialog

__all__ = ["ProjectorAction"]


class ProjectorAction:
    """Opens the dialog of the projector view; `dialog` is None until it was opened once."""

    def __init__(
        self,
        document: Document,
        settings: Settings,
        navigation: Navigation,
        parent: QWidget,
    ) -> None:
        self._document, self._settings = document, settings
        self._navigation, self._parent = navigation, parent
        self.dialog: ProjectorDialog | None = None

    def show(self) -> None:
        """Open the dialog, or bring it to the front."""
        from nestplan.desk.dialogs.projector import ProjectorDialog

        self._navigation.go_to("cut")
        if self.dialog is None:
            self.dialog = ProjectorDialog(self._document, self._settings, self._parent)
        self.dialog.show()
        self.dialog.raise_()
