"""The table: a view in real millimetres that zooms to the pointer, pans, and hands pointer and keys to a tool.

It shows whatever list of model records it is given and keeps items of unchanged records. What tools do is in
`tracing` and `placing`; which way y points is in `axis`.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable

from PySide6.QtCore import QEvent, QPoint, QRect, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QResizeEvent,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene, QGraphicsView, QWidget

from nestplan.desk.table import coordinates
from nestplan.desk.table.item_shapes import Area
from nestplan.desk.table.items import HideItem, PlacementItem, bounds_of, item_for
from nestplan.desk.table.overlay import (
    PlacedLabel,
    draw_keyboard_cursor,
    draw_labels,
    draw_shapes,
    fitting_labels,
    fitting_letters,
    fitting_numbers,
)
from nestplan.desk.table.piece_items import PieceItem
from nestplan.desk.table.tracing import DiscTool, PointerPosition, StrokeTool, Tool, TraceTool
from nestplan.desk.table.zooming import ARROWS, PAN_STEP, ZOOM_STEP, wheel_turn, wheel_zoom

__all__ = ["Table"]

_HIT_PIXELS = 9.0
"""By how many pixels a click may miss a point."""
_MIN_SCALE, _MAX_SCALE = 0.02, 60.0
"""Pixels a mm between which the table can be zoomed."""
_MANY_ITEMS = 150
"""From so many items on, edges are not smoothed while the view moves."""
_REST_MS = 150
"""How long the view must rest, ms, before edges are smoothed again."""

_KEY_NAMES = {"return": "enter", "esc": "escape", "del": "delete"}


class Table(QGraphicsView):
    """The view. `view_changed` tells that it was zoomed or moved, `pointer_moved` where the pointer is (mm) or None."""

    view_changed = Signal()
    pointer_moved = Signal(object)
    records_shown = Signal()
    tool_changed = Signal(object)
    released_outside = Signal(object)
    """The button comes up outside the table while a tool is at work: the point of the screen."""
    menu_requested = Signal(object, object)
    """Where the pointer is, and the same point of the screen."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setScene(QGraphicsScene(self))
        self.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
        self.setOptimizationFlag(QGraphicsView.OptimizationFlag.DontSavePainterState)
        self.setOptimizationFlag(QGraphicsView.OptimizationFlag.DontAdjustForAntialiasing)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setResizeAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.FullViewportUpdate)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMouseTracking(True)
        self.setAcceptDrops(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Table")
        self.scene().setItemIndexMethod(QGraphicsScene.ItemIndexMethod.NoIndex)
        self.scene().setSceneRect(-50_000, -50_000, 100_000, 100_000)
        self._items: dict[Hashable, tuple[object, QGraphicsItem]] = {}
        # Smooth edges cost half the time of a frame: with many pieces they wait until the view has come to rest.
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_REST_MS)
        self._rest.timeout.connect(self._draw_smooth)
        self._labels: list[PlacedLabel] | None = None  # those that fit at this zoom; None: to be found anew
        self._hidden: set[str] = set()
        self._tool: Tool = Tool()
        self._panning: QPoint | None = None
        self._keyboard_cursor: QPoint | None = None
        self._down = False
        self._fitted = False
        self._fitted_view = QTransform()
        self.covered = 0
        """Pixels at the lower edge that something lies over; what is fitted keeps off them where there is room."""

    def show_records(self, records: Iterable[tuple[Hashable, object]]) -> None:
        """Show these records, each under a key; an item stays while its record is the same object or equal."""
        self._labels = None
        wanted = dict(records)
        for key in [key for key in self._items if key not in wanted]:
            self.scene().removeItem(self._items.pop(key)[1])
        for key, record in wanted.items():
            old = self._items.get(key)
            if old is not None:
                if old[0] is record or old[0] == record:
                    continue
                self.scene().removeItem(old[1])
            item = item_for(record)
            self.scene().addItem(item)
            self._items[key] = (record, item)
            self._update_visibility(item)
        self.viewport().update()
        self.records_shown.emit()

    def rebuild(self) -> None:
        """Draw everything anew, as after a change of theme."""
        records = [(key, record) for key, (record, _) in self._items.items()]
        for _, item in self._items.values():
            self.scene().removeItem(item)
        self._items.clear()
        self.show_records(records)

    def records_of(self, kind: type) -> list[object]:
        """The records of a type that are shown."""
        return [record for record, _ in self._items.values() if isinstance(record, kind)]

    def item(self, key: Hashable) -> QGraphicsItem | None:
        """The item that draws the record under `key`."""
        return self._items[key][1] if key in self._items else None

    @property
    def hidden(self) -> frozenset[str]:
        """Layers that are not shown."""
        return frozenset(self._hidden)

    def set_layer(self, layer: str, visible: bool) -> None:
        """Show or hide a layer (a key of LAYERS)."""
        self._labels = None
        (self._hidden.discard if visible else self._hidden.add)(layer)
        for _, item in self._items.values():
            self._update_visibility(item)
        self.viewport().update()

    def _update_visibility(self, item: QGraphicsItem) -> None:
        layer = getattr(item, "layer", "outline")
        if isinstance(item, PlacementItem):
            layer = "strips" if item.shown.placement.strip else "pieces"
        item.setVisible(layer not in self._hidden)
        if isinstance(item, HideItem):
            item.show_photo("photo" not in self._hidden)
        self._rescale(item, self.pixels_per_mm)

    def _rescale(self, item: QGraphicsItem, scale: float) -> None:
        """Patterns keep their size on the screen; an overcut narrower than it can be seen is left out."""
        if isinstance(item, Area) and item.patterned:
            item.rescale(scale)
        if isinstance(item, PlacementItem) and item.overcut is not None:
            seen = scale * item.band >= 2.0 and "overcuts" not in self._hidden
            if seen != item.overcut.isVisible():
                item.overcut.setVisible(seen)

    @property
    def pixels_per_mm(self) -> float:
        """Pixels on the screen to a mm on the table."""
        return self.transform().m11()

    def _draw_fast(self) -> None:
        """The view is being moved: draw fast, and well once it rests."""
        if len(self._items) > _MANY_ITEMS:
            self.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            self._rest.start()

    def _draw_smooth(self) -> None:
        self.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._labels = None
        self.viewport().update()

    def zoom(self, factor: float, at: QPoint | None = None) -> None:
        """Magnify by `factor`, keeping the point under `at` (a pixel; by default the middle) where it is."""
        factor = min(max(self.pixels_per_mm * factor, _MIN_SCALE), _MAX_SCALE) / self.pixels_per_mm
        self._draw_fast()
        pixel = at or self.viewport().rect().center()
        before = self.mapToScene(pixel)
        self.scale(factor, factor)
        after = self.mapToScene(pixel)
        self.translate(after.x() - before.x(), after.y() - before.y())
        self._after_scale()

    def pan(self, dx: float, dy: float) -> None:
        """Move what is seen by so many pixels."""
        self._draw_fast()
        self.translate(dx / self.pixels_per_mm, dy / self.pixels_per_mm)
        self.view_changed.emit()

    def fit(self) -> None:
        """Show everything that lies on the table."""
        whole = QRectF()
        for _, item in self._items.values():
            if item.isVisible():
                whole |= bounds_of(item) if isinstance(item, PieceItem) else item.sceneBoundingRect()
        if whole.isEmpty():
            whole = QRectF(-100, -900, 1800, 1000)
        self.show_box(whole, covered=self.covered)
        self._fitted_view = self.transform()

    def show_box(self, whole: QRectF, *, covered: int = 0) -> None:
        """Show a box of the scene with some air round it, as far as there is room off the `covered` lower pixels."""
        view = self.viewport().rect()
        scale = min(
            (view.width() - 60) / max(whole.width(), 1), (view.height() - 60) / max(whole.height(), 1)
        )
        scale = min(max(scale, _MIN_SCALE), _MAX_SCALE)
        self.resetTransform()
        self.scale(scale, scale)
        free = view.height() - 60 - round(whole.height() * scale)
        now = self.mapToScene(view.center() - QPoint(0, max(0, min(free, covered)) // 2))
        self.translate(now.x() - whole.center().x(), now.y() - whole.center().y())
        self._after_scale()

    def show_area(self, box: tuple[float, float, float, float]) -> None:
        """Show a box (left, bottom, right, top; mm) with some air round it."""
        self.show_box(coordinates.scene_rect(box))

    def reveal(self, key: Hashable) -> None:
        """Bring the record under `key` into sight."""
        item = self.item(key)
        if item is not None and not self.mapToScene(self.viewport().rect()).boundingRect().contains(
            bounds_of(item)
        ):
            now = self.mapToScene(self.viewport().rect().center())
            middle = bounds_of(item).center()
            self.translate(now.x() - middle.x(), now.y() - middle.y())
            self.view_changed.emit()

    def _after_scale(self) -> None:
        self._labels = None
        scale = self.pixels_per_mm
        for _, item in self._items.values():
            self._rescale(item, scale)
        self.view_changed.emit()

    @property
    def tool(self) -> Tool:
        """The tool in use."""
        return self._tool

    def set_tool(self, tool: Tool | None) -> None:
        """Use another tool (None: one that only pans)."""
        self._tool = tool or Tool()
        self._keyboard_cursor = None
        self.show_tool_cursor()
        self.tool_changed.emit(self._tool)
        self.viewport().update()

    def pointer_at(
        self, pixel: QPoint, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
    ) -> PointerPosition:
        """Where a pixel of the viewport is on the table."""
        return PointerPosition(
            coordinates.table_point(self.mapToScene(pixel)),
            _HIT_PIXELS / self.pixels_per_mm,
            bool(modifiers & Qt.KeyboardModifier.ShiftModifier),
            bool(modifiers & Qt.KeyboardModifier.ControlModifier),
        )

    def pixel_at(self, at: tuple[float, float]) -> QPoint:
        """The pixel of the viewport at which a point of the table (mm) is seen."""
        return self.mapFromScene(coordinates.scene_point(at))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        pointer = self.pointer_at(event.position().toPoint(), event.modifiers())
        if event.button() == Qt.MouseButton.LeftButton and self._tool.press(pointer):
            self._down = True
        elif event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self._panning = event.position().toPoint()
            self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
        self._tool_updated()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        pixel = event.position().toPoint()
        pointer = self.pointer_at(pixel, event.modifiers())
        if self._panning is not None:
            self.pan(pixel.x() - self._panning.x(), pixel.y() - self._panning.y())
            self._panning = pixel
        elif self._down:
            self._tool.drag(pointer)
            self._tool_updated()
        else:
            self._tool.hover(pointer)
            self.viewport().update()
        self.pointer_moved.emit(pointer.at)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._panning is not None:
            self._panning = None
            self.show_tool_cursor()
        elif self._down and event.button() == Qt.MouseButton.LeftButton:
            self._down = False
            if not self.viewport().rect().contains(event.position().toPoint()):
                self.released_outside.emit(event.globalPosition().toPoint())
            self._tool.release(self.pointer_at(event.position().toPoint(), event.modifiers()))
        self._tool_updated()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        pointer = self.pointer_at(event.position().toPoint(), event.modifiers())
        if event.button() != Qt.MouseButton.LeftButton or not self._tool.double_click(pointer):
            self.mousePressEvent(event)
        self._tool_updated()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        self.menu_requested.emit(self.pointer_at(event.pos()), event.globalPos())

    def wheelEvent(self, event: QWheelEvent) -> None:
        turning = event.modifiers() & Qt.KeyboardModifier.AltModifier
        step = (15.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0) * (
            1 if wheel_turn(event) > 0 else -1
        )
        if turning and self._tool.turn(step):
            self._tool_updated()
        else:
            self.zoom(wheel_zoom(event), event.position().toPoint())
        event.accept()

    def event(self, event: QEvent) -> bool:
        # While something is half drawn the table keeps the keys of Undo from the menu.
        if event.type() == QEvent.Type.ShortcutOverride and self._tool.unfinished and _is_undo(event):
            event.accept()
            return True
        return super().event(event)

    def undo_drawing(self) -> bool:
        """Take back the last part of what is half drawn. Whether there was any."""
        taken = self._tool.unfinished and self._tool.undo()
        if taken:
            self._tool_updated()
        return taken

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if _is_undo(event) and self.undo_drawing():
            return
        name = QKeySequence(event.keyCombination()).toString().lower()
        if self._tool.key(_KEY_NAMES.get(name, name)):
            self._tool_updated()
        elif event.key() in ARROWS:
            self._move_keyboard_cursor(event)
        elif event.key() == Qt.Key.Key_Space and self._keyboard_cursor is not None:
            self._tool.press(self.pointer_at(self._keyboard_cursor, event.modifiers()))
            self._tool.release(self.pointer_at(self._keyboard_cursor, event.modifiers()))
            self._tool_updated()
        elif event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(ZOOM_STEP)
        elif event.key() == Qt.Key.Key_Minus:
            self.zoom(1 / ZOOM_STEP)
        else:
            super().keyPressEvent(event)

    def _move_keyboard_cursor(self, event: QKeyEvent) -> None:
        """With no mouse, arrows move a pen over the table (Ctrl: the table itself) and Space presses it down."""
        dx, dy = ARROWS[Qt.Key(event.key())]
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.pan(-PAN_STEP * dx, -PAN_STEP * dy)
            return
        step = 1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 10
        at = self._keyboard_cursor or self.viewport().rect().center()
        self._keyboard_cursor = QPoint(at.x() + step * dx, at.y() + step * dy)
        pointer = self.pointer_at(self._keyboard_cursor)
        self._tool.hover(pointer)
        self.pointer_moved.emit(pointer.at)
        self.viewport().update()

    def show_tool_cursor(self) -> None:
        """Show the pointer that goes with the tool."""
        drawing = isinstance(self._tool, TraceTool | DiscTool | StrokeTool)
        self.viewport().setCursor(Qt.CursorShape.CrossCursor if drawing else Qt.CursorShape.ArrowCursor)

    def _tool_updated(self) -> None:
        self.tool_changed.emit(self._tool)
        self.viewport().update()

    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        if self._labels is None:
            self._labels = self._fitting_labels()
        draw_labels(painter, self, self._labels)
        draw_shapes(painter, self, self._tool.preview())
        if self._keyboard_cursor is not None:
            draw_keyboard_cursor(painter, self._keyboard_cursor)

    def _fitting_labels(self) -> list[PlacedLabel]:
        """The letters of the flaws and the names, where they fit at this zoom."""
        items, scale = [item for _, item in self._items.values()], self.pixels_per_mm
        moving = self._rest.isActive()
        letters = [*fitting_letters(items, scale, moving=moving), *fitting_numbers(items, scale)]
        if "names" in self._hidden:
            return letters
        return [*fitting_labels(items, scale, letters, moving=moving), *letters]

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # What was shown whole stays whole when the window grows or shrinks, until the user moves the view.
        if self._items and (not self._fitted or self.transform() == self._fitted_view):
            self._fitted = True
            self.fit()
        self.view_changed.emit()

    def leaveEvent(self, event: QEvent) -> None:
        self.pointer_moved.emit(None)
        super().leaveEvent(event)


def _is_undo(event: QEvent) -> bool:
    return isinstance(event, QKeyEvent) and event.matches(QKeySequence.StandardKey.Undo)
