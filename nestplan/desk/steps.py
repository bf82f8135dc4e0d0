"""The steps of the work, each registered once: what it edits, its panel, its page, its words, keys and menu.

The window, the strip of steps, the menus and the guide read this list. A further step is one `register_step`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtWidgets import QMenu, QWidget

from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.menus.hides import fill_hides_menu
from nestplan.desk.menus.pieces import fill_pieces_menu
from nestplan.desk.menus.plan import fill_plan_menu
from nestplan.desk.pages.board import Board
from nestplan.desk.pages.start import no_hides_page, no_pieces_page
from nestplan.desk.panels.choose import ChoosePanel
from nestplan.desk.panels.cutting import CuttingPanel
from nestplan.desk.panels.hides import HidesPanel
from nestplan.desk.panels.pieces import PiecesPanel
from nestplan.desk.panels.plan import PlanPanel
from nestplan.desk.sentences import count, cut_words, job_words, plan_words
from nestplan.desk.session import Session
from nestplan.tasks.contents import Contents

__all__ = ["Step", "register_step", "registered_steps", "unregister_step"]


@dataclass(frozen=True)
class Step:
    """One step of the work.

    `word` and `tip` stand in the strip of steps, `progress` below them: how far the step is. `editor` gives what
    one does on the table in this step, `panel` the side panel. `page` gives what stands in place of the table,
    `start_page` what stands there while `is_empty`. `menu` is the title of a menu of its own and what fills it.
    `guide` is Markdown added to the guide, for a step that the guide does not tell of. `first_tip` is said once, when
    someone comes to the step for the first time.
    """

    name: str
    word: str
    tip: str
    editor: Callable[[Session], StepEditor]
    panel: Callable[[Session], QWidget]
    progress: Callable[[Session], str]
    keys: str = ""
    icon: str = ""
    page: Callable[[Session], QWidget] | None = None
    start_page: Callable[[Session], QWidget] | None = None
    is_empty: Callable[[Contents], bool] = lambda contents: False
    shows_rack: bool = True
    menu: tuple[str, Callable[[MenuBuilder, QMenu, Session], None]] | None = None
    guide: str = ""
    first_tip: str = ""


_steps: list[Step] = []


def register_step(step: Step) -> None:
    """Add a step after the others; windows made from now on show it."""
    if any(other.name == step.name for other in _steps):
        raise ValueError(f"There is a step called '{step.name}' already.")
    _steps.append(step)


def unregister_step(name: str) -> None:
    """Take a step away; windows made from now on do without it."""
    _steps[:] = [step for step in _steps if step.name != name]


def registered_steps() -> tuple[Step, ...]:
    """All steps in the worker's order."""
    return tuple(_steps)


def _hides_start(session: Session) -> QWidget:
    return no_hides_page(session.files, session.settings, session.trace_hide)


def _pieces_start(session: Session) -> QWidget:
    return no_pieces_page(session.files, session.measures_wanted.emit, session.draw_piece)


def _pieces_panel(session: Session) -> QWidget:
    panel = PiecesPanel(session.document, session.pieces, session.settings)
    panel.import_action.triggered.connect(session.files.ask_pieces)
    panel.photo_action.triggered.connect(session.files.ask_templates)
    session.files.pieces_read.connect(panel.add_pieces)
    session.measures_wanted.connect(panel.from_measures)
    session.sizes_wanted.connect(panel.ask_sizes)
    return panel


def _choose_panel(session: Session) -> QWidget:
    panel = ChoosePanel(session.document, session.comparison, session.settings)
    panel.failed.connect(session.messages.report_error)
    panel.report_wanted.connect(session.papers.ask_comparison)
    session.comparison_wanted.connect(panel.compare)
    return panel


def _plan_panel(session: Session) -> QWidget:
    panel = PlanPanel(session.document, session.plan, session.plan_search, session.settings)
    session.search_wanted.connect(panel.begin)
    panel.waiting.backbone_wanted.connect(session.draw_backbone)
    return panel


def _cut_panel(session: Session) -> QWidget:
    panel = CuttingPanel(session.document, session.plan, session.plan_search)
    panel.sheet_wanted.connect(lambda: session.papers.ask_export("cut sheet"))
    panel.projector_wanted.connect(session.projector.show)
    panel.search_wanted.connect(session.search)
    panel.commit_wanted.connect(session.cuts.commit)
    return panel


def _plan_progress(session: Session) -> str:
    contents = session.document.contents
    checked = session.checker.latest
    if checked is not None and checked.plan is not contents.plan:
        checked = None
    figures = checked.figures if checked is not None else None
    faults = len(checked.faults) if checked is not None else 0
    figures = figures or (contents.plan.figures if contents.plan else None)
    return plan_words(contents.plan, contents.job, figures, faults)


def _has_no_hides(contents: Contents) -> bool:
    return not contents.hides


def _hides_menu(builder: MenuBuilder, menu: QMenu, session: Session) -> None:
    fill_hides_menu(builder, menu, session.hides, session.files, session.navigation, trace=session.trace_hide)


def _pieces_menu(builder: MenuBuilder, menu: QMenu, session: Session) -> None:
    measure, draw = session.measures_wanted.emit, session.draw_piece
    fill_pieces_menu(
        builder,
        menu,
        session.pieces,
        session.files,
        session.navigation,
        measure=measure,
        draw=draw,
        ask_sizes=session.sizes_wanted.emit,
    )


def _plan_menu(builder: MenuBuilder, menu: QMenu, session: Session) -> None:
    fill_plan_menu(
        builder,
        menu,
        session.plan,
        session.cuts,
        session.projector,
        search=session.search,
        compare=session.compare,
    )


for _step in (
    Step(
        name="hides",
        first_tip=(
            "Mark every flaw before you plan: Spot, Scratch and Patch beside the table. The wheel zooms, "
            "the right button offers more."
        ),
        word="Hides",
        tip="Lay out the hides: outlines, flaws, regions, backbone",
        keys="Ctrl+1",
        editor=lambda session: session.hides,
        panel=lambda session: HidesPanel(session.document, session.hides, session.settings),
        progress=lambda session: (
            count(len(session.document.contents.hides), "hide")
            if session.document.contents.hides
            else "lay one out"
        ),
        start_page=_hides_start,
        is_empty=_has_no_hides,
        menu=("&Hide", _hides_menu),
    ),
    Step(
        name="pieces",
        first_tip=(
            "Choose a piece in the list; its figures stand below it, and the table shows it at its true size."
        ),
        word="Pieces",
        tip="Say what is to be cut: pieces, straps, laces, how many sets",
        keys="Ctrl+2",
        editor=lambda session: session.pieces,
        panel=_pieces_panel,
        progress=lambda session: job_words(session.document.contents.job),
        start_page=_pieces_start,
        is_empty=lambda contents: contents.job is None,
        shows_rack=False,
        menu=("&Pieces", _pieces_menu),
    ),
    Step(
        name="choose",
        first_tip="Compare the hides asks each one how much of the job it gives by itself.",
        word="Choose",
        tip="See which hides suit the job",
        keys="Ctrl+3",
        editor=lambda session: session.plan,
        panel=_choose_panel,
        progress=lambda session: "which hide gives what",
        page=lambda session: Board(session.document, session.comparison, session.settings),
        start_page=_hides_start,
        is_empty=_has_no_hides,
        shows_rack=False,
    ),
    Step(
        name="plan",
        first_tip=(
            "Plan searches for places. Then drag a piece, or use its keys: M turns over, L locks, F "
            "slides to a free place."
        ),
        word="Plan",
        tip="Place the pieces on the hides, by a search and by hand",
        keys="Ctrl+4",
        editor=lambda session: session.plan,
        panel=_plan_panel,
        progress=_plan_progress,
        start_page=_hides_start,
        is_empty=_has_no_hides,
        menu=("P&lan", _plan_menu),
    ),
    Step(
        name="cut",
        first_tip=(
            "Tick what is cut. Found a flaw with the knife in your hand? Draw it, then Place the rest again."
        ),
        word="Cut",
        tip="At the table: print the sheet, mark what is cut, add a flaw found",
        keys="Ctrl+5",
        editor=lambda session: session.plan,
        panel=_cut_panel,
        progress=lambda session: cut_words(session.document.contents.plan),
        start_page=_hides_start,
        is_empty=_has_no_hides,
    ),
):
    register_step(_step)
