"""What is wrong with the layout of a window as it is shown: words cut off, widgets on each other, targets too small."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, QSize
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QCheckBox,
    QComboBox,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QScrollBar,
    QToolButton,
    QWidget,
)

LEAST_TARGET = 24
"""Pixels a target of the pointer must measure at least (WCAG 2.2, success criterion 2.5.8)."""


def layout_faults(window: QWidget) -> list[str]:
    """Every fault of what is shown now, in words."""
    return [*cut_off(window), *overlapping(window), *too_small(window)]


def shown(window: QWidget, kind: type) -> Iterator[QWidget]:
    """The widgets of a kind that can be seen, or scrolled to."""
    for widget in window.findChildren(kind):
        if widget.isVisible() and widget.window() is window:
            yield widget


def cut_off(window: QWidget) -> Iterator[str]:
    """Words for which their label, button, field or list has no room, and columns wider than what shows them."""
    for label in shown(window, QLabel):
        if label.text() and label.pixmap().isNull():
            yield from _label_faults(label)
    for made in shown(window, QAbstractButton):
        lines = _lines(made, made.text())
        if lines.width() > made.width() or lines.height() > made.height():
            yield f"button cut off: {made.text()!r} needs {lines}, has {made.size()}"
    yield from _field_faults(window)
    for area in shown(window, QScrollArea):
        if area.widget() is not None and area.widget().width() > area.viewport().width():
            yield f"column of {area.widget().width()} px in {area.viewport().width()} px"


def _field_faults(window: QWidget) -> Iterator[str]:
    for field in shown(window, QLineEdit):
        words = field.placeholderText() if not field.text() else ""
        if words and QFontMetrics(field.font()).horizontalAdvance(words) > field.width() - 12:
            yield f"example cut off: {words!r} in {field.width()} px"
    for choice in shown(window, QComboBox):
        if QFontMetrics(choice.font()).horizontalAdvance(choice.currentText()) > choice.width() - 30:
            yield f"choice cut off: {choice.currentText()!r} in {choice.width()} px"


def _label_faults(label: QLabel) -> Iterator[str]:
    if label.wordWrap():
        needed = label.heightForWidth(label.width())
        longest = max(
            QFontMetrics(label.font()).horizontalAdvance(word) for word in label.text().split() or [""]
        )
        if needed > label.height() + 1 or longest > label.width():
            yield f"words cut off: {label.text()!r} needs {needed} px, has {label.height()} ({label.width()} wide)"
        return
    lines = _lines(label, label.text())
    if lines.width() > label.width() or lines.height() > label.height() + 2:
        yield f"words cut off: {label.text()!r} needs {lines}, has {label.size()}"


def _lines(widget: QWidget, words: str) -> QSize:
    metrics = QFontMetrics(widget.font())
    lines = words.replace("&", "").split("\n")
    return QSize(max(map(metrics.horizontalAdvance, lines)), metrics.height() * len(lines))


def overlapping(window: QWidget) -> Iterator[str]:
    """Pairs of widgets beside each other that lie on each other."""
    kinds = (QLabel, QAbstractButton, QLineEdit, QComboBox)
    for parent in {widget.parentWidget() for kind in kinds for widget in shown(window, kind)}:
        if parent is None or isinstance(parent, QComboBox | QLineEdit | QScrollBar):
            continue
        beside = [
            child
            for child in parent.findChildren(QWidget)
            if child.parentWidget() is parent and child.isVisible() and isinstance(child, kinds)
        ]
        for number, one in enumerate(beside):
            for other in beside[number + 1 :]:
                common = one.geometry().intersected(other.geometry())
                if common.width() > 1 and common.height() > 1:
                    yield f"{_name(one)} lies on {_name(other)}"


def too_small(window: QWidget) -> Iterator[str]:
    """Targets of the pointer smaller than they may be."""
    for kind in (QPushButton, QToolButton, QComboBox, QLineEdit, QCheckBox):
        for widget in shown(window, kind):
            if isinstance(widget.parentWidget(), QComboBox | QLineEdit) or not widget.isEnabled():
                continue
            if widget.height() < LEAST_TARGET or widget.width() < LEAST_TARGET:
                yield f"target too small: {_name(widget)} is {widget.size()}"


def out_of_window(window: QWidget) -> list[str]:
    """Widgets that reach out of the window and cannot be scrolled to."""
    room = QRect(QPoint(0, 0), window.size())
    found = []
    for widget in shown(window, QWidget):
        if widget.isWindow() or _scrolled(widget):
            continue
        box = QRect(widget.mapTo(window, QPoint(0, 0)), widget.size())
        if not room.contains(box):
            found.append(f"{_name(widget)} at {box} is out of {room}")
    return found


def _scrolled(widget: QWidget) -> bool:
    parent = widget.parentWidget()
    while parent is not None:
        if isinstance(parent, QAbstractScrollArea):
            return True
        parent = parent.parentWidget()
    return False


def _name(widget: QWidget) -> str:
    words = getattr(widget, "text", lambda: "")() or widget.accessibleName() or widget.objectName()
    return f"{type(widget).__name__} {words!r}"
