"""The step Pieces: one piece or strip on the table, its outline, openings and marks drawn and changed.

Making pieces from measures or a drawing file is done by `nestplan.intake`, as on the command line.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import replace
from functools import partial
from typing import Any, Literal

import msgspec
import numpy as np
from PySide6.QtCore import Signal

from nestplan.desk.document.document import Document, pieces_and_strips
from nestplan.desk.editing.command import Command
from nestplan.desk.editing.legend_entries import piece_legend
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.legend import LegendEntry
from nestplan.desk.table.piece_items import ShownPiece
from nestplan.desk.table.row_tracing import RowEndDrag, RowTool, row_ends
from nestplan.desk.table.tracing import OverlayShape, PointerPosition, PointsTool, StrokeTool, Tool, TraceTool
from nestplan.errors import NestplanError
from nestplan.geometry.ring import make_ring
from nestplan.model.job import Job
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.model.mark_rows import Row, marks_of_row
from nestplan.model.piece import LayerCut, Mark, Piece, Strip
from nestplan.tasks.job_edits import with_row
from nestplan.tasks.job_layers import all_cut_like
from nestplan.tasks.output_paths import free_name

__all__ = ["PieceEditor"]

_POINTS = tuple[tuple[float, float], ...]
Spot = tuple[float, float]


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
    """The tool for when none is chosen: drags marks and ends of rows; a double click opens the outline's points."""

    hint = "Drag a mark, or an end of a row. Double click the edge to change the outline's points."

    def __init__(self, editor: PieceEditor) -> None:
        self._editor = editor
        self._mark = -1
        self._at = (0.0, 0.0)
        self._row_end: RowEndDrag | None = None

    def press(self, pointer: PointerPosition) -> bool:
        piece = self._editor.document.piece
        marks = piece.marks if isinstance(piece, Piece) else ()
        self._mark = next((n for n in reversed(range(len(marks))) if pointer.near(marks[n].at)), -1)
        self._at = pointer.at
        return self._mark >= 0 or (isinstance(piece, Piece) and self._press_row(piece, pointer))

    def _press_row(self, piece: Piece, pointer: PointerPosition) -> bool:
        """Pick the row of which a mark or an end is pressed; the row at hand comes first."""
        for row in sorted(piece.rows, key=lambda row: row.name != self._editor.row_at_hand):
            self._row_end = RowEndDrag.pressed_on(piece.ring, row, pointer)
            if self._row_end or any(pointer.near(mark.at) for mark in marks_of_row(row, piece.ring)):
                self._editor.row_selected.emit(row.name)
                return True
        return False

    def drag(self, pointer: PointerPosition) -> None:
        self._at = pointer.at
        if self._row_end is not None:
            self._row_end.move(pointer)

    def release(self, pointer: PointerPosition) -> None:
        number, self._mark = self._mark, -1
        dragged, self._row_end = self._row_end, None
        piece = self._editor.document.piece
        if dragged is not None and dragged.fields:
            self._editor.change_row(dragged.row.name, "Move the end of a row", **dragged.fields)
        elif number >= 0 and isinstance(piece, Piece) and pointer.at != piece.marks[number].at:
            self._editor.change_mark(number, "Move a mark", at=_rounded(pointer.at))

    def key(self, key: str) -> bool:
        if key != "escape" or self._row_end is None:
            return False
        self._row_end = None
        return True

    def double_click(self, pointer: PointerPosition) -> bool:
        self._editor.edit_points()
        return True

    def preview(self) -> tuple[OverlayShape, ...]:
        if self._mark >= 0:
            return (OverlayShape("selected", (self._at,)),)
        if self._row_end is not None and self._row_end.at is not None:
            words = self._row_end.row.kind.choice
            return self._row_end.preview(lambda number: f"{number} × {words}")
        piece, name = self._editor.document.piece, self._editor.row_at_hand
        row = (
            next((row for row in piece.rows if row.name == name), None) if isinstance(piece, Piece) else None
        )
        if row is None or not isinstance(piece, Piece):
            return ()
        return (OverlayShape("selected", tuple(row_ends(piece.ring, row).values())),)


class PieceEditor(StepEditor):
    """Drawing the current piece. `mark` is what the next mark will be, `row` what the next row; `layer` whose overcut
    is shown; `row_at_hand` the name of the row whose ends are shown. `row_selected` tells the name of a row of which a
    mark or an end was pressed."""

    row_selected = Signal(str)

    def __init__(self, document: Document, table: Table) -> None:
        super().__init__(document, table)
        self.mark: dict[str, Any] = {"do": "punch", "diameter": 4.0}
        self.row: dict[str, Any] = {"do": "punch", "diameter": 4.0, "pitch": 15.0, "inset": 10.0}
        self.layer = self.row_at_hand = ""
        self._last = ""
        document.piece_shown.connect(self._shown)

    def _shown(self, piece: Piece | Strip | None) -> None:
        self.refresh()
        if not self.active:
            return
        name = piece.name if piece else ""
        if name != self._last:
            self._last = name
            self.use_default_tool()
            self.table.fit()
            return
        tool = self.table.tool
        if (
            isinstance(tool, PointsTool)
            and isinstance(piece, Piece)
            and not np.array_equal(piece.ring, tool.ring)
        ):
            tool.take(piece.ring)

    def records(self) -> Iterator[tuple[Hashable, object]]:
        piece = self.document.piece
        if piece is not None:
            yield "piece", ShownPiece(piece, self.layer)

    def legend(self) -> Iterator[LegendEntry]:
        return piece_legend(self.document.piece, self.layer)

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
                name = free_name(
                    "piece", [piece.name for piece in pieces_and_strips(self.document.contents.job)]
                )
                self.document.add_piece(Piece(name=name, outline=_rounded_ring(ring), cuts=self.usual_cuts()))

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

    def add_pieces(self, pieces: tuple[Piece | Strip, ...]) -> None:
        """Add pieces made from measures, a drawing or a photograph, as one step that can be undone."""
        if len(pieces) > 1:
            self.document.stack.beginMacro(f"Add {len(pieces)} pieces")
        for piece in pieces:
            if isinstance(piece, Piece) and self.document.contents.job is not None:
                layers = {layer.name for layer in self.document.contents.job.layers}
                if any(cut.layer not in layers for cut in piece.cuts):
                    piece = msgspec.structs.replace(piece, cuts=self.usual_cuts())
            elif isinstance(piece, Strip) and self.document.contents.job is not None:
                piece = msgspec.structs.replace(piece, layer=self.document.contents.job.layers[0].name)
            self.attempt(partial(self.document.add_piece, piece))
        if len(pieces) > 1:
            self.document.stack.endMacro()

    def edit_points(self) -> None:
        """Change the points of the outline."""
        piece = self.document.piece
        if isinstance(piece, Piece):
            self.use_tool(
                PointsTool(piece.ring, self._points_changed, cancelled=self.use_default_tool), "points"
            )

    def _points_changed(self, ring: np.ndarray, words: str) -> np.ndarray | None:
        piece = self.document.piece
        if not isinstance(piece, Piece):
            return None
        try:
            outline = _rounded_ring(make_ring(ring, place="outline"))
            changed = msgspec.structs.replace(piece, outline=outline)
            self.document.edit_piece(words, piece.name, changed)
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
            cuts = piece.cuts if isinstance(piece, Piece) else ()
            # The layer may have gone while one drew.
            for cut in [cut for cut in cuts if cut.layer == layer]:
                tolerance = cut.stretch.tolerance if cut.stretch else 15.0
                self.change_cut(
                    layer, "Set the stretch", stretch=StretchRule(axis=angle, tolerance=tolerance)
                )
            self.use_default_tool()

        hint = "Draw a stroke on the piece the way it is to give most."
        self.use_tool(StrokeTool(finished, hint=hint, cancelled=self.use_default_tool), "stretch")

    def set_marks(self) -> None:
        """Set marks (of the kind chosen) by clicking."""
        self.use_tool(_MarkTool(self), "marks")

    def add_mark(self, at: tuple[float, float]) -> None:
        """Set a mark at a point."""
        piece = self.document.piece
        if isinstance(piece, Piece):
            self.attempt(
                lambda: self.document.edit_piece(
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
                self.document.edit_piece(
                    words, piece.name, msgspec.structs.replace(piece, marks=tuple(marks))
                )

            self.attempt(change)

    def remove_mark(self, number: int) -> None:
        """Take a mark away."""
        piece = self.document.piece
        if isinstance(piece, Piece) and 0 <= number < len(piece.marks):
            self.change("Delete a mark", marks=piece.marks[:number] + piece.marks[number + 1 :])

    def take_row(self, name: str) -> None:
        """Make a row of the current piece the one at hand: its ends are shown, to be dragged. Empty: none is."""
        if name != self.row_at_hand:
            self.row_at_hand = name
            self.table.viewport().update()

    def draw_row(self, along: Literal["edge", "line"]) -> None:
        """Draw a row (of the kind chosen) along the edge, or on a straight line."""
        piece = self.document.piece
        if not isinstance(piece, Piece):
            return
        ring = piece.ring

        def row_of(start: Spot, end: Spot, clockwise: bool) -> Row:
            here = self.document.piece
            taken = [row.name for row in here.rows] if isinstance(here, Piece) else []
            fields: dict[str, Any] = self.row | ({"inset": 0.0} if along == "line" else {})
            return Row(
                name=free_name("row", taken),
                along=along,
                start=_rounded(start),
                end=_rounded(end),
                clockwise=clockwise,
                **fields,
            )

        def shown(start: Spot, end: Spot, clockwise: bool) -> tuple[Spot, ...]:
            return tuple(mark.at for mark in marks_of_row(row_of(start, end, clockwise), ring))

        def done(start: Spot, end: Spot, clockwise: bool) -> None:
            def add() -> None:
                row = row_of(start, end, clockwise)
                self.put_row(row.name, "Add a row", row)
                self.row_selected.emit(row.name)

            if self.attempt(add):
                self.use_default_tool()

        words = MARK_KINDS[self.row["do"]].choice
        tool = RowTool(
            ring,
            done,
            shown,
            lambda number: f"{number} × {words}",
            on_edge=along == "edge",
            cancelled=self.use_default_tool,
        )
        self.use_tool(tool, f"row {along}")

    def put_row(self, name: str, words: str, row: Row | None) -> None:
        """Put a row in the place of the one of that name of the current piece, add it, or take it away (None). A row
        that is laced to it gets as many holes. Raises InputError where it cannot be."""
        piece, job = self.document.piece, self.document.contents.job
        if not isinstance(piece, Piece) or job is None:
            return
        changed, same_number = with_row(job, piece.name, name, row)
        self.document.edit_job(words, changed)
        for other, which in same_number:
            self.notified.emit(f"{which} of {other} is laced to it and has as many holes now.")

    def change_row(self, which: str, words: str, /, **fields: object) -> None:
        """Change fields of the row of that name of the current piece."""
        piece = self.document.piece
        if isinstance(piece, Piece):
            old = piece.row(which)
            self.attempt(lambda: self.put_row(which, words, msgspec.structs.replace(old, **fields)))

    def remove_row(self, name: str) -> None:
        """Take a row of the current piece away."""
        self.attempt(lambda: self.put_row(name, "Delete a row", None))

    def commands(self) -> list[Command]:
        drawn = isinstance(self.document.piece, Piece)
        return [
            Command("Change the outline's points", self.edit_points, "points", enabled=drawn),
            Command("Set marks by clicking", self.set_marks, "mark", "Ctrl+K", enabled=drawn),
            Command("Draw an opening", self.draw_opening, "area", enabled=drawn),
            Command(
                "Duplicate the piece", self.duplicate, key="Ctrl+Shift+D", enabled=bool(self.document.piece)
            ),
            Command("Delete the piece", self.remove_piece, "off", enabled=bool(self.document.piece)),
        ]

    def duplicate(self) -> None:
        """Another piece or strip like this one, in the same article."""
        piece, job = self.document.piece, self.document.contents.job
        if piece is None or job is None:
            return
        article = next(each.name for each in job.articles if piece in (*each.pieces, *each.strips))
        self.attempt(partial(self.document.add_piece, piece, article))

    def change_opening(self, number: int, **fields: object) -> None:
        """Change an opening by its number."""
        piece = self.document.piece
        if isinstance(piece, Piece):

            def change() -> None:
                openings = list(piece.openings)
                openings[number] = msgspec.structs.replace(openings[number], **fields)
                holes = tuple(
                    opening if place == number else piece.holes[place]
                    for place, opening in enumerate(openings)
                )
                self.document.edit_piece(
                    "Change an opening", piece.name, msgspec.structs.replace(piece, holes=holes)
                )

            self.attempt(change)

    def remove_opening(self, number: int) -> None:
        """Close an opening again."""
        piece = self.document.piece
        if isinstance(piece, Piece) and 0 <= number < len(piece.holes):
            self.change("Delete an opening", holes=piece.holes[:number] + piece.holes[number + 1 :])

    def change(self, words: str, **fields: object) -> None:
        """Change fields of the current piece or strip."""
        piece = self.document.piece
        if piece is not None:
            self.attempt(
                lambda: self.document.edit_piece(words, piece.name, msgspec.structs.replace(piece, **fields))
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
                self.document.edit_piece(words, piece.name, msgspec.structs.replace(piece, cuts=cuts))

            self.attempt(change)

    def cut_all_so(self) -> None:
        """Cut all pieces of the article from the same layers as the current one, in the same way."""
        piece, job = self.document.piece, self.document.contents.job
        if not isinstance(piece, Piece) or job is None:
            return

        def change() -> None:
            self.document.edit_job("Cut all pieces so", all_cut_like(job, piece.name))
            self.notified.emit(f"All pieces of its article are cut like {piece.name} now.")

        self.attempt(change)

    def remove_piece(self) -> None:
        """Take the current piece or strip out of the job; an article left empty goes too."""
        piece, job = self.document.piece, self.document.contents.job
        if piece is None or job is None:
            return
        articles = []
        for article in job.articles:
            pieces = tuple(other for other in article.pieces if other.name != piece.name)
            strips = tuple(strip for strip in article.strips if strip.name != piece.name)
            if pieces or strips:
                articles.append(article.keeping(pieces, strips))
        after: Job | None = msgspec.structs.replace(job, articles=tuple(articles)) if articles else None
        plan = self.document.contents.plan
        if plan is not None:
            plan = msgspec.structs.replace(
                plan,
                placements=tuple(p for p in plan.placements if p.name != piece.name),
                unplaced=tuple(u for u in plan.unplaced if piece.name not in (u.piece, u.strip)),
                figures=None,
            )
        self.document.change(f"Delete {piece.name}", replace(self.document.contents, job=after, plan=plan))


def _rounded(at: tuple[float, float]) -> tuple[float, float]:
    return (round(at[0], 2), round(at[1], 2))


def _rounded_ring(ring: np.ndarray) -> _POINTS:
    return tuple(_rounded((float(x), float(y))) for x, y in ring)
