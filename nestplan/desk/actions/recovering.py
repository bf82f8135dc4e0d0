"""Work left behind by a program that was ended before it was saved: offered, taken up again or thrown away."""

from __future__ import annotations

from nestplan.desk.actions.files import FileActions
from nestplan.desk.document.document import Document
from nestplan.desk.document.recovery import RecoveredWork, Recovery
from nestplan.desk.messages import Messages
from nestplan.desk.navigation import Navigation
from nestplan.tasks.contents import Contents

__all__ = ["RecoveryActions"]


class RecoveryActions:
    """Asks what is to become of work that was left behind."""

    def __init__(
        self,
        document: Document,
        recovery: Recovery,
        files: FileActions,
        messages: Messages,
        navigation: Navigation,
    ) -> None:
        self._document, self._recovery, self._files = document, recovery, files
        self._messages, self._navigation = messages, navigation

    def offer(self) -> None:
        """Offer the newest work that was left behind, if there is any."""
        found = self._recovery.found()
        if not found:
            return
        newest = found[0]
        self._messages.notify(
            f"nestplan was ended before its work was saved: {newest.words}",
            offers={
                "Take it up again": lambda: self.take_up(newest),
                "Throw it away": lambda: self._recovery.forget(newest),
            },
        )

    def take_up(self, found: RecoveredWork) -> None:
        """Put work that was left behind on the table, as work that is not saved."""
        self._document.open(found.contents, found.files, found.fingerprints)
        self._document.stack.resetClean()
        self._files.saved = Contents()
        if found.draft is not None:
            self._document.set_plan("Take up what the search had found", found.draft)
        self._recovery.replace(found)
        self._navigation.go_to("plan" if found.planning or found.contents.plan else "hides")
        if found.planning:
            self._messages.notify("A plan was being made when nestplan ended. Start it again when you like.")
