"""What is laced in an article: joins of two rows and laced edges, with the lace they take and its way drawn."""

from __future__ import annotations

import io
from typing import Any

import msgspec
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QCheckBox, QListWidget, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    Field,
    LengthField,
    button,
    form,
    number_field,
    row_of,
    section,
    soft,
    text_field,
)
from nestplan.desk.document.document import Document
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import Picture, moved
from nestplan.errors import NestplanError
from nestplan.model.job import Article, Job
from nestplan.model.laced_joins import LacedEdge, LacedJoin, LacedRow
from nestplan.model.lacing import EDGE_STITCHES, LACE_PATHS
from nestplan.model.piece import Strip
from nestplan.sheets.lacing_blocks import edge_words, join_words, range_words
from nestplan.sheets.lacing_diagram import draw_edge, draw_join
from nestplan.sheets.unit_formatting import UnitFormatter
from nestplan.tasks.laced_work import LaceWish, facing_rows, with_laced, without_laced
from nestplan.tasks.output_paths import free_name

__all__ = ["LacingPart"]

_MATE = ""
_DRAWN = (72.0, 66.0)
"""Width and height of the drawing, mm, at `_DOTS` to the inch."""
_DOTS = 96.0
_MARGIN = 8.0


class LacingPart(QWidget):
    """The list of what is laced, the figures of the one selected, and what follows from them."""

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self._article = ""
        self.list = QListWidget()
        self.list.setAccessibleName("Laced joins and edges")
        self.list.setMinimumHeight(50)
        self.list.setMaximumHeight(84)
        self.list.currentRowChanged.connect(lambda _: self._show())
        self.add_join = button(
            "Lace two edges", self._add_join, tip="A row of one piece to a row of another, or of its mate"
        )
        self.add_edge = button("Lace an edge", self._add_edge, tip="Along a row of holes, round the edge")
        self.take_away = button(
            "Delete", self._remove, tip="Its lace stays in the job with the length it has"
        )
        self.range = soft()
        self.words = soft()
        self.picture = plain_label()
        self.picture.setAccessibleName("The way of the lace")
        self._make_fields()
        self._connect()
        self._lay_out()

    def _make_fields(self) -> None:
        settings = self._settings
        self.name = text_field(tip="What it is called, such as front")
        self.one = Choice({}, tip="The row that is laced, drawn at the left")
        self.other = Choice({}, tip="The row it is laced to, drawn at the right")
        self.skip_one, self.skip_other = (
            Field(
                _numbers, _numbers_words, optional=True, hint="none", tip=f"Left out of the {which} row: 3, 5"
            )
            for which in ("first", "second")
        )
        self.backward = QCheckBox("The other from its last hole on")
        self.backward.setToolTip("Laced against the way its holes are numbered")
        self.path = Choice({path.name: path.name for path in LACE_PATHS}, tip="How the lace goes")
        self.stitch = Choice(
            {stitch.name: stitch.name for stitch in EDGE_STITCHES}, tip="How the edge is laced"
        )
        self.gap = LengthField(settings, tip="Between the edges as worn")
        self.closed = LengthField(settings, tip="Between the edges at the least")
        self.widest = LengthField(
            settings, optional=True, hint="as worn", tip="Between the edges at the most"
        )
        self.spread = LengthField(
            settings, tip="How much wider the gap is at the last pair than at the first"
        )
        self.finish = Choice({"bow": "tied in a bow", "hidden": "hidden"}, tip="How the ends are made fast")
        self.tail = LengthField(settings, optional=True, hint="as usual", tip="Left at each end")
        self.count = number_field(1, 1000, tip="How many times it is in one article")
        self.lace_width = LengthField(
            settings,
            optional=True,
            hint="not from this leather",
            tip="Width of the lace, cut from the job's leather",
        )
        self.lace_layer = Choice({}, tip="The layer whose leather the lace is cut from")

    def _connect(self) -> None:
        self.name.edited.connect(self._rename)
        for choice in (self.one, self.other):
            choice.edited.connect(lambda _: self._put_rows(facing=True))
        for field in (self.skip_one, self.skip_other):
            field.edited.connect(lambda _, field=field: self._put_skipped(field))
        fields: tuple[tuple[str, Field | Choice], ...] = (
            ("gap", self.gap),
            ("closed", self.closed),
            ("widest", self.widest),
            ("spread", self.spread),
            ("tail", self.tail),
            ("count", self.count),
            ("path", self.path),
            ("stitch", self.stitch),
            ("finish", self.finish),
        )
        for name, one in fields:
            one.edited.connect(lambda value, name=name: self._put(**{name: value}))
        self.backward.clicked.connect(lambda _: self._put_rows())
        self.lace_width.edited.connect(lambda _: self._put_lace())
        self.lace_layer.edited.connect(lambda _: self._put_lace())

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(section("Lacing"))
        column.addWidget(self.range)
        column.addWidget(self.list)
        column.addLayout(row_of(self.add_join, self.add_edge))
        self._figures = QWidget()
        inner = QVBoxLayout(self._figures)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.addWidget(self.words)
        inner.addWidget(self.picture)
        self._of_join, self._of_edge = QWidget(), QWidget()
        of_join = form(
            ("To", self.other),
            ("Left out", self.skip_one),
            ("… of the other", self.skip_other),
            ("Path", self.path),
            ("Gap as worn", self.gap),
            ("… closed", self.closed),
            ("… at the widest", self.widest),
            ("Wider at the end", self.spread),
        )
        of_join.insertRow(2, self.backward)
        self._of_join.setLayout(of_join)
        self._of_edge.setLayout(form(("Stitch", self.stitch)))
        for part in (self._of_join, self._of_edge):
            layout = part.layout()
            if layout is not None:
                layout.setContentsMargins(0, 0, 0, 0)
        inner.addLayout(form(("Name", self.name), ("Row", self.one)))
        inner.addWidget(self._of_join)
        inner.addWidget(self._of_edge)
        inner.addLayout(
            form(
                ("Ends", self.finish),
                ("Left at each end", self.tail),
                ("Times", self.count),
                ("Lace, wide", self.lace_width),
                ("… from layer", self.lace_layer),
            )
        )
        inner.addWidget(self.take_away)
        column.addWidget(self._figures)

    def show_article(self, article: Article) -> None:
        """Show what is laced in an article."""
        number = self.list.currentRow() if article.name == self._article else 0
        self._article = article.name
        names = [f"{join.name}: {join.path}" for join in article.laced_joins]
        names += [f"{edge.name}: {edge.stitch}, an edge" for edge in article.laced_edges]
        self.list.blockSignals(True)
        self.list.clear()
        self.list.addItems(names)
        self.list.setCurrentRow(min(max(number, 0), len(names) - 1))
        self.list.blockSignals(False)
        told = range_words(article, UnitFormatter(self._unit))
        self.range.setText(told[:1].upper() + told[1:] + "." if told else "")
        self.range.setVisible(bool(told))
        self._show()

    def select(self, name: str) -> None:
        """Select what is laced by its name."""
        laced = self._laced_of(self._shown)
        names = [each.name for each in laced]
        if name in names:
            self.list.setCurrentRow(names.index(name))

    @property
    def _unit(self) -> Any:
        return self._settings.unit

    @property
    def _shown(self) -> Article | None:
        job = self._document.contents.job
        return next((each for each in job.articles if each.name == self._article), None) if job else None

    @staticmethod
    def _laced_of(article: Article | None) -> list[LacedJoin | LacedEdge]:
        return [*article.laced_joins, *article.laced_edges] if article is not None else []

    @property
    def _selected(self) -> LacedJoin | LacedEdge | None:
        laced, number = self._laced_of(self._shown), self.list.currentRow()
        return laced[number] if 0 <= number < len(laced) else None

    def _show(self) -> None:
        article, laced, job = self._shown, self._selected, self._document.contents.job
        self._figures.setVisible(laced is not None)
        if article is None or laced is None or job is None:
            return
        rows = _rows_of(article)
        self.name.set_value(laced.name)
        self.one.set_words(rows)
        self._of_join.setVisible(isinstance(laced, LacedJoin))
        self._of_edge.setVisible(isinstance(laced, LacedEdge))
        if isinstance(laced, LacedJoin):
            self._show_join(laced, rows)
        else:
            self.one.set_value(f"{laced.piece}\n{laced.row}")
            self.stitch.set_value(laced.stitch)
        self.finish.set_value(laced.finish)
        self.tail.set_value(laced.tail)
        self.count.set_value(laced.count)
        strip = next((strip for strip in article.strips if strip.laces == laced.name), None)
        self.lace_layer.set_words({layer.name: layer.name for layer in job.layers})
        self.lace_layer.setEnabled(strip is not None)
        self._show_lace(strip)
        self._draw(job, article, laced.name)

    def _show_join(self, join: LacedJoin, rows: dict[str, str]) -> None:
        one, other = join.rows[0], join.rows[-1]
        self.one.set_value(f"{one.piece}\n{one.row}")
        self.other.set_words({_MATE: "its mate"} | rows)
        mate = len(join.rows) == 1
        self.other.set_value(_MATE if mate else f"{other.piece}\n{other.row}")
        self.skip_one.set_value(one.skip or None)
        self.skip_other.set_value(None if mate else other.skip or None)
        self.skip_other.setEnabled(not mate)
        self.backward.setEnabled(not mate)
        self.backward.setChecked(not mate and other.backward)
        self.path.set_value(join.path)
        self.gap.set_value(join.gap)
        self.closed.set_value(join.closed)
        self.widest.set_value(join.widest)
        self.spread.set_value(join.spread)

    def _show_lace(self, strip: Strip | None) -> None:
        self.lace_width.set_value(strip.width if strip is not None else None)
        if strip is not None:
            self.lace_layer.set_value(strip.layer)

    def _draw(self, job: Job, article: Article, name: str) -> None:
        """What follows from the figures: the lace it takes, in words and drawn."""
        formatter = UnitFormatter(self._unit)
        picture: Picture | None = None
        lines: list[str] = []
        for join in job.worked_joins(article):
            if join.join.name == name:
                lines, picture = join_words(article, join, formatter)[1:], draw_join(join, *_DRAWN)
        for edge in job.worked_edges(article):
            if edge.edge.name == name:
                lines, picture = edge_words(article, edge, formatter)[1:], draw_edge(edge, _DRAWN[0])
        self.words.setText(" ".join(lines))
        self.picture.setVisible(picture is not None)
        if picture is not None:
            self.picture.setPixmap(_pixmap(picture))

    def _put(self, **fields: Any) -> None:
        laced, article, job = self._selected, self._shown, self._document.contents.job
        if laced is None or article is None or job is None:
            return

        def change() -> None:
            changed = msgspec.structs.replace(laced, **fields)
            self._document.edit_job("Change the lacing", with_laced(job, article.name, laced.name, changed))

        self._editor.attempt(change)
        self._show()

    def _put_rows(self, *, facing: bool = False) -> None:
        """Lace the rows that are chosen; `facing`: the second so that both are laced the same way up."""
        if isinstance(self._selected, LacedEdge):
            piece, row = self.one.value.split("\n")
            self._put(piece=piece, row=row)
            return
        rows, article = self._chosen_rows(), self._shown
        if facing and len(rows) == 2 and article is not None:
            rows = facing_rows(article, *rows)
        self._put(rows=rows)

    def _put_skipped(self, field: Field) -> None:
        """Leave holes out. While they do not match, the field says why and the other can be filled in too."""
        laced, article, job = self._selected, self._shown, self._document.contents.job
        if not isinstance(laced, LacedJoin) or article is None or job is None:
            return
        try:
            changed = msgspec.structs.replace(laced, rows=self._chosen_rows())
            after = with_laced(job, article.name, laced.name, changed)
        except NestplanError as error:
            field.refuse(error.what)
            return
        self._document.edit_job("Leave holes out", after)
        self._show()

    def _chosen_rows(self) -> tuple[LacedRow, ...]:
        """The rows of a join as they are chosen, the second as the box says."""
        rows: list[LacedRow] = []
        for key, skip in ((self.one.value, self.skip_one.value), (self.other.value, self.skip_other.value)):
            if key != _MATE:
                piece, row = key.split("\n")
                backward = len(rows) == 1 and self.backward.isChecked()
                rows.append(LacedRow(piece=piece, row=row, skip=skip or (), backward=backward))
        return tuple(rows)

    def _put_lace(self) -> None:
        laced, article, job = self._selected, self._shown, self._document.contents.job
        width = self.lace_width.value
        if laced is None or article is None or job is None or width is None:
            self._show()
            return
        wish = LaceWish(width, self.lace_layer.value or "")
        self._editor.attempt(
            lambda: self._document.edit_job(
                "Cut the lace", with_laced(job, article.name, laced.name, laced, wish)
            )
        )
        self._show()

    def _rename(self, name: str) -> None:
        if any(each.name == name for each in self._laced_of(self._shown)):
            self.name.refuse(f"Something else that is laced is called {name}.")
            return
        self._put(name=name)

    def _add_join(self) -> None:
        """Lace a row of a pair to its mate, or two rows with as many holes; the others can be chosen then."""
        article = self._shown
        rows = _unlaced_first(article) if article is not None else []
        mate = next(([row] for row, _, pair in rows if pair), None)
        two = next(
            (
                [one, other]
                for one, holes, _ in rows
                for other, others, _ in rows
                if one is not other and holes == others
            ),
            None,
        )
        chosen = mate or two
        if article is None or chosen is None:
            self._editor.notified.emit("Draw a row of holes on a pair, or one on each of two pieces, first.")
            return
        name = free_name("join", [each.name for each in self._laced_of(article)])
        rows_of_join = facing_rows(article, *chosen) if len(chosen) == 2 else tuple(chosen)
        self._add(LacedJoin(name=name, rows=rows_of_join, gap=25.0), "Lace two edges")

    def _add_edge(self) -> None:
        article = self._shown
        rows = _unlaced_first(article) if article is not None else []
        if article is None or not rows:
            self._editor.notified.emit("Draw a row of holes along the edge first.")
            return
        name = free_name("edge", [each.name for each in self._laced_of(article)])
        self._add(LacedEdge(name=name, piece=rows[0][0].piece, row=rows[0][0].row), "Lace an edge")

    def _add(self, laced: LacedJoin | LacedEdge, words: str) -> None:
        job = self._document.contents.job
        if job is not None and self._editor.attempt(
            lambda: self._document.edit_job(words, with_laced(job, self._article, laced.name, laced))
        ):
            self.select(laced.name)

    def _remove(self) -> None:
        laced, job = self._selected, self._document.contents.job
        if laced is not None and job is not None:
            self._document.edit_job("Remove the lacing", without_laced(job, self._article, laced.name))


def _rows_of(article: Article) -> dict[str, str]:
    """The rows of an article that can be laced, by piece and row, in words."""
    return {
        f"{row.piece}\n{row.row}": f"{row.piece}: {row.row} ({holes} holes)"
        for row, holes, _ in _laceable(article)
    }


def _laceable(article: Article) -> list[tuple[LacedRow, int, bool]]:
    """The rows of an article that can be laced, each with its number of holes and whether its piece is a pair."""
    return [
        (LacedRow(piece=piece.name, row=row.name), len(marks), piece.pair)
        for piece in article.pieces
        for row, marks in zip(piece.rows, piece.marks_of_rows, strict=True)
        if row.kind.cuts
    ]


def _unlaced_first(article: Article) -> list[tuple[LacedRow, int, bool]]:
    """The rows of an article that can be laced, those that are not laced yet before the others."""
    laced = {(row.piece, row.row) for join in article.laced_joins for row in join.rows}
    laced |= {(edge.piece, edge.row) for edge in article.laced_edges}
    return sorted(_laceable(article), key=lambda each: (each[0].piece, each[0].row) in laced)


def _numbers(words: str) -> tuple[int, ...]:
    """Holes by their numbers. Raises ValueError for other words."""
    try:
        return tuple(int(part) for part in words.split(",") if part.strip())
    except ValueError:
        raise ValueError("Give the holes by their numbers, such as 3, 5.") from None


def _numbers_words(numbers: tuple[int, ...]) -> str:
    return ", ".join(map(str, numbers))


def _pixmap(picture: Picture) -> QPixmap:
    from nestplan.drawing.png import png_image

    xmin, ymin, xmax, ymax = picture.bounds()
    page = Page(xmax - xmin + 2 * _MARGIN, ymax - ymin + 2 * _MARGIN)
    page.picture.add(moved(picture, _MARGIN - xmin, _MARGIN - ymin))
    stream = io.BytesIO()
    png_image(page, dots_per_inch=_DOTS).save(stream, "PNG")
    made = QPixmap()
    made.loadFromData(stream.getvalue())
    return made
