"""The step Pieces: one piece or strip on the table, its outline, openings and marks drawn and changed.

Making pieces from measures or a drawing file is done by `nestplan.intake`, as on the command line.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import replace
from functools import partial
from typing import Any

import msgspec
import numpy as np

from nestplan.desk.document.document import Document, things_of
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.piece_items import ShownPiece
from nestplan.desk.table.tracing import OverlayShape, PointerPosition, PointsTool, StrokeTool, Tool, TraceTool
from nestplan.errors import NestplanError
from nestplan.geometry.ring import make_ring
from nestplan.model.job import Job
from nestplan.model.piece import LayerCut, Mark, Piece, Strip
from nestplan.tasks.output_paths import free_name

__all__ = ["PieceEditor"]

_POINTS = tuple[tuple[float, float], ...]


class _MarkTool(Tool):
    """Click sets a mark on the piece; a mark that is pressed can be dragged elsewhere."""

    hint = "Click where the mark is to be. Esc ends."

    def __init__(self, editor: PieceEditor) -> None:
        self._editor = editor

    def press(self, pointer: PointerPosition) -> bool:
        self._editor.add_mark(pointer.at)
        return True

    def key(self, key: str) -> bool:
        if key == "escape":
            self._editor.use_default_tool()
        return key == "escape"


class _PieceTool(Tool):
    """The tool for when none is chosen: marks are dragged, a double click opens the outline's points."""

    hint = "Drag a mark to move it. Double click the edge to change the outline's points."

    def __init__(self, editor: PieceEditor) -> None:
        self._editor = editor
        self._mark = -1
        self._at = (0.0, 0.0)

    def press(self, pointer: PointerPosition) -> bool:
        piece = self._editor.document.piece
        marks = piece.marks if isinstance(piece, Piece) else ()
        self._mark = next((n for n in reversed(range(len(marks))) if pointer.near(marks[n].at)), -1)
        self._at = pointer.at
        return self._mark >= 0

    def drag(self, pointer: PointerPosition) -> None:
        self._at = pointer.at

    def release(self, pointer: PointerPosition) -> None:
        number, self._mark = self._mark, -1
        piece = self._editor.document.piece
        if number >= 0 and isinstance(piece, Piece) and pointer.at != piece.marks[number].at:
            self._editor.change_mark(number, "Move a mark", at=_rounded(pointer.at))

    def double_click(self, pointer: PointerPosition) -> bool:
        self._editor.edit_points()
        return True

    def preview(self) -> tuple[OverlayShape, ...]:
        return (OverlayShape("picked", (self._at,)),) if self._mark >= 0 else ()


class PieceEditor(StepEditor):
    """Drawing the current piece. `mark` is what the next mark will be; `layer` whose overcut is shown."""

    def __init__(self, document: Document, table: Table) -> None:
        super().__init__(document, table)
        self.mark: dict[str, Any] = {"do": "punch", "diameter": 4.0}
        self.layer = ""
        self._last = ""
        document.piece_shown.connect(self._shown)

    def _shown(self, thing: Piece | Strip | None) -> None:
        self.refresh()
        if not self.active:
            return
        name = thing.name if thing else ""
        if name != self._last:
            self._last = name
            self.use_default_tool()
            self.table.fit()
            return
        tool = self.table.tool
        if (
            isinstance(tool, PointsTool)
            and isinstance(thing, Piece)
            and not np.array_equal(thing.ring, tool.ring)
        ):
            tool.ring = thing.ring
            tool.picked.clear()

    def records(self) -> Iterator[tuple[Hashable, object]]:
        thing = self.document.piece
        if thing is not None:
            yield "piece", ShownPiece(thing, self.layer)

    def use_default_tool(self) -> None:
        self.table.set_tool(_PieceTool(self))

    def subject(self) -> tuple[str, str]:
        piece = self.document.piece
        return "piece", piece.name if piece is not None else ""

    def show_layer(self, layer: str) -> None:
        """Show the overcut and stretch of a layer."""
        self.layer = layer
        self.refresh()

    def draw_piece(self) -> None:
        """Draw a new piece on the table."""

        def finished(points: _POINTS) -> None:
            def add() -> None:
                ring = make_ring(points, place="outline")
                ring = ring - ring.min(axis=0)
                name = free_name("piece", [thing.name for thing in things_of(self.document.contents.job)])
                self.document.add_thing(Piece(name=name, outline=_rounded_ring(ring), cuts=self.usual_cuts()))

            if self.attempt(add):
                self.use_default_tool()

        self.table.show_records(())
        self.use_tool(TraceTool(finished, cancelled=self._back), "piece")

    def _back(self) -> None:
        self.refresh()
        self.use_default_tool()

    def usual_cuts(self) -> tuple[LayerCut, ...]:
        """One cut from the job's first layer: what a new piece starts with."""
        job = self.document.contents.job
        return (LayerCut(layer=job.layers[0].name),) if job else (LayerCut(),)

    def add_things(self, things: tuple[Piece | Strip, ...]) -> None:
        """Add pieces made from measures or a drawing."""
        for thing in things:
            if isinstance(thing, Piece) and self.document.contents.job is not None:
                layers = {layer.name for layer in self.document.contents.job.layers}
                if any(cut.layer not in layers for cut in thing.cuts):
                    thing = msgspec.structs.replace(thing, cuts=self.usual_cuts())
            elif isinstance(thing, Strip) and self.document.contents.job is not None:
                thing = msgspec.structs.replace(thing, layer=self.document.contents.job.layers[0].name)
            self.attempt(partial(self.document.add_thing, thing))

    def edit_points(self) -> None:
        """Change the points of the outline."""
        piece = self.document.piece
        if isinstance(piece, Piece):
            self.use_tool(PointsTool(piece.ring, self._points_changed, cancelled=self.use_default_tool))

    def _points_changed(self, ring: np.ndarray, words: str) -> np.ndarray | None:
        piece = self.document.piece
        if not isinstance(piece, Piece):
            return None
        try:
            outline = _rounded_ring(make_ring(ring, place="outline"))
            changed = msgspec.structs.replace(piece, outline=outline)
            self.document.edit_thing(words, piece.name, changed)
        except NestplanError as error:
            self.error_reported.emit(error)
            return None
        return changed.ring

    def draw_opening(self) -> None:
        """Draw an opening (a hole with an outline) in the piece."""

        def finished(points: _POINTS) -> None:
            piece = self.document.piece
            if isinstance(piece, Piece):
                hole = _rounded_ring(np.asarray(points))
                self.change("Add an opening", holes=(*piece.holes, hole))
            self.use_default_tool()

        self.use_tool(TraceTool(finished, cancelled=self.use_default_tool), "opening")

    def draw_stretch(self, layer: str) -> None:
        """Draw the line on the piece that is to lie the way the leather gives most."""

        def finished(start: tuple[float, float], end: tuple[float, float]) -> None:
            from nestplan.model.piece import StretchRule

            angle = round(float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])) % 180.0), 1)
            piece = self.document.piece
            if isinstance(piece, Piece):
                cut = next(cut for cut in piece.cuts if cut.layer == layer)
                tolerance = cut.stretch.tolerance if cut.stretch else 15.0
                self.change_cut(
                    layer, "Set the stretch", stretch=StretchRule(axis=angle, tolerance=tolerance)
                )
            self.use_default_tool()

        hint = "Draw a stroke on the piece the way it is to give most."
        self.use_tool(StrokeTool(finished, hint=hint, cancelled=self.use_default_tool))

    def set_marks(self) -> None:
        """Set marks (of the kind chosen) by clicking."""
        self.use_tool(_MarkTool(self))

    def add_mark(self, at: tuple[float, float]) -> None:
        """Set a mark at a point."""
        piece = self.document.piece
        if isinstance(piece, Piece):
            self.attempt(
                lambda: self.document.edit_thing(
                    "Add a mark",
                    piece.name,
                    msgspec.structs.replace(piece, marks=(*piece.marks, Mark(at=_rounded(at), **self.mark))),
                )
            )

    def change_mark(self, number: int, words: str, **fields: object) -> None:
        """Change a mark by its number."""
        piece = self.document.piece
        if isinstance(piece, Piece):

            def change() -> None:
                marks = list(piece.marks)
                marks[number] = msgspec.structs.replace(marks[number], **fields)
                self.document.edit_thing(
                    words, piece.name, msgspec.structs.replace(piece, marks=tuple(marks))
                )

            self.attempt(change)

    def remove_mark(self, number: int) -> None:
        """Take a mark away."""
        piece = self.document.piece
        if isinstance(piece, Piece) and 0 <= number < len(piece.marks):
            self.change("Take away a mark", marks=piece.marks[:number] + piece.marks[number + 1 :])

    def change(self, words: str, **fields: object) -> None:
        """Change fields of the current piece or strip."""
        thing = self.document.piece
        if thing is not None:
            self.attempt(
                lambda: self.document.edit_thing(words, thing.name, msgspec.structs.replace(thing, **fields))
            )

    def change_cut(self, layer: str, words: str, **fields: object) -> None:
        """Change how the piece is cut from one layer."""
        piece = self.document.piece
        if isinstance(piece, Piece):

            def change() -> None:
                cuts = tuple(
                    msgspec.structs.replace(cut, **fields) if cut.layer == layer else cut
                    for cut in piece.cuts
                )
                self.document.edit_thing(words, piece.name, msgspec.structs.replace(piece, cuts=cuts))

            self.attempt(change)

    def remove_thing(self) -> None:
        """Take the current piece or strip out of the job; an article left empty goes too."""
        thing, job = self.document.piece, self.document.contents.job
        if thing is None or job is None:
            return
        articles = []
        for article in job.articles:
            pieces = tuple(piece for piece in article.pieces if piece.name != thing.name)
            strips = tuple(strip for strip in article.strips if strip.name != thing.name)
            if pieces or strips:
                articles.append(article.keeping(pieces, strips))
        after: Job | None = msgspec.structs.replace(job, articles=tuple(articles)) if articles else None
        plan = self.document.contents.plan
        if plan is not None:
            plan = msgspec.structs.replace(
                plan,
                placements=tuple(p for p in plan.placements if p.name != thing.name),
                unplaced=tuple(u for u in plan.unplaced if thing.name not in (u.piece, u.strip)),
                figures=None,
            )
        self.document.change(f"Take away {thing.name}", replace(self.document.contents, job=after, plan=plan))


def _rounded(at: tuple[float, float]) -> tuple[float, float]:
    return (round(at[0], 2), round(at[1], 2))


def _rounded_ring(ring: np.ndarray) -> _POINTS:
    return tuple(_rounded((float(x), float(y))) for x, y in ring)
