"""The tables of the dialog for sizes: the sizes themselves, who takes part in a change, and which edges meet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, zip_longest
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from nestplan.desk.controls.fields import Choice, Field, LengthField, number_field, text_field
from nestplan.desk.settings import Settings
from nestplan.geometry.sides import SIDE_NAMES
from nestplan.model.job import Article
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size
from nestplan.model.values import need

__all__ = ["SeamsTable", "SharesTable", "SizesTable"]

_USED = (QEvent.Type.FocusIn, QEvent.Type.KeyPress, QEvent.Type.MouseButtonPress)
_WIDER = {
    "both sides": "on both sides",
    "middle": "in its middle",
    "left": "near its left edge",
    "right": "near its right edge",
    "no": "not",
}
_LONGER = {
    "both sides": "at both ends",
    "middle": "in its middle",
    "bottom": "near its lower edge",
    "top": "near its upper edge",
    "no": "not",
}

_SPREAD = ((1, "width", _WIDER), (3, "length", _LONGER))
"""The columns in which it is chosen where a piece is spread, the way each runs, and its words."""
_PART = "part"
"""The key of an edge that is a part of an outline, as the file or the command says; it is kept, not drawn here."""
_SEAM_FIELDS = ("first piece", "first edge", "second piece", "second edge")


class _Table(QTableWidget):
    """A table of fields and choices; `changed` tells that one of them was."""

    changed = Signal()

    def __init__(self, columns: Sequence[str], name: str) -> None:
        super().__init__(0, len(columns))
        self.setHorizontalHeaderLabels(list(columns))
        self.setAccessibleName(name)
        self.verticalHeader().hide()
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setTabKeyNavigation(False)
        self._last_used: QWidget | None = None

    def put(self, row: int, column: int, field: Field | Choice, name: str) -> None:
        """Put a field or a choice into a cell."""
        field.setAccessibleName(name)
        field.edited.connect(lambda _: self._was_edited(field))
        field.installEventFilter(self)
        self.setCellWidget(row, column, field)

    def _was_edited(self, field: QWidget) -> None:
        self._last_used = field
        self.changed.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in _USED and isinstance(watched, QWidget):
            self._last_used = watched
        return super().eventFilter(watched, event)

    def words(self, row: int, column: int, words: str) -> None:
        """Put words into a cell."""
        item = QTableWidgetItem(words)
        item.setFlags(Qt.ItemFlag.ItemIsEnabled)
        self.setItem(row, column, item)

    def value(self, row: int, column: int) -> Any:
        """What the field or the choice in a cell says; None where there is none."""
        field = self.cellWidget(row, column)
        return field.value if isinstance(field, Field | Choice) else None

    def fault(self) -> Field | None:
        """The first field that cannot be read, of those that were typed in."""
        for row in range(self.rowCount()):
            for column in range(self.columnCount()):
                field = self.cellWidget(row, column)
                if isinstance(field, Field):
                    field.editingFinished.emit()
                    if field.fault:
                        return field
        return None

    def fit_height(self) -> None:
        """Make it as high as its rows, and let the Tab key go through them."""
        cells = [
            self.cellWidget(row, column)
            for row in range(self.rowCount())
            for column in range(self.columnCount())
        ]
        for before, after in pairwise([self, *filter(None, cells)]):
            QWidget.setTabOrder(before, after)
        rows = sum(self.rowHeight(row) for row in range(self.rowCount()))
        self.setFixedHeight(self.horizontalHeader().sizeHint().height() + rows + 4)

    def current_row(self) -> int:
        """The row in which something was typed or chosen last; -1 where nothing was."""
        for row in range(self.rowCount()):
            if any(self.cellWidget(row, column) is self._last_used for column in range(self.columnCount())):
                return row if self._last_used is not None else -1
        return -1


class SizesTable(_Table):
    """The drawn size in the first row, then every other: name, how many sets, and what it adds to each measure."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(("Size", "Sets"), "Sizes")
        self._settings = settings
        self.measures: list[str] = []

    def show_sizes(
        self, drawn: tuple[str, int], measures: Sequence[str], sizes: Sequence[tuple[Size, int]]
    ) -> None:
        """Show the drawn size (its name and sets) and the others with their sets."""
        self.measures = list(measures)
        self.setRowCount(0)
        self.setColumnCount(2 + len(measures))
        self.setHorizontalHeaderLabels(["Size", "Sets", *measures])
        self._add_row(drawn[0] or None, drawn[1], None)
        for size, sets in sizes:
            self._add_row(size.name, sets, size.changes)
        self.fit_height()

    def _add_row(self, name: str | None, sets: int, changes: Mapping[str, float] | None) -> None:
        row = self.rowCount()
        self.insertRow(row)
        first = text_field(tip="What the size is called: S, M, 38", hint="M", optional=row == 0)
        first.set_value(name)
        self.put(row, 0, first, f"Name of size {row + 1}")
        count = number_field(1, 100_000, tip="How many whole ones are wanted")
        count.set_value(sets)
        self.put(row, 1, count, f"Sets of size {row + 1}")
        for column, measure in enumerate(self.measures, start=2):
            if changes is None:
                self.words(row, column, "as drawn")
                continue
            field = LengthField(
                self._settings,
                optional=True,
                hint="same",
                tip="More than the drawn size, less with a minus: 40, -1 in",
            )
            field.set_value(changes.get(measure))
            self.put(row, column, field, f"{measure} of size {row + 1}")

    @property
    def drawn(self) -> tuple[str, int]:
        """The name of the drawn size and its sets."""
        return self.value(0, 0) or "", self.value(0, 1) or 1

    @property
    def others(self) -> list[tuple[Size, int]]:
        """The other sizes and their sets; a row without a name is none yet."""
        found = []
        for row in range(1, self.rowCount()):
            if self.value(row, 0):
                changes = {
                    measure: self.value(row, column)
                    for column, measure in enumerate(self.measures, start=2)
                    if self.value(row, column)
                }
                found.append((Size(name=self.value(row, 0), changes=changes), self.value(row, 1) or 1))
        return found


class SharesTable(_Table):
    """Every piece: where it becomes wider and longer, and how much of the change in width it takes."""

    def __init__(self, article: Article, usual: Sequence[str], measures: Sequence[Measure]) -> None:
        super().__init__(("Piece", "Wider", "Part of it", "Longer"), "Who takes part")
        self._names = [piece.name for piece in article.pieces]
        self._usual = set(usual)
        recorded = {along: _growths(measures, along) for along in ("width", "length")}
        self._length_shares = {name: growth.share for name, growth in recorded["length"].items()}
        self._recorded = recorded
        self._strips = {
            along: [growth for name, growth in recorded[along].items() if name not in self._names]
            for along in recorded
        }
        for row, name in enumerate(self._names):
            self.insertRow(row)
            self.words(row, 0, name)
            for column, along, words in _SPREAD:
                choice = Choice(self._places(name, words), tip="Where it is spread; as usual: on both sides")
                choice.set_value(_chosen(recorded[along], name))
                self.put(row, column, choice, f"{name}: {'wider' if along == 'width' else 'longer'}")
            share = number_field(
                -10, 10, whole=False, optional=True, hint="by its width",
                tip="How much of the change one takes: 1 all of it, 0.5 half; empty: its part of the way round",
            )  # fmt: skip
            growth = recorded["width"].get(name)
            share.set_value(growth.share if growth else None)
            self.put(row, 2, share, f"{name}: part of the change in width")
        self.fit_height()

    def show_usual(self, usual: Sequence[str]) -> None:
        """These pieces take part where nothing else is chosen: those that are joined, by the seams as they are now."""
        self._usual = set(usual)
        for row, name in enumerate(self._names):
            for column, _, words in _SPREAD:
                choice = self.cellWidget(row, column)
                if isinstance(choice, Choice):
                    choice.set_words(self._places(name, words))

    def _places(self, name: str, words: Mapping[str, str]) -> dict[str, str]:
        """Where a piece may be spread, in words, by the keys of what is chosen."""
        return {"": "as usual" if name in self._usual else "as usual: not", **words}

    def measures(self, named: Sequence[Measure]) -> tuple[Measure, ...]:
        """These measures with whoever takes part in them, as chosen."""
        taking = {"width": self._taking("width", 1), "length": self._taking("length", 3)}
        return tuple(
            Measure(name=measure.name, along=measure.along, pieces=taking[measure.along]) for measure in named
        )

    def _taking(self, along: str, column: int) -> tuple[Growth, ...]:
        chosen = {name: self.value(row, column) for row, name in enumerate(self._names)}
        shares = {
            name: self.value(row, 2) if along == "width" else self._length_shares.get(name)
            for row, name in enumerate(self._names)
        }
        as_usual = not any(chosen.values()) and all(share is None for share in shares.values())
        if as_usual and not self._strips[along]:
            return ()
        found = [
            Growth(
                name=name,
                share=shares[name],
                where=where or "both sides",
                lines=self._lines(along, name, where),
            )
            for name, where in chosen.items()
            if where != "no" and (where or name in self._usual or shares[name] is not None)
        ]
        return (*found, *self._strips[along])

    def _lines(self, along: str, name: str, where: str) -> tuple[float, ...]:
        """Lines said more exactly in the file, as long as no other place is chosen."""
        growth = self._recorded[along].get(name)
        return growth.lines if growth is not None and growth.where == where else ()


class SeamsTable(_Table):
    """Edges that meet, a row for each edge and the one that it meets. Where one side of a seam has more edges than the
    other, they follow in rows of their own, with nothing on the other side."""

    def __init__(self, article: Article) -> None:
        super().__init__(("", "Piece", "Edge", "meets piece", "at its edge"), "Edges that meet")
        self.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self._names = {piece.name: piece.name for piece in article.pieces}
        self._goes_on: list[bool] = []
        self._parts: dict[QWidget, Edge] = {}
        for seam in article.seams:
            for number, (first, second) in enumerate(zip_longest(seam.first, seam.second)):
                self._add_row(first, second, goes_on=number > 0)
        self._number()

    def add(self) -> None:
        """Add a seam of two edges."""
        names = list(self._names)
        first = Edge(piece=names[0], side="right")
        second = Edge(piece=names[1 % len(names)], side="left")
        self._add_row(first, second, goes_on=False)
        self._number()

    def add_edge(self) -> None:
        """Add an edge to the second side of the seam in whose row something was done last, or of the last; to a table
        without seams, a seam."""
        if not self.rowCount():
            self.add()
            return
        row = self.current_row()
        row = self.rowCount() - 1 if row < 0 else row
        while row + 1 < self.rowCount() and self._goes_on[row + 1]:
            row += 1
        self._add_row(None, Edge(piece=next(iter(self._names)), side="top"), goes_on=True, at=row + 1)
        self._number()

    def remove(self) -> None:
        """Remove the row in which something was done last, or the last; the edges below it take its place."""
        row = self.current_row()
        row = self.rowCount() - 1 if row < 0 else row
        if row < 0:
            return
        begins = not self._goes_on[row]
        self.removeRow(row)
        del self._goes_on[row]
        if begins and row < len(self._goes_on):
            self._goes_on[row] = False
        self._number()

    def _add_row(
        self, first: Edge | None, second: Edge | None, *, goes_on: bool, at: int | None = None
    ) -> None:
        row = self.rowCount() if at is None else at
        self.insertRow(row)
        self._goes_on.insert(row, goes_on)
        for column, edge in ((1, first), (3, second)):
            piece = Choice({"": "–", **self._names}, tip="The piece")
            sides = {side: side for side in SIDE_NAMES}
            part = edge is not None and edge.side is None
            side = Choice(
                {**({_PART: "a part"} if part else {}), **sides},
                tip=edge.words if edge is not None and part else "Its edge, as it is drawn",
            )
            piece.set_value(edge.piece if edge is not None else "")
            side.set_value((edge.side or _PART) if edge is not None else "top")
            if edge is not None and part:
                self._parts[side] = edge
            side.setEnabled(edge is not None)
            piece.edited.connect(lambda name, side=side: side.setEnabled(bool(name)))
            self.put(row, column, piece, "")
            self.put(row, column + 1, side, "")

    def _number(self) -> None:
        """Number the seams, and name their fields."""
        seam = 0
        for row, goes_on in enumerate(self._goes_on):
            seam += not goes_on
            self.words(row, 0, "and" if goes_on else str(seam))
            for column, name in enumerate(_SEAM_FIELDS, start=1):
                also = " too" if goes_on else ""
                self.cellWidget(row, column).setAccessibleName(f"Seam {seam}, {name}{also}")
        self.fit_height()

    @property
    def seams(self) -> tuple[Seam, ...]:
        """The seams as they are chosen. Raises InputError for one that has no edge on one of its sides."""
        found: list[tuple[list[Edge], list[Edge]]] = []
        for row, goes_on in enumerate(self._goes_on):
            if not goes_on:
                found.append(([], []))
            for edges, column in zip(found[-1], (1, 3), strict=True):
                edge = self._edge(row, column, len(found))
                if edge is not None:
                    edges.append(edge)
        for number, (first, second) in enumerate(found, start=1):
            need(
                bool(first and second),
                f"Seam {number} joins nothing on one of its sides.",
                mend="Choose a piece there, or delete it.",
            )
        return tuple(Seam(first=tuple(first), second=tuple(second)) for first, second in found)

    def _edge(self, row: int, column: int, seam: int) -> Edge | None:
        """The edge that is chosen in a row; None where there is none."""
        piece, side = self.value(row, column), self.value(row, column + 1)
        if not piece:
            return None
        if side != _PART:
            return Edge(piece=piece, side=side)
        part = self._parts[self.cellWidget(row, column + 1)]
        need(
            part.piece == piece,
            f"In seam {seam} a part of {part.piece} cannot be one of {piece}.",
            mend="Choose one of its edges.",
        )
        return part


def _growths(measures: Sequence[Measure], along: str) -> dict[str, Growth]:
    """Who takes part in the measures that run one way, by their names."""
    return {
        growth.name: growth for measure in measures if measure.along == along for growth in measure.pieces
    }


def _chosen(recorded: Mapping[str, Growth], name: str) -> str:
    """The key of what is chosen for a piece."""
    if not recorded:
        return ""
    return recorded[name].where if name in recorded else "no"
