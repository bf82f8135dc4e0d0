"""What an empty table says: what to do first, and one click for each way to begin."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QPushButton, QVBoxLayout, QWidget

from nestplan.desk.actions.files import FileActions
from nestplan.desk.controls.fields import button, soft
from nestplan.desk.plain_text import plain_label

__all__ = ["StartPage", "no_hides_page", "no_pieces_page"]


class StartPage(QWidget):
    """A page with a heading, a sentence, and ways to begin: words -> (what it is, action)."""

    def __init__(self, title: str, words: str, ways: dict[str, tuple[str, Callable[[], object]]]) -> None:
        super().__init__()
        self.buttons: dict[str, QPushButton] = {}
        head = plain_label(title)
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


def no_hides_page(files: FileActions, trace: Callable[[], object]) -> StartPage:
    """The page before there is a hide; `trace` begins one on the table."""
    return StartPage(
        "An empty table",
        "Lay a hide on it first: the outline with its flaws. Then say what is to be cut (step 2).",
        {
            "Open the demo": (
                "An invented pageant's belts on six hides, ready to try everything.",
                files.open_demo,
            ),
            "Trace a hide": (
                "Point by point or freehand, on the empty table in true millimetres.",
                trace,
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


def no_pieces_page(
    files: FileActions, measure: Callable[[], object], draw: Callable[[], object]
) -> StartPage:
    """The page before there is a job; `measure` asks for a piece's figures, `draw` begins one on the table."""
    return StartPage(
        "Nothing to cut yet",
        "Add the pieces of one article; how many articles are wanted is asked in the panel.",
        {
            "From measures …": (
                "A panel, strap, disc or lace from its figures.",
                measure,
            ),
            "Draw a piece": (
                "Point by point or freehand, on the table in true millimetres.",
                draw,
            ),
            "Drawing file …": ("The pieces of a DXF or SVG drawing.", files.ask_pieces),
            "Open a job …": ("A job file that was saved before.", files.ask_open),
        },
    )
