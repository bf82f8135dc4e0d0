"""What an empty table says: go on with a job of the last days, or begin in one of a few ways, each one click."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from nestplan.desk.actions.files import FileActions
from nestplan.desk.controls.card_button import CardButton
from nestplan.desk.controls.fields import section, soft
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.plain_text import plain_label, plain_tip
from nestplan.desk.settings import Settings
from nestplan.desk.theme import icon

__all__ = ["StartPage", "Way", "no_hides_page", "no_pieces_page"]

_WIDEST = 1080
"""Pixels over which the page does not spread."""
_CARD = 190
"""The least width of a card, pixels."""
_SHOWN_JOBS = 4


@dataclass(frozen=True)
class Way:
    """One way to begin: what it is, in a sentence, its icon, and what a click does."""

    words: str
    icon: str
    action: Callable[[], object]


class StartPage(QScrollArea):
    """A heading, a sentence, the jobs of the last days if there are any, and the ways to begin by their names."""

    def __init__(
        self,
        title: str,
        words: str,
        ways: dict[str, Way],
        *,
        files: FileActions | None = None,
        settings: Settings | None = None,
    ) -> None:
        super().__init__()
        self._files, self._settings = files, settings
        self.buttons: dict[str, QPushButton] = {}
        self.recent: list[CardButton] = []
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        head = plain_label(title)
        head.setProperty("role", "title")
        for number, (name, way) in enumerate(ways.items()):
            picture = icon(way.icon).pixmap(QSize(26, 26))
            made = CardButton(name, way.words, picture, main=number == 0)
            made.clicked.connect(lambda _=False, act=way.action: act())
            self.buttons[name] = made
        self._recent_title = section("Go on with")
        self._recent_title.hide()
        self._recent_tiles = QWidget()
        self._recent_tiles.hide()
        self._tiles = TileLayout(least=_CARD, widest=_CARD + 40, spacing=12)
        self._recent_tiles.setLayout(self._tiles)
        begin = QWidget()
        begin.setLayout(TileLayout(self.buttons.values(), least=_CARD, spacing=12))
        inner, middle = QWidget(), QWidget()
        inner.setObjectName("column")
        middle.setMaximumWidth(_WIDEST)
        QHBoxLayout(inner).addWidget(middle)
        column = QVBoxLayout(middle)
        column.setContentsMargins(24, 16, 24, 16)
        column.setSpacing(9)
        column.addStretch(1)
        begin_title = section("Begin")
        for widget in (head, soft(words), self._recent_title, self._recent_tiles, begin_title, begin):
            column.addWidget(widget)
        begin_title.setVisible(files is not None)
        column.addStretch(2)
        self.setWidget(inner)
        self._show_recent()

    def showEvent(self, event: QShowEvent) -> None:
        self._show_recent()
        super().showEvent(event)

    def _show_recent(self) -> None:
        files, settings = self._files, self._settings
        if files is None or settings is None:
            return
        jobs = settings.recent_jobs.jobs[:_SHOWN_JOBS]
        for card in self.recent:
            self._tiles.removeWidget(card)
            card.hide()
            card.deleteLater()
        self.recent = []
        for job in jobs:
            when = f", {settings.date(job.date)}" if job.date else ""
            card = CardButton(job.title, f"{job.folder}{when}", settings.recent_jobs.picture(job))
            card.setToolTip(plain_tip("\n".join(job.files)))
            card.clicked.connect(lambda _=False, job=job, files=files: files.open_recent(job))
            self._tiles.addWidget(card)
            self.recent.append(card)
        self._recent_title.setVisible(bool(jobs))
        self._recent_tiles.setVisible(bool(jobs))


def no_hides_page(files: FileActions, settings: Settings, trace: Callable[[], object]) -> StartPage:
    """The page before there is a hide; `trace` begins one on the table."""
    return StartPage(
        "What are you going to cut?",
        "Lay a hide on the table first, its outline and its flaws. Then say what is to be cut from it.",
        {
            "Open the demo": Way(
                "An invented pageant's belts on six hides, to try everything.", "plan", files.open_demo
            ),
            "Photograph …": Way(
                "A hide with a sheet of paper or a measured board on it.", "photo", files.ask_photo
            ),
            "Trace a hide": Way("Point by point or freehand, in true millimetres.", "trace", trace),
            "From measures …": Way(
                "The usual shape of its kind, fitted to your tape.", "measures", files.ask_measures
            ),
            "Open files …": Way("Hides, jobs, plans, drawings. Or drop them here.", "open", files.ask_open),
        },
        files=files,
        settings=settings,
    )


def no_pieces_page(
    files: FileActions, measure: Callable[[], object], draw: Callable[[], object]
) -> StartPage:
    """The page before there is a job; `measure` asks for a piece's figures, `draw` begins one on the table."""
    return StartPage(
        "What is one article made of?",
        "Add its pieces, straps and laces. How many articles you want is asked beside the table.",
        {
            "From measures …": Way("A panel, strap, disc or lace from its figures.", "measures", measure),
            "Draw a piece": Way("Point by point or freehand, in true millimetres.", "trace", draw),
            "Drawing file …": Way("The pieces of a DXF or SVG drawing.", "open", files.ask_pieces),
            "Photo of templates …": Way(
                "Card or paper templates on a plain ground, beside a sheet.", "photo", files.ask_templates
            ),
            "Open a job …": Way("A job file that was saved before.", "save", files.ask_open),
        },
    )
