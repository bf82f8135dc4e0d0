"""The figures of one strip: a strap or a lace, its width and length, how it lies and whether it may be joined."""

from __future__ import annotations

from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import Choice, LengthField, form, number_field, soft, text_field
from nestplan.desk.document.document import Document, pieces_and_strips
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.settings import Settings
from nestplan.model.piece import Strip

__all__ = ["StripPart"]


class StripPart(QWidget):
    """Fields for the current strip."""

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor = document, editor
        self.name = text_field(tip="What this strap or lace is called")
        self.use = Choice(
            {"strap": "strap", "lace": "lace"}, tip="A strap carries weight; lace is pulled through holes"
        )
        self.count = number_field(1, 10_000, tip="How many go into one article")
        self.width_field = LengthField(settings, tip="Width of the finished strip")
        self.length = LengthField(settings, tip="Length of the finished strip")
        self.layer = Choice({}, tip="The layer, and so the leather, it is cut from")
        self.source = Choice(
            {
                "edge": "side by side from an edge",
                "disc": "round and round from a disc",
                "either": "either way",
            },
            tip="Laces can be cut spirally from a disc",
        )
        self.along = Choice(
            {"backbone": "along the backbone", "any": "any way"}, tip="Straps stretch least along it"
        )
        self.joins = number_field(0, 100, tip="Of how many parts more than one it may be made")
        self.over = QCheckBox("May run over flaws of one face")
        self.over.setToolTip("A strip breaks at a flaw: leave this off for anything that is pulled")
        self.laces = soft()
        change = editor.change
        self.name.edited.connect(self._rename)
        self.use.edited.connect(lambda use: change("Set the use", use=use))
        self.count.edited.connect(lambda number: change("Set the count", count=number))
        self.width_field.edited.connect(lambda mm: change("Set the width", width=mm))
        self.length.edited.connect(lambda mm: change("Set the length", length=mm))
        self.layer.edited.connect(lambda layer: change("Set the layer", layer=layer))
        self.source.edited.connect(lambda source: change("Set the source", source=source))
        self.along.edited.connect(lambda along: change("Set the direction", along=along))
        self.joins.edited.connect(lambda number: change("Set the joins", joins=number))
        self.over.clicked.connect(lambda on: change("Set the flaws", over_flaws=on))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(
            form(
                ("Name", self.name),
                ("Use", self.use),
                ("In one article", self.count),
                ("Width", self.width_field),
                ("Length", self.length),
                ("Layer", self.layer),
                ("Cut", self.source),
                ("Lies", self.along),
                ("Joins", self.joins),
            )
        )
        column.addWidget(self.laces)
        column.addWidget(self.over)
        column.addWidget(soft("Lace stretches and narrows as it is pulled: cut it a little wide."))
        column.addStretch(1)

    def show_strip(self, strip: Strip) -> None:
        """Show a strip as it is now."""
        job = self._document.contents.job
        if job is None:
            return
        self.layer.set_words({layer.name: layer.name for layer in job.layers})
        self.name.set_value(strip.name)
        self.use.set_value(strip.use)
        self.count.set_value(strip.count)
        self.width_field.set_value(strip.width)
        self.length.set_value(strip.length)
        self.layer.set_value(strip.layer)
        self.source.set_value(strip.source)
        self.along.set_value(strip.along)
        self.joins.set_value(strip.joins)
        self.over.setChecked(strip.over_flaws)
        for field in (self.use, self.count, self.length):
            field.setEnabled(not strip.laces)
        self.laces.setText(
            f"It laces {strip.laces}: use, number and length follow from its holes and its gap."
        )
        self.laces.setVisible(bool(strip.laces))

    def _rename(self, name: str) -> None:
        if any(other.name == name for other in pieces_and_strips(self._document.contents.job)):
            self.name.refuse(f"Another piece of this job is called {name}.")
            return
        self._editor.change("Rename the strip", name=name)
