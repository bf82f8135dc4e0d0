"""Whatever is done to the document, in any order: undo leads back to the start, redo to the end, files give it back.

A state machine over the document itself, by hypothesis, with the same examples at each run.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from PySide6.QtCore import QCoreApplication, QEvent

from nestplan.desk.document import plan_edits
from nestplan.desk.document.document import Document, pieces_and_strips
from nestplan.geometry.pose import Pose
from nestplan.model.hide import Disc, Flaw
from nestplan.model.job import Article, Layer
from nestplan.model.piece import LayerCut, Piece
from nestplan.model.plan import Placement
from nestplan.tasks.contents import Contents
from nestplan.tasks.opening import open_files
from nestplan.tasks.planning import empty_plan
from nestplan.tasks.save_conflicts import check_save
from nestplan.tasks.saving import save_contents
from tests.desk.small_work import SQUARE, job, laid_work, pair_job, panel, sheet, spoiled_sheet

NAMES = st.sampled_from(("oak", "elm", "ash", "Ü 1"))
NUMBERS = st.integers(0, 11)
TENTHS = st.integers(1, 9000).map(lambda tenth: tenth / 10)


def without_place(placement: Placement) -> Placement:
    return msgspec.structs.replace(placement, finished=SQUARE, cut=SQUARE, x=0.0, y=0.0, angle=0.0)


class DocumentMachine(RuleBasedStateMachine):
    """A document that is changed, undone, redone, saved and opened again."""

    def __init__(self) -> None:
        super().__init__()
        self._home = tempfile.TemporaryDirectory()
        self.folder = Path(self._home.name)
        self.document = Document()
        self.saved = Contents()
        self.start = self.document.contents

    @initialize(laid=st.booleans())
    def open(self, laid: bool) -> None:
        contents = laid_work(3) if laid else Contents((spoiled_sheet(),), None, None)
        self.document.open(contents, {})
        self.saved, self.start = Contents(), self.document.contents

    @property
    def contents(self) -> Contents:
        return self.document.contents

    def one_of_hides(self, number: int):
        return self.contents.hides[number % len(self.contents.hides)]

    def laid(self, number: int):
        placements = self.contents.plan.placements
        return number % len(placements), placements[number % len(placements)]

    has_hides = precondition(lambda self: bool(self.contents.hides))
    has_job = precondition(lambda self: self.contents.job is not None)
    has_laid = precondition(lambda self: bool(self.contents.plan and self.contents.plan.placements))

    @rule(name=NAMES, width=TENTHS)
    def add_hide(self, name: str, width: float) -> None:
        self.document.add_hide(sheet(name, 300.0 + width))

    @has_hides
    @rule(number=NUMBERS, name=NAMES)
    def rename_hide(self, number: int, name: str) -> None:
        hide = self.one_of_hides(number)
        if name not in {other.name for other in self.contents.hides}:
            self.document.edit_hide("Rename", msgspec.structs.replace(hide, name=name), old=hide.name)

    @has_hides
    @rule(number=NUMBERS, leather=NAMES, joined=st.booleans())
    def edit_hide(self, number: int, leather: str, joined: bool) -> None:
        hide = msgspec.structs.replace(self.one_of_hides(number), leather=leather)
        self.document.edit_hide("Set the leather", hide, kind="leather" if joined else "")

    @has_hides
    @rule(number=NUMBERS, x=TENTHS)
    def add_flaw(self, number: int, x: float) -> None:
        hide = self.one_of_hides(number)
        flaw = Flaw(spoils="grain", disc=Disc(at=(50.0 + x / 4, 90.0), diameter=12.5), margin=2.0)
        self.document.edit_hide("Add a flaw", msgspec.structs.replace(hide, flaws=(*hide.flaws, flaw)))

    @has_hides
    @rule(number=NUMBERS)
    def remove_hide(self, number: int) -> None:
        self.document.remove_hide(self.one_of_hides(number).name)

    @rule(pair=st.booleans())
    def begin_job(self, pair: bool) -> None:
        if self.contents.job is None:
            self.document.edit_job("New job", pair_job() if pair else job(panel(), sets=2))

    @has_job
    @rule(name=NAMES)
    def add_piece(self, name: str) -> None:
        self.document.add_piece(panel(name))

    @has_job
    @rule(number=NUMBERS, name=NAMES)
    def rename_piece(self, number: int, name: str) -> None:
        pieces = pieces_and_strips(self.contents.job)
        piece = pieces[number % len(pieces)]
        if name not in {other.name for other in pieces}:
            self.document.edit_piece("Rename", piece.name, msgspec.structs.replace(piece, name=name))

    @has_job
    @rule(gap=st.integers(0, 9))
    def edit_job(self, gap: int) -> None:
        self.document.edit_job(
            "Set the gap", msgspec.structs.replace(self.contents.job, gap=float(gap)), kind="gap"
        )

    @has_job
    @rule(number=NUMBERS, both=st.booleans())
    def cut_from_other_layers(self, number: int, both: bool) -> None:
        wanted = self.contents.job
        if len(wanted.layers) == 1:
            self.document.edit_job(
                "Add a layer", msgspec.structs.replace(wanted, layers=(*wanted.layers, Layer(name="lining")))
            )
        pieces = [piece for each in self.contents.job.articles for piece in each.pieces]
        if pieces:
            piece = pieces[number % len(pieces)]
            names = [layer.name for layer in self.contents.job.layers][0 if both else 1 :]
            cuts = tuple(LayerCut(layer=name) for name in names)
            self.document.edit_piece("Cut from", piece.name, msgspec.structs.replace(piece, cuts=cuts))

    @has_job
    @rule(number=NUMBERS)
    def remove_article(self, number: int) -> None:
        articles = self.contents.job.articles
        if len(articles) > 1:
            kept = tuple(each for at, each in enumerate(articles) if at != number % len(articles))
            self.document.edit_job("Delete", msgspec.structs.replace(self.contents.job, articles=kept))

    @has_job
    @rule(name=NAMES)
    def add_article(self, name: str) -> None:
        wanted, taken = self.contents.job, {piece.name for piece in pieces_and_strips(self.contents.job)}
        if name not in taken and name not in {article.name for article in wanted.articles}:
            made = Article(name=name, sets=1, pieces=(panel(name),))
            after = msgspec.structs.replace(wanted, articles=(*wanted.articles, made))
            self.document.edit_job("Add an article", after)

    @has_hides
    @has_job
    @rule(number=NUMBERS, which=NUMBERS, x=TENTHS, y=TENTHS)
    def lay_piece(self, number: int, which: int, x: float, y: float) -> None:
        plan = self.contents.plan or empty_plan(self.contents.job, self.contents.hides)
        waiting = plan_edits.pieces_waiting(plan, self.contents.job)
        if waiting:
            kind, hide = waiting[which % len(waiting)], self.one_of_hides(number)
            plan, _ = plan_edits.laid_down(plan, self.contents.job, hide, kind, (x, y))
            self.document.set_plan("Lay", plan)

    @has_laid
    @rule(number=NUMBERS, x=TENTHS, angle=st.integers(0, 359), joined=st.booleans())
    def move_piece(self, number: int, x: float, angle: int, joined: bool) -> None:
        at, placement = self.laid(number)
        after = plan_edits.moved(placement, Pose(x, 80.0, float(angle)))
        plan = plan_edits.replaced(self.contents.plan, {at: after})
        self.document.set_plan("Move", plan, kind="move" if joined else "")

    @has_laid
    @rule(number=NUMBERS, how=st.sampled_from(("lock", "cut", "off", "select")))
    def mark_piece(self, number: int, how: str) -> None:
        plan, (_, placement) = self.contents.plan, self.laid(number)
        if how == "select":
            self.document.select((placement,))
        elif how == "lock":
            self.document.set_plan("Lock", plan_edits.set_locked(plan, (placement,), not placement.locked))
        elif how == "cut":
            self.document.set_plan("Cut", plan_edits.marked_cut(plan, (placement,), not placement.done))
        else:
            self.document.set_plan("Take off", plan_edits.taken_off(plan, (placement,)))

    @rule(steps=st.integers(1, 6), forth=st.booleans())
    def undo_or_redo(self, steps: int, forth: bool) -> None:
        for _ in range(steps):
            self.document.stack.redo() if forth else self.document.stack.undo()

    @rule()
    def undo_leads_to_the_start_and_redo_to_the_end(self) -> None:
        stack, index, now = self.document.stack, self.document.stack.index(), self.contents
        while stack.canUndo():
            stack.undo()
        assert self.contents == self.start
        while stack.index() < index:
            stack.redo()
        assert self.contents == now

    @rule()
    def save_and_open_again(self) -> None:
        document = self.document
        assert not check_save(self.contents, self.saved, document.files, document.fingerprints).conflicts
        done = save_contents(self.contents, self.saved, document.files, self.folder)
        document.note_saved(done.files)
        self.saved = self.contents
        document.stack.setClean()
        assert len(set(document.files.values())) == len(document.files), "each has a file of its own"
        assert set(document.files) >= {hide.name for hide in self.contents.hides}
        if not document.files:
            return
        opened = open_files([Path(file) for file in document.files.values()], beside=False)
        assert {hide.name: hide for hide in opened.hides} == {hide.name: hide for hide in self.contents.hides}
        assert opened.job == self.contents.job
        if self.contents.plan is not None and self.contents.job is not None:
            assert opened.plan is not None
            assert len(opened.plan.placements) == len(self.contents.plan.placements)
            for read, placed in zip(opened.plan.placements, self.contents.plan.placements, strict=True):
                assert without_place(read) == without_place(placed)
                numbers = [(each.x, each.y, each.angle) for each in (read, placed)]
                np.testing.assert_allclose(*numbers, atol=6e-5)
                for ring in ("finished_ring", "cut_ring"):
                    # Files hold points to 0.0001 mm.
                    np.testing.assert_allclose(getattr(read, ring), getattr(placed, ring), atol=6e-5)

    @rule()
    def save_elsewhere(self) -> None:
        self.folder = Path(tempfile.mkdtemp(dir=self._home.name))
        done = save_contents(self.contents, Contents(), {}, self.folder)
        self.document.forget_files()
        self.document.note_saved(done.files)
        self.saved = self.contents

    @invariant()
    def one_step_back_and_forth_changes_nothing(self) -> None:
        stack, now = self.document.stack, self.contents
        if stack.canUndo():
            stack.undo()
            stack.redo()
            assert self.contents == now

    @invariant()
    def the_plan_lays_only_what_the_job_asks_for(self) -> None:
        plan = self.contents.plan
        if plan is not None and self.contents.job is not None:
            cuts = {
                (piece.name, layer)
                for piece in pieces_and_strips(self.contents.job)
                for layer in (
                    [cut.layer for cut in piece.cuts] if isinstance(piece, Piece) else [piece.layer]
                )
            }
            assert {(placement.name, placement.layer) for placement in plan.placements} <= cuts
            hides = {hide.name for hide in self.contents.hides}
            assert {placement.hide for placement in plan.placements} <= hides

    @invariant()
    def what_is_shown_and_selected_is_there(self) -> None:
        document, contents = self.document, self.contents
        assert (document.hide in contents.hides) if contents.hides else document.hide is None
        pieces = pieces_and_strips(contents.job)
        assert (document.piece in pieces) if pieces else document.piece is None
        placements = contents.plan.placements if contents.plan else ()
        assert all(placement in placements for placement in document.selected)

    def teardown(self) -> None:
        try:
            self.undo_leads_to_the_start_and_redo_to_the_end()
            self.save_and_open_again()
        finally:
            self.document.close()
            self.document.deleteLater()
            QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
            self._home.cleanup()


@pytest.fixture(autouse=True)
def application(qapp):
    """Signals and undo stacks need one."""


TestDocument = DocumentMachine.TestCase
TestDocument.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)
