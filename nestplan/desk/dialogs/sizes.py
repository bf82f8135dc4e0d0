"""A form that makes an article drawn in one size in others, with all of them over each other beside it."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    button,
    form,
    row_of,
    scrolled,
    section,
    set_role,
    soft,
    text_field,
)
from nestplan.desk.dialogs.size_preview import SizePreview
from nestplan.desk.dialogs.size_tables import SeamsTable, SharesTable, SizesTable
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.errors import NestplanError
from nestplan.estimate.article_sizes import joined_pieces
from nestplan.model.job import Article, Job
from nestplan.model.sizes import Measure, Size, Sizes, measure_named
from nestplan.sheets.size_words import fits_words
from nestplan.sheets.unit_formatting import UnitFormatter
from nestplan.tasks.article_sizes import SizedJob, SizesWish, with_sizes

__all__ = ["SizesDialog"]

_USUAL = ("waist", "length")
_ROWS = {
    "as drawn": "what they were drawn by",
    "pitch": "their distances; the number changes",
    "number": "their number; the distances change",
}

_TABLES, _WITH_PICTURE = 560, 950
"""Pixels that the tables take, and from which on there is room for the picture beside them."""
_ANY_WIDTH = 16_777_215


class SizesDialog(QDialog):
    """Asks for the sizes of one article; `made` carries the job with them."""

    made = Signal(object)

    def __init__(self, job: Job, article: Article, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._job, self._article, self._settings = job, article, settings
        recorded = article.sizes.measures if article.sizes else ()
        self._measures = self._named_measures(recorded)
        self.setWindowTitle(f"Sizes of {article.name}")
        self.resize(1060, 700)
        self.sizes = SizesTable(settings)
        self.sizes.show_sizes(
            (article.size, article.sets), [m.name for m in self._measures], self._recorded_sizes()
        )
        self.shares = SharesTable(article, joined_pieces(article), recorded)
        self.seams = SeamsTable(article)
        self.rows = Choice(_ROWS, tip="What rows of holes, slits and spots keep in the other sizes")
        self.rows.set_value(article.sizes.rows if article.sizes else "as drawn")
        self.fits = {
            measure.name: self._range_fields(measure.name)
            for measure in self._measures
            if measure.along == "width"
        }
        self.preview = SizePreview()
        self.told = soft()
        self.fault = plain_label()
        self.fault.setWordWrap(True)
        set_role(self.fault, "alarm")
        self.fault.hide()
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.make = self.buttons.addButton("Make the sizes", QDialogButtonBox.ButtonRole.AcceptRole)
        self.make.setProperty("main", "true")
        self.buttons.accepted.connect(self._make)
        self.buttons.rejected.connect(self.reject)
        self._lay_out()
        # Enter in a field makes the sizes; it presses no other button.
        for each in self.findChildren(QPushButton):
            each.setAutoDefault(each is self.make)
        self.make.setDefault(True)
        for table in (self.sizes, self.shares, self.seams):
            table.changed.connect(self.refresh)
        self.rows.edited.connect(lambda _: self.refresh())
        self.refresh()

    def _named_measures(self, recorded: tuple[Measure, ...]) -> list[Measure]:
        """The measures that stand in the table: those used or recorded, or the usual two."""
        sizes = self._article.sizes
        names = [name for size in (sizes.others if sizes else ()) for name in size.changes]
        names += [measure.name for measure in recorded] + list(self._article.fits)
        known = {measure.name: measure for measure in recorded}
        return [known.get(name, measure_named(name)) for name in dict.fromkeys(names or _USUAL)]

    def _recorded_sizes(self) -> list[tuple[Size, int]]:
        sizes = self._article.sizes
        if sizes is None:
            return [(Size(name="L"), 1)]
        made = {each.size: each.sets for each in self._job.articles if each.graded_from == self._article.name}
        return [(size, made.get(size.name, 1)) for size in sizes.others]

    def _range_fields(self, measure: str) -> tuple[LengthField, LengthField]:
        least, most = (
            LengthField(
                self._settings, optional=True, hint=hint, tip=f"The {which} {measure} the drawn size fits"
            )
            for hint, which in (("from", "least"), ("to", "greatest"))
        )
        found = self._article.fits.get(measure)
        for field, value, which in ((least, 0, "from"), (most, 1, "to")):
            field.set_value(found[value] if found else None)
            field.setAccessibleName(f"Drawn size fits {measure} {which}")
            field.edited.connect(lambda _: self.refresh())
        return least, most

    def _lay_out(self) -> None:
        column = QVBoxLayout()
        column.addWidget(
            soft(
                "The first row is the size as drawn. Give every other by what it adds to the wearer's measures, "
                "or takes from them with a minus; bare numbers are in the unit of the rulers."
            )
        )
        column.addWidget(self.sizes)
        column.addLayout(
            row_of(
                button("Add a size", self.add_size, tip="One more row"),
                button("Delete", self.remove_size, tip="The row in which you were last, or the last row"),
            )
        )
        self.measure = text_field(optional=True, hint="hip", tip="Another measure of the wearer")
        self.along = Choice({"width": "round", "length": "lengthwise"}, tip="Which way the measure runs")
        self.measure.setAccessibleName("Another measure")
        column.addLayout(
            row_of(self.measure, self.along, button("Add a measure", self.add_measure, tip="One more column"))
        )
        column.addWidget(section("What the drawn size fits"))
        self._fit_rows = QVBoxLayout()
        for name in self.fits:
            self._add_fit_row(name)
        column.addLayout(self._fit_rows)
        column.addWidget(section("Who takes part"))
        column.addWidget(self.shares)
        column.addLayout(form(("Rows keep", self.rows)))
        column.addWidget(section("Edges that meet, and stay as long as each other"))
        column.addWidget(self.seams)
        column.addLayout(
            row_of(
                button("Add a seam", self.add_seam, tip="Two edges that are joined"),
                button(
                    "Add an edge",
                    self.add_edge,
                    tip="One more edge of the seam in which you were last, beside its others",
                ),
                button("Delete", self.remove_seam, tip="The row in which you were last, or the last row"),
            )
        )
        column.addStretch(1)
        self._column, self._tables = column, scrolled(column)
        self._tables.setMinimumWidth(_TABLES)
        self._pictured = QWidget()
        right = QVBoxLayout(self._pictured)
        right.setContentsMargins(0, 0, 0, 0)
        right.addWidget(self.preview, 1)
        right.addWidget(self.told)
        self._body = QHBoxLayout()
        self._body.addWidget(self._tables)
        outer = QVBoxLayout(self)
        outer.setSizeConstraint(QVBoxLayout.SizeConstraint.SetNoConstraint)
        self.setMinimumSize(_TABLES + 30, 200)
        outer.addLayout(self._body, 1)
        outer.addWidget(self.fault)
        outer.addWidget(self.buttons)
        self._put_picture(beside=True)

    def _put_picture(self, *, beside: bool) -> None:
        """Put the picture of the sizes beside the tables, or below them, where it is scrolled to."""
        self._beside = beside
        self._tables.setMaximumWidth(_TABLES if beside else _ANY_WIDTH)
        if beside:
            self._body.addWidget(self._pictured, 1)
        else:
            self._column.insertWidget(self._column.count() - 1, self._pictured)

    def resizeEvent(self, event: QResizeEvent) -> None:
        beside = self.width() >= _WITH_PICTURE
        if beside != self._beside:
            self._put_picture(beside=beside)
        super().resizeEvent(event)

    def _add_fit_row(self, measure: str) -> None:
        fields, row = QWidget(), row_of(*self.fits[measure])
        row.setContentsMargins(0, 0, 0, 0)
        fields.setLayout(row)
        self._fit_rows.addLayout(form((measure, fields)))

    def add_size(self) -> None:
        """Add a row for one more size."""
        drawn, others = self.sizes.drawn, self.sizes.others
        self.sizes.show_sizes(drawn, self.sizes.measures, [*others, (Size(name=_next_name(others)), 1)])
        self.refresh()

    def remove_size(self) -> None:
        """Remove the size in whose row something was done last, or the last."""
        row = self.sizes.current_row()
        others = self.sizes.others
        if others:
            del others[row - 1 if row > 0 else -1]
        self.sizes.show_sizes(self.sizes.drawn, self.sizes.measures, others)
        self.refresh()

    def add_measure(self) -> None:
        """Add a column for the measure that is named."""
        self.measure.editingFinished.emit()
        name = (self.measure.value or "").strip()
        if not name or any(measure.name == name for measure in self._measures):
            self.measure.refuse("Give it a name of its own.")
            return
        drawn, others = self.sizes.drawn, self.sizes.others
        self._measures.append(Measure(name=name, along=self.along.value))
        if self.along.value == "width":
            self.fits[name] = self._range_fields(name)
            self._add_fit_row(name)
        self.sizes.show_sizes(drawn, [measure.name for measure in self._measures], others)
        self.measure.set_value(None)

    def add_seam(self) -> None:
        """Add a row for two edges that meet."""
        self.seams.add()
        self.refresh()

    def add_edge(self) -> None:
        """Add a row for one more edge of the seam at hand."""
        self.seams.add_edge()
        self.refresh()

    def remove_seam(self) -> None:
        """Remove the edges in whose row something was done last, or the last."""
        self.seams.remove()
        self.refresh()

    def wish(self) -> SizesWish:
        """What is asked for. Raises InputError where no size is."""
        drawn, sets = self.sizes.drawn
        others = self.sizes.others
        seams = self.seams.seams
        self.shares.show_usual(joined_pieces(msgspec.structs.replace(self._article, seams=seams)))
        measures = self.shares.measures(self._measures)
        kept = tuple(m for m in measures if m.pieces or m.along != measure_named(m.name).along)
        return SizesWish(
            article=self._article.name,
            sizes=Sizes(others=tuple(size for size, _ in others), measures=kept, rows=self.rows.value),
            drawn=drawn,
            sets={size.name: count for size, count in others},
            drawn_sets=sets,
            fits={
                name: (least.value, most.value or least.value)
                for name, (least, most) in self.fits.items()
                if least.value is not None
            },
            seams=seams,
            only_these_seams=True,
        )

    def refresh(self) -> None:
        """Make the sizes anew for the eye, or say why they cannot be made."""
        self._attempt(lambda sized: None)

    def _make(self) -> None:
        for field in (self.sizes.fault(), self.shares.fault()):
            if field is not None:
                field.setFocus()
                return

        def hand_over(sized: SizedJob) -> None:
            self.made.emit(sized)
            self.accept()

        self._attempt(hand_over)

    def _attempt(self, then: Callable[[SizedJob], None]) -> None:
        try:
            sized = with_sizes(self._job, self.wish())
        except NestplanError as error:
            self.fault.setText(str(error.told_in(self._settings.unit)))
            self.fault.show()
            self.told.setText("")
            return
        self.fault.hide()
        self.preview.show_sizes((sized.drawn, *(each.article for each in sized.made)))
        self.told.setText(self._words(sized))
        then(sized)

    def _words(self, sized: SizedJob) -> str:
        """What each size fits, and how well the edges that meet do meet."""
        formatter = UnitFormatter(self._settings.unit)
        articles = (sized.drawn, *(each.article for each in sized.made))
        fits = [(article.size or article.name, fits_words(article, formatter)) for article in articles]
        gap = sized.widest_seam_gap
        seams = (
            "No edges that meet are named, so none were compared."
            if gap is None
            else f"Edges that meet differ by at most {self._settings.length(gap)} in any size."
        )
        kept = [f"{name} was changed by hand and stays as it is." for name in sized.by_hand]
        return "\n".join([*(f"{name} {words}." for name, words in fits if words), *kept, seams])


def _next_name(sizes: list[tuple[Size, int]]) -> str:
    """A name for one more size: the usual one that is not taken yet."""
    taken = {size.name for size, _ in sizes}
    usual = ("L", "S", "XL", "XS", "XXL")
    return next((name for name in usual if name not in taken), f"size {len(sizes) + 2}")
