"""What an empty table says: what to do first, and one click for each way to begin."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import button, soft

if TYPE_CHECKING:
    from nestplan.desk.window import Window

__all__ = ["EmptyTable", "empty_pieces", "empty_table"]


class EmptyTable(QWidget):
    """A page with a heading, a sentence, and ways to begin: words -> (what it is, action)."""

    def __init__(self, title: str, words: str, ways: dict[str, tuple[str, Callable[[], object]]]) -> None:
        super().__init__()
        self.buttons: dict[str, QPushButton] = {}
        head = QLabel(title)
        head.setStyleSheet("font-size: 26px; font-weight: 600;")
        text = soft(words)
        text.setStyleSheet("font-size: 15px;")
        grid = QGridLayout()
        grid.setVerticalSpacing(10)
        grid.setHorizontalSpacing(16)
        for row, (name, (what, action)) in enumerate(ways.items()):
            made = button(name, action, main=row == 0)
            made.setMinimumSize(190, 36)
            self.buttons[name] = made
            grid.addWidget(made, row, 0)
            words_beside = soft(what)
            words_beside.setMinimumHeight(38)
            grid.addWidget(words_beside, row, 1)
        grid.setColumnStretch(1, 1)
        inner = QWidget()
        inner.setFixedWidth(640)
        column = QVBoxLayout(inner)
        column.setSpacing(14)
        column.addWidget(head)
        column.addWidget(text)
        column.addLayout(grid)
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        outer.addWidget(inner, 0, Qt.AlignmentFlag.AlignHCenter)
        outer.addStretch(3)


def empty_table(window: Window) -> EmptyTable:
    """The page of the first step before there is a hide."""
    files = window.files
    return EmptyTable(
        "An empty table",
        "Lay a hide on it first: the outline with its flaws. Then say what is to be cut (step 2).",
        {
            "Open the demo": (
                "An invented pageant's belts on six hides, ready to try everything.",
                files.open_demo,
            ),
            "Trace a hide": (
                "Point by point or freehand, on the empty table in true millimetres.",
                window.trace_hide,
            ),
            "Photograph …": (
                "A picture of a hide with a sheet of paper or a board of known size on it.",
                files.ask_photo,
            ),
            "From measures …": (
                "The usual shape of a cow side, a goat skin …, fitted to your tape.",
                files.ask_measures,
            ),
            "Open files …": (
                "Hides, jobs, plans, or a drawing from another program. Or drop them here.",
                files.ask_open,
            ),
        },
    )


def empty_pieces(window: Window) -> EmptyTable:
    """The page of the second step before there is a job."""
    return EmptyTable(
        "Nothing to cut yet",
        "Add the pieces of one article; how many articles are wanted is asked in the panel.",
        {
            "From measures …": (
                "A panel, strap, disc or lace from its figures.",
                window.piece_panel.from_measures,
            ),
            "Draw a piece": (
                "Point by point or freehand, on the table in true millimetres.",
                window.draw_piece,
            ),
            "Drawing file …": ("The pieces of a DXF or SVG drawing.", window.files.ask_pieces),
            "Open a job …": ("A job file that was saved before.", window.files.ask_open),
        },
    )
