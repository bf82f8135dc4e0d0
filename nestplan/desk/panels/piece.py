"""The figures of one piece: how many, pairs, how each layer is cut, what it shows, marks, warnings."""

from __future__ import annotations

from functools import partial

import msgspec
from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    button,
    form,
    mark_active,
    number_field,
    row_of,
    section,
    set_role,
    soft,
    text_field,
    tool_button,
)
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.document.document import Document, pieces_and_strips
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.panels.marks import MarksPart
from nestplan.desk.panels.openings import OpeningsPart
from nestplan.desk.panels.rows import RowsPart
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.errors import NestplanError
from nestplan.model.piece import LayerCut, Overcut, Piece, StretchRule
from nestplan.tasks.laced_work import line_across

__all__ = ["PiecePart"]

_SHOWS = {
    "grain": "the grain side",
    "flesh": "the flesh side",
    "both": "both sides",
    "hidden": "neither side",
}


class PiecePart(QWidget):
    """Fields for the current piece; warnings appear as one types."""

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self.name = text_field(tip="What this piece is called; no two pieces of a job share a name")
        self.count = number_field(1, 1000, tip="How many go into one article; of a pair, how many pairs")
        self.pair = QCheckBox("A pair: left and right")
        self.pair.setToolTip("The piece and its mirror image, as many of each")
        self.over = QCheckBox("May be turned over")
        self.over.setToolTip("It may be laid face down where it fits better")
        self.near = QCheckBox("Mates close together")
        self.near.setToolTip("Left and right are cut from leather that lies close together")
        self.around = QCheckBox("Goes round the wearer")
        self.around.setToolTip(
            "Its width at half height counts to what a laced article measures round its wearer"
        )
        self.size_label = soft()
        self.layer = Choice({}, tip="Each layer is cut from its own leather, in its own way")
        self.used = QCheckBox("Cut from this layer")
        self.used.setToolTip("Whether the piece has this layer at all")
        self.shows = Choice(_SHOWS, tip="What can be seen when it is done; flaws there are kept off")
        self.least = LengthField(
            settings,
            optional=True,
            hint="none",
            tip="Overcut that every plan guarantees: cut wider, glued, trimmed",
        )
        self.wished = LengthField(
            settings, optional=True, hint="none", tip="Overcut that is given where there is room"
        )
        self.reversed = QCheckBox("Mirror image (a lining)")
        self.reversed.setToolTip("A lining glued flesh to flesh is cut as the mirror image")
        self.axis = number_field(
            0, 180, whole=False, suffix="°", optional=True, hint="any way",
            tip="The direction on the piece that is to lie the way the leather gives most; empty: any way",
        )  # fmt: skip
        self.tolerance = number_field(
            0, 90, whole=False, suffix="°", tip="How far it may lie off that direction"
        )
        self.regions = text_field(
            optional=True, hint="anywhere", tip="Only these regions, separated by commas"
        )
        self.not_regions = text_field(
            optional=True, hint="none", tip="Never these regions, separated by commas"
        )
        self.firmness = number_field(1, 5, tip="The least firmness of the leather under it, 1 to 5")
        self.all_so = button(
            "Cut all pieces so",
            editor.cut_all_so,
            tip="All pieces of the article from the same layers, with the same overcut, faces and regions",
        )
        self.warnings = plain_label()
        self.warnings.setWordWrap(True)
        set_role(self.warnings, "alarm")
        self.marks = MarksPart(document, editor, settings)
        self.marks.typed.connect(self.preview_marks)
        self.rows = RowsPart(document, editor, settings)
        self.openings = OpeningsPart(document, editor, settings)
        self._connect()
        self._lay_out()

    def _connect(self) -> None:
        change = self._editor.change
        self.name.edited.connect(self._rename)
        self.count.edited.connect(lambda number: change("Set the count", count=number))
        self.pair.clicked.connect(lambda on: change("Set the pair", pair=on))
        self.over.clicked.connect(lambda on: change("Set turning over", turn_over=on))
        self.near.clicked.connect(lambda on: change("Set the mates", mates_near=on))
        self.around.clicked.connect(self._go_around)
        self.layer.edited.connect(lambda _: self.show_piece(self._document.piece))
        self.used.clicked.connect(self._use_layer)
        self.shows.edited.connect(lambda face: self._cut("Say what shows", shows=face))
        self.least.edited.connect(lambda _: self._overcut())
        self.wished.edited.connect(lambda _: self._overcut())
        self.least.textEdited.connect(lambda _: self._preview_warning())
        self.reversed.clicked.connect(lambda on: self._cut("Mirror the layer", reversed=on))
        self.axis.edited.connect(self._stretch)
        self.tolerance.edited.connect(self._stretch)
        self.regions.edited.connect(lambda words: self._cut("Set the regions", regions=_names(words)))
        self.not_regions.edited.connect(lambda words: self._cut("Set the regions", not_regions=_names(words)))
        self.firmness.edited.connect(lambda number: self._cut("Set the firmness", least_firmness=number))

    def _lay_out(self) -> None:
        editor = self._editor
        tools = {
            "points": tool_button(
                "Points", editor.edit_points, icon="points", tip="Move, add, delete, smooth, straighten"
            ),
            "marks": tool_button(
                "Marks", editor.set_marks, icon="mark", tip="Click where holes, slits or marks are to be"
            ),
            "opening": tool_button(
                "Opening", editor.draw_opening, icon="area", tip="Draw an opening to be cut out"
            ),
            "stretch": tool_button(
                "Stretch",
                lambda: editor.draw_stretch(self.layer.value),
                icon="stretch",
                tip="Draw the way it gives",
            ),
        }
        editor.tool_changed.connect(partial(mark_active, tools))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form(("Name", self.name), ("In one article", self.count)))
        column.addWidget(self.size_label)
        column.addWidget(self.pair)
        column.addWidget(self.over)
        column.addWidget(self.near)
        column.addWidget(self.around)
        column.addWidget(self.warnings)
        column.addLayout(TileLayout(tools.values(), most=4))
        column.addWidget(section("Cut from"))
        column.addLayout(form(("Layer", self.layer)))
        column.addLayout(row_of(self.used, self.reversed))
        column.addLayout(
            form(
                ("Shows", self.shows),
                ("Overcut, least", self.least),
                ("Overcut, wished", self.wished),
                ("Stretch along", self.axis),
                ("… within", self.tolerance),
                ("Only regions", self.regions),
                ("Not regions", self.not_regions),
                ("Least firmness", self.firmness),
            )
        )
        column.addWidget(self.all_so)
        column.addWidget(self.marks)
        column.addWidget(self.rows)
        column.addWidget(self.openings)

    def show_piece(self, piece: object) -> None:
        """Show a piece as it is now."""
        job = self._document.contents.job
        if not isinstance(piece, Piece) or job is None:
            return
        self.name.set_value(piece.name)
        self.count.set_value(piece.count)
        self.pair.setChecked(piece.pair)
        self.over.setChecked(piece.turn_over)
        self.near.setChecked(piece.mates_near)
        self.near.setEnabled(piece.pair)
        self.around.setChecked(bool(piece.around))
        low, high = piece.ring.min(axis=0), piece.ring.max(axis=0)
        width, height = (self._settings.length(float(side)) for side in high - low)
        self.size_label.setText(f"{width} × {height}, {self._settings.area(piece.net_area)}")
        self.layer.set_words({layer.name: layer.name for layer in job.layers})
        if self.layer.value is None:
            self.layer.set_value(piece.cuts[0].layer)
        cut = piece.find_cut(self.layer.value)
        self.used.setChecked(cut is not None)
        for field in self._cut_fields():
            field.setEnabled(cut is not None)
        if cut is not None:
            self._show_cut(cut)
        self.marks.show_piece(piece)
        self.rows.show_piece(piece)
        self.openings.show_piece(piece)
        self._warn(piece.warnings(self._settings.unit))
        if self._editor.layer != self.layer.value:
            self._editor.show_layer(self.layer.value)

    def _show_cut(self, cut: LayerCut) -> None:
        self.shows.set_value(cut.shows)
        self.reversed.setChecked(cut.reversed)
        self.least.set_value(cut.overcut.least if cut.overcut else None)
        self.wished.set_value(cut.overcut.wished if cut.overcut else None)
        self.axis.set_value(cut.stretch.axis if cut.stretch else None)
        self.tolerance.set_value(cut.stretch.tolerance if cut.stretch else 15.0)
        self.tolerance.setEnabled(cut.stretch is not None)
        self.regions.set_value(", ".join(cut.regions) or None)
        self.not_regions.set_value(", ".join(cut.not_regions) or None)
        self.firmness.set_value(cut.least_firmness)

    def _cut_fields(self) -> tuple[QWidget, ...]:
        return (
            self.shows, self.reversed, self.least, self.wished, self.axis, self.tolerance, self.regions,
            self.not_regions, self.firmness,
        )  # fmt: skip

    def _warn(self, warnings: tuple[str, ...]) -> None:
        self.warnings.setText("\n".join(f"⚠ {words}" for words in warnings))
        self.warnings.setVisible(bool(warnings))

    def preview_marks(self, marks: tuple[object, ...]) -> None:
        """Warn of marks that are being typed, before they are set."""
        piece = self._document.piece
        if isinstance(piece, Piece):
            try:
                self._warn(msgspec.structs.replace(piece, marks=marks).warnings(self._settings.unit))
            except NestplanError as error:
                self._warn((str(error),))

    def _preview_warning(self) -> None:
        piece = self._document.piece
        if isinstance(piece, Piece):
            self._warn(piece.warnings(self._settings.unit))

    def _rename(self, name: str) -> None:
        piece = self._document.piece
        if piece is None:
            return
        if any(other.name == name for other in pieces_and_strips(self._document.contents.job)):
            self.name.refuse(f"Another piece of this job is called {name}.")
            return
        self._editor.change("Rename the piece", name=name)

    def _go_around(self, on: bool) -> None:
        piece = self._document.piece
        if isinstance(piece, Piece):
            self._editor.change("Set what goes round the wearer", around=line_across(piece) if on else ())

    def _cut(self, words: str, **fields: object) -> None:
        self._editor.change_cut(self.layer.value, words, **fields)

    def _overcut(self) -> None:
        least, wished = self.least.value, self.wished.value
        if least is None and wished is None:
            self._cut("Delete the overcut", overcut=None)
            return
        low = least if least is not None else 0.0
        high = wished if wished is not None and wished >= low else max(low, wished or 0.0)
        if high > 0:
            with self._editor.reporting_errors():
                self._cut("Set the overcut", overcut=Overcut(least=low, wished=high))

    def _stretch(self, _value: object) -> None:
        if self.axis.value is None:
            self._cut("Let it lie any way", stretch=None)
            return
        tolerance = self.tolerance.value if self.tolerance.value is not None else 15.0
        with self._editor.reporting_errors():
            self._cut("Set the stretch", stretch=StretchRule(axis=self.axis.value, tolerance=tolerance))

    def _use_layer(self, on: bool) -> None:
        piece, layer = self._document.piece, self.layer.value
        if not isinstance(piece, Piece):
            return
        cuts = tuple(cut for cut in piece.cuts if cut.layer != layer)
        if on:
            self._editor.change("Cut it from this layer too", cuts=(*cuts, LayerCut(layer=layer)))
        elif cuts:
            self._editor.change("Cut it no more from this layer", cuts=cuts)
        else:
            self._editor.notified.emit("A piece is cut from one layer at least.")
            self.used.setChecked(True)


def _names(words: str | None) -> tuple[str, ...]:
    return tuple(name.strip() for name in (words or "").split(",") if name.strip())
