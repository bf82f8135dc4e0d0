"""Fields of a form: they read what is typed with its unit, and say at once what is wrong with it.

A field that cannot be read keeps its words, is framed, and tells why in its tooltip; it gives nothing.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping
from typing import Any, Literal

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from nestplan.desk.locale_format import in_form, plain
from nestplan.desk.plain_text import plain_label, plain_tip
from nestplan.desk.settings import Settings
from nestplan.desk.theme import set_icon
from nestplan.errors import NestplanError
from nestplan.geometry.units import (
    read_length,
    read_thickness_range,
    show_area,
    show_length,
    show_thickness,
)
from nestplan.model.hide import LARGEST_HIDE_AREA

__all__ = [
    "ROW_HEIGHT",
    "Choice",
    "Field",
    "LengthField",
    "area_field",
    "button",
    "currency_field",
    "fit_rows",
    "form",
    "heading",
    "mark_active",
    "number_field",
    "row_of",
    "scrolled",
    "section",
    "soft",
    "text_field",
    "thickness_field",
]


_SQUARE_FOOT = 304.8**2
"""mm²."""

_UNDO_KEYS = (QKeySequence.StandardKey.Undo, QKeySequence.StandardKey.Redo)


class Field(QLineEdit):
    """One line that is read by `read` and shown by `show`; `edited` tells a new value when the line is left."""

    edited = Signal(object)
    fault_changed = Signal(str)

    def __init__(
        self,
        read: Callable[[str], Any],
        show: Callable[[Any], str],
        *,
        tip: str = "",
        optional: bool = False,
        hint: str = "",
        numeric: bool = True,
    ) -> None:
        super().__init__()
        # Words are taken and shown as they are, whatever numbers stand in them.
        self._numeric, self._read_plain, self._show_plain = numeric, read, show
        self._tip, self._optional = tip, optional
        self.value: Any = None
        self.fault = ""
        self.setToolTip(plain_tip(tip))
        self.setPlaceholderText(hint)
        self.editingFinished.connect(self._take)

    def _read(self, words: str) -> Any:
        return self._read_plain(plain(words) if self._numeric else words)

    def _show(self, value: Any) -> str:
        return in_form(self._show_plain(value)) if self._numeric else self._show_plain(value)

    def set_value(self, value: Any) -> None:
        """Show a value without telling anyone; a field in which someone types is left alone if it is the same."""
        if value == self.value and self.hasFocus() and not self.fault:
            return
        self.value = value
        self.setText("" if value is None else self._show(value))
        self.setCursorPosition(0)
        self._mark("")

    def event(self, event: QEvent) -> bool:
        # The keys of Undo and Redo are the field's while something is being typed, else the window's.
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and any(event.matches(key) for key in _UNDO_KEYS)
            and self.text().strip() == self._shown_value()
        ):
            event.ignore()
            return False
        return super().event(event)

    def _shown_value(self) -> str:
        return "" if self.value is None else self._show(self.value)

    def typed_value(self) -> Any:
        """What is typed now, read; None where nothing is. Raises ValueError if it cannot be read."""
        words = self.text().strip()
        return self._read(words) if words else None

    def refuse(self, why: str) -> None:
        """Frame the field and say why."""
        self._mark(why)

    def _take(self) -> None:
        words = self.text().strip()
        if words == self._shown_value() and not self.fault:
            return
        try:
            if not words and self._optional:
                value = None
            elif not words:
                raise ValueError("Something must stand here.")
            else:
                value = self._read(words)
        except NestplanError as error:
            self._mark(str(error))
            return
        except ValueError as error:
            self._mark(str(error))
            return
        self._mark("")
        if value != self.value:
            self.value = value
            self.edited.emit(value)
            if not self.fault:
                # As it will be shown from now on; the steps of typing it are done with.
                self.setText(self._shown_value())
                self.setModified(True)

    def _mark(self, fault: str) -> None:
        if fault == self.fault:
            return
        self.fault = fault
        self.setProperty("wrong", "true" if fault else "false")
        self.setToolTip(plain_tip(fault or self._tip))
        self.setAccessibleDescription(fault)
        self.fault_changed.emit(fault)
        self.style().unpolish(self)
        self.style().polish(self)


class LengthField(Field):
    """A length; a bare number is in the unit that is set, any unit may be typed."""

    def __init__(self, settings: Settings, *, tip: str = "", optional: bool = False, hint: str = "") -> None:
        def read(words: str) -> float:
            bare = not any(letter.isalpha() or letter in "\"'″′" for letter in words)
            return read_length(f"{words} {settings.unit}" if bare else words)

        super().__init__(read, lambda mm: _length(mm, settings.unit), tip=tip, optional=optional, hint=hint)
        settings.unit_changed.connect(self._unit)

    def _unit(self, _unit: str) -> None:
        if self.value is not None and not self.fault:
            self.setText(self._show(self.value))


def _length(mm: float, unit: str) -> str:
    """In inches to 1/64 where that is exact enough, else with decimals: a field must not round what it holds."""
    if unit == "mm":
        return f"{round(mm, 2):g} mm"
    words = show_length(mm, "in")
    return words if abs(read_length(words) - mm) < 0.01 else f"{mm / 25.4:.3f} in"


def text_field(*, tip: str = "", hint: str = "", optional: bool = False) -> Field:
    """A field for words."""
    return Field(str, str, tip=tip, hint=hint, optional=optional, numeric=False)


def number_field(
    low: float,
    high: float,
    *,
    whole: bool = True,
    tip: str = "",
    optional: bool = False,
    hint: str = "",
    suffix: str = "",
) -> Field:
    """A field for a number between two others; `suffix` (such as °) may be typed or not."""

    def read(words: str) -> float:
        plain = words.strip().removesuffix(suffix.strip()).strip() if suffix else words
        try:
            value = int(plain) if whole else float(plain.replace(",", "."))
        except ValueError:
            raise ValueError("This is no whole number." if whole else "This is no number.") from None
        if not low <= value <= high:
            raise ValueError(f"It must be at least {low:g} and at most {high:g}.")
        return value

    return Field(read, lambda value: f"{value:g}{suffix}", tip=tip, optional=optional, hint=hint)


def area_field(
    read: Callable[[str], float],
    *,
    tip: str = "",
    hint: str = "",
    smallest: float = 0.01,
    largest: float = LARGEST_HIDE_AREA / _SQUARE_FOOT,
) -> Field:
    """A field for the area of a hide, which may be empty; `read` gives mm², the bounds are in ft²."""

    def read_bounded(words: str) -> float:
        area = read(words)
        if not smallest * _SQUARE_FOOT <= area <= largest * _SQUARE_FOOT:
            raise ValueError(f"The area of a hide must be between {smallest:g} and {largest:,.0f} ft².")
        return area

    return Field(read_bounded, lambda mm2: show_area(mm2, "ft2"), tip=tip, hint=hint, optional=True)


def currency_field(*, tip: str = "", hint: str = "e.g. EUR") -> Field:
    """A field for a currency, by its letters or its sign, which may be empty."""

    def read(words: str) -> str:
        if any(not letter.isalpha() and unicodedata.category(letter) != "Sc" for letter in words):
            raise ValueError("Give a currency by its letters or its sign, such as EUR or €.")
        return words

    return Field(read, str, tip=tip, hint=hint, optional=True)


def thickness_field(settings: Settings, *, tip: str = "", hint: str = "e.g. 2-2.4 mm or 5-6 oz") -> Field:
    """A field for a range of thickness, in mm or in ounces as the unit that is set goes."""

    def show(value: tuple[float, float]) -> str:
        words = _thickness(value, "oz") if settings.unit == "in" else _thickness(value, "mm")
        kept = read_thickness_range(words)
        # A field must not round what it holds.
        near = all(abs(one - other) < 0.01 for one, other in zip(kept, value, strict=True))
        return words if near else _thickness(value, "mm")

    return Field(read_thickness_range, show, tip=tip, optional=True, hint=hint)


def _thickness(value: tuple[float, float], unit: Literal["mm", "oz"]) -> str:
    low, high = (show_thickness(mm, unit) for mm in value)
    return low if low == high else f"{low.rsplit(' ', 1)[0]}-{high}"


class Choice(QComboBox):
    """A list of words to choose from; `edited` tells the key of the one chosen by hand."""

    edited = Signal(object)

    def __init__(self, words: Mapping[Any, str], *, tip: str = "") -> None:
        super().__init__()
        for key, text in words.items():
            self.addItem(text, key)
        self.setToolTip(plain_tip(tip))
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(10)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.activated.connect(lambda _: self.edited.emit(self.currentData()))

    def wheelEvent(self, event: QWheelEvent) -> None:
        """The wheel scrolls the panel; it never chooses anything on its way."""
        event.ignore()

    @property
    def value(self) -> Any:
        """The key of the chosen words."""
        return self.currentData()

    def set_value(self, key: Any) -> None:
        """Choose without telling anyone."""
        found = next((n for n in range(self.count()) if self.itemData(n) == key), -1)
        self.setCurrentIndex(found)

    def set_words(self, words: Mapping[Any, str]) -> None:
        """Put other words in the list, keeping what is chosen where it is still there."""
        if {self.itemData(n): self.itemText(n) for n in range(self.count())} == words:
            return
        chosen = self.currentData()
        self.clear()
        for key, text in words.items():
            self.addItem(text, key)
        self.set_value(chosen if chosen in words else next(iter(words), None))


def heading(words: str) -> QLabel:
    """The name of a panel."""
    return _label(words, "heading")


def section(words: str) -> QLabel:
    """The name of a part of a panel."""
    return _label(words, "section")


def soft(words: str = "") -> QLabel:
    """Words that explain."""
    return _label(words, "soft")


def _label(words: str, role: str) -> QLabel:
    label = plain_label(words)
    label.setProperty("role", role)
    label.setWordWrap(True)
    label.setIndent(0)  # a title with padding would be moved off the line of what is below it
    # A wrapped label is told how high it is at its width; without this a form cuts its last line off.
    label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.MinimumExpanding)
    return label


def set_role(label: QLabel, role: str) -> None:
    """Give a label another role (`soft`, `alarm`, `good`, `figure`)."""
    if label.property("role") != role:
        label.setProperty("role", role)
        label.style().unpolish(label)
        label.style().polish(label)


def button(
    words: str,
    action: Callable[[], object],
    *,
    tip: str = "",
    icon: str = "",
    main: bool = False,
) -> QPushButton:
    """A push button; `main` is the one thing to do next, `icon` the name of its icon."""
    made = QPushButton(words)
    made.setToolTip(plain_tip(tip))
    if main:
        made.setProperty("main", "true")
    elif icon:
        set_icon(made, icon)
    made.clicked.connect(lambda: action())
    return made


def tool_button(words: str, action: Callable[[], object], *, tip: str = "", icon: str = "") -> QToolButton:
    """A small button for a drawing tool, its icon over its word."""
    made = QToolButton()
    made.setText(words)
    made.setToolTip(plain_tip(tip))
    set_icon(made, icon)
    made.setProperty("tool", "true")
    made.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
    made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
    made.clicked.connect(lambda: action())
    return made


def mark_active(tools: Mapping[str, QAbstractButton], name: str) -> None:
    """Fill the button of the tool in use; the others lie bare."""
    for key, made in tools.items():
        made.setCheckable(True)
        made.setChecked(key == name)


def row_of(*widgets: QWidget) -> QHBoxLayout:
    """Widgets side by side."""
    row = QHBoxLayout()
    row.setSpacing(6)
    for widget in widgets:
        row.addWidget(widget)
    return row


def form(*rows: tuple[str, QWidget]) -> QFormLayout:
    """Labelled fields, one below the other."""
    made = QFormLayout()
    made.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
    made.setHorizontalSpacing(10)
    made.setVerticalSpacing(5)
    for words, widget in rows:
        label = plain_label(words)
        label.setBuddy(widget)
        widget.setAccessibleName(words)
        label.setToolTip(widget.toolTip())
        made.addRow(label, widget)
        for field in [widget] if isinstance(widget, Field) else widget.findChildren(Field):
            made.addRow(_fault_label(field))
    return made


def _fault_label(field: Field) -> QLabel:
    """What is wrong with a field, below it; not there while nothing is."""
    label = _label("", "alarm")
    label.hide()

    def show(fault: str) -> None:
        label.setText(fault)
        label.setVisible(bool(fault))

    field.fault_changed.connect(show)
    return label


ROW_HEIGHT = 26
"""Pixels a row of a list is high, so that it can be hit."""


def fit_rows(rows: QListWidget, *, most: int, least: int = 1) -> None:
    """Make a list as high as its rows need, between `least` and `most` rows; beyond these it scrolls."""
    heights = [max(rows.sizeHintForRow(number), ROW_HEIGHT) for number in range(min(rows.count(), most))]
    shown = sum(heights) + ROW_HEIGHT * max(least - len(heights), 0)
    rows.setFixedHeight(shown + 2 * rows.frameWidth() + 2)


def scrolled(layout: QVBoxLayout) -> QScrollArea:
    """A column that scrolls when the window is low."""
    inner = QWidget()
    inner.setObjectName("column")
    layout.setContentsMargins(14, 12, 14, 12)
    layout.setSpacing(7)
    inner.setLayout(layout)
    area = QScrollArea()
    area.setWidget(inner)
    area.setWidgetResizable(True)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    return area
