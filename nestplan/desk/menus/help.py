"""The menu Help: the guide, and what nestplan is."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QMenu, QMessageBox, QWidget

from nestplan import __version__
from nestplan.desk.menus.builder import MenuBuilder

__all__ = ["fill_help_menu"]


def fill_help_menu(
    builder: MenuBuilder, menu: QMenu, show_guide: Callable[[], object], parent: QWidget
) -> None:
    """Fill the menu; the words about nestplan open over `parent`."""
    builder.add(menu, "&Guide", show_guide, keys="F1")
    builder.add(menu, "&About nestplan", lambda: _show_about(parent))


def _show_about(parent: QWidget) -> None:
    QMessageBox.about(
        parent,
        "About nestplan",
        f"nestplan {__version__}\n\nPlans how to cut panels, straps and lace from irregular hides, before the "
        "knife touches leather. MIT licence.\n\nIt reminds of cautions but approves nothing: the makers' "
        "instructions, local rules and trained practice come first.",
    )
