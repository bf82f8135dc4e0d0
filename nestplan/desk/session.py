"""What the parts of one window share: the document, the table, the models beside them, and what can be done.

The window makes one; the steps, panels and menus are given what they need of it. It shows nothing itself.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from nestplan.desk.actions.cutting import CutActions
from nestplan.desk.actions.files import FileActions
from nestplan.desk.actions.papers import PaperActions
from nestplan.desk.actions.projector import ProjectorAction
from nestplan.desk.actions.recovering import RecoveryActions
from nestplan.desk.background.checking import PlanChecker
from nestplan.desk.background.comparing import HideComparison
from nestplan.desk.document.document import Document
from nestplan.desk.document.recovery import Recovery
from nestplan.desk.editing.hide_editor import HideEditor
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.editing.plan_search import PlanSearch
from nestplan.desk.messages import Messages
from nestplan.desk.navigation import Navigation
from nestplan.desk.settings import Settings
from nestplan.desk.table.canvas import Table

__all__ = ["Session"]


class Session(QObject):
    """The models of one window. Dialogs open over `parent`; unsaved work is kept safe in the folder `recovery`.

    `search_wanted`, `comparison_wanted`, `measures_wanted` and `sizes_wanted` ask the panel that holds the figures to
    search for a plan, to compare the hides, to ask for a piece's measures, for the sizes of an article.
    """

    search_wanted = Signal()
    comparison_wanted = Signal()
    measures_wanted = Signal()
    sizes_wanted = Signal()

    def __init__(self, parent: QWidget, recovery: Path) -> None:
        super().__init__(parent)
        self.settings = Settings(self)
        self.messages = Messages(self.settings, self)
        self.navigation, self.document = Navigation(self), Document(self)
        self.checker = PlanChecker(self.document, self)
        self.comparison = HideComparison(self.document, self)
        self.recovery = Recovery(self.document, recovery, self)
        self.table = Table()
        self.hides = HideEditor(self.document, self.table)
        self.pieces = PieceEditor(self.document, self.table)
        self.plan_search = PlanSearch(self.document, self)
        self.plan = PlanEditor(self.document, self.table, self.checker, self.plan_search, self.settings)
        self.files = FileActions(
            self.document,
            self.hides,
            self.checker,
            self.settings,
            self.messages,
            self.navigation,
            parent=parent,
        )
        self.cuts = CutActions(
            self.document, self.files, self.settings, self.messages, self.navigation, parent=parent
        )
        self.papers = PaperActions(
            self.document, self.comparison, self.settings, self.messages, self.files, parent=parent
        )
        self.projector = ProjectorAction(self.document, self.settings, self.navigation, parent)
        self.recovered = RecoveryActions(
            self.document, self.recovery, self.files, self.messages, self.navigation
        )
        self.checker.failed.connect(self.messages.report_error)
        self.plan_search.changed.connect(self._keep_search_safe)
        self.navigation.changed.connect(self._set_cutting)

    def _keep_search_safe(self) -> None:
        search = self.plan_search.current
        running = search is not None and search.running
        self.recovery.planning = running
        self.recovery.live = search.draft_plan if search is not None and running else lambda: None
        self.recovery.note()

    def _set_cutting(self, _left: str, step: str) -> None:
        self.plan.cutting = step == "cut"

    def trace_hide(self) -> None:
        """Trace a new hide on the table."""
        self.navigation.go_to("hides")
        self.hides.trace_new()
        if not self.document.contents.hides:
            self.table.fit()

    def draw_piece(self) -> None:
        """Draw a new piece on the table."""
        self.navigation.go_to("pieces")
        self.pieces.draw_piece()

    def draw_backbone(self, hide: str) -> None:
        """Draw the backbone of a hide on the table, for a plan that waits for it."""
        self.document.show_hide(hide)
        self.navigation.go_to("hides")
        self.hides.draw_backbone(then=lambda: self._offer_search(hide))

    def _offer_search(self, hide: str) -> None:
        self.messages.notify(f"{hide} has a backbone now.", offers={"Plan again": self.search})

    def search(self) -> None:
        """Search for a plan with what the form of the step Plan says."""
        self.navigation.go_to("plan")
        self.search_wanted.emit()

    def compare(self) -> None:
        """Compare the hides as the form of the step Choose says."""
        self.navigation.go_to("choose")
        self.comparison_wanted.emit()

    def close(self) -> None:
        """End all that is being worked out, and the keeping of unsaved work."""
        self.plan_search.close()
        self.comparison.close()
        self.checker.close()
        self.recovery.close()
        self.document.close()
