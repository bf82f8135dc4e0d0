"""The table: a view in real millimetres that zooms to the pointer, pans, and hands pointer and keys to a tool.

It shows whatever list of model records it is given and keeps items of unchanged records. What tools do is in
`tracing` and `placing`; which way y points is in `axis`.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable

from PySide6.QtCore import QEvent, QPoint, QRect, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QCursor,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QResizeEvent,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene, QGraphicsView, QWidget

from nestplan.desk.table import axis
from nestplan.desk.table.item_shapes import Area, Name
from nestplan.desk.table.items import LaidItem, bounds_of, item_for
from nestplan.desk.table.overlay import draw_names, draw_pen, draw_shapes, names_at
from nestplan.desk.table.piece_items import DrawnItem
from nestplan.desk.table.tracing import DiscTool, Spot, StrokeTool, Tool, TraceTool

__all__ = ["Table"]

#: Pixels by which a hand may miss a point.
_REACH = 9.0
_LEAST, _MOST = 0.02, 60.0
#: From so many things on the table edges are not smoothed while it moves, and so long after, ms.
_MANY = 150
_REST_MS = 150

_NAMES = {"return": "enter", "esc": "escape", "del": "delete"}
_ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


class Table(QGraphicsView):
    """The view. `scaled` tells pixels a mm and where the view begins, `pointed` where the pointer is (mm)."""

    scaled = Signal()
    pointed = Signal(object)
    tool_changed = Signal(object)
    menu_wanted = Signal(object, object)  # Spot, global QPoint

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
        self._rest.timeout.connect(self._smooth)
        self._names: list[Name] | None = None  # those that fit at this zoom; None: to be found anew
        self._hidden: set[str] = set()
        self._tool: Tool = Tool()
        self._panning: QPoint | None = None
        self._pen_at: QPoint | None = None
        self._down = False
        self._fitted = False
        self._seen_whole = QTransform()

    def show_things(self, things: Iterable[tuple[Hashable, object]]) -> None:
        """Show these records, each under a key; an item stays while its record is the same object or equal."""
        self._names = None
        wanted = dict(things)
        for key in [key for key in self._items if key not in wanted]:
            self.scene().removeItem(self._items.pop(key)[1])
        for key, thing in wanted.items():
            old = self._items.get(key)
            if old is not None:
                if old[0] is thing or old[0] == thing:
                    continue
                self.scene().removeItem(old[1])
            item = item_for(thing)
            self.scene().addItem(item)
            self._items[key] = (thing, item)
            self._dress(item)
        self.viewport().update()

    def rebuild(self) -> None:
        """Draw everything anew, as after a change of look."""
        things = [(key, thing) for key, (thing, _) in self._items.items()]
        for _, item in self._items.values():
            self.scene().removeItem(item)
        self._items.clear()
        self.show_things(things)

    def shown(self, kind: type) -> list[object]:
        """The records of a type that are shown."""
        return [thing for thing, _ in self._items.values() if isinstance(thing, kind)]

    def item(self, key: Hashable) -> QGraphicsItem | None:
        """The item that draws the record under `key`."""
        return self._items[key][1] if key in self._items else None

    @property
    def hidden(self) -> frozenset[str]:
        """Layers that are not shown."""
        return frozenset(self._hidden)

    def set_layer(self, layer: str, visible: bool) -> None:
        """Show or hide a layer (a key of LAYERS)."""
        self._names = None
        (self._hidden.discard if visible else self._hidden.add)(layer)
        for _, item in self._items.values():
            self._dress(item)
        self.viewport().update()

    def _dress(self, item: QGraphicsItem) -> None:
        layer = getattr(item, "layer", "outline")
        if isinstance(item, LaidItem):
            layer = "strips" if item.laid.placement.strip else "pieces"
        item.setVisible(layer not in self._hidden)
        self._rescale(item, self.scale_now)

    def _rescale(self, item: QGraphicsItem, scale: float) -> None:
        """Patterns keep their size on the screen; an overcut narrower than it can be seen is left out."""
        if isinstance(item, Area) and item.patterned:
            item.rescale(scale)
        if isinstance(item, LaidItem) and item.overcut is not None:
            seen = scale * item.band >= 2.0 and "overcuts" not in self._hidden
            if seen != item.overcut.isVisible():
                item.overcut.setVisible(seen)

    @property
    def scale_now(self) -> float:
        """Pixels on the screen to a mm on the table."""
        return self.transform().m11()

    def _hurry(self) -> None:
        """The view is being moved: draw fast, and well once it rests."""
        if len(self._items) > _MANY:
            self.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            self._rest.start()

    def _smooth(self) -> None:
        self.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self.viewport().update()

    def zoom(self, factor: float, at: QPoint | None = None) -> None:
        """Magnify by `factor`, keeping the spot under `at` (a pixel; by default the middle) where it is."""
        factor = min(max(self.scale_now * factor, _LEAST), _MOST) / self.scale_now
        self._hurry()
        pixel = at or self.viewport().rect().center()
        before = self.mapToScene(pixel)
        self.scale(factor, factor)
        after = self.mapToScene(pixel)
        self.translate(after.x() - before.x(), after.y() - before.y())
        self._after_scale()

    def pan(self, dx: float, dy: float) -> None:
        """Move what is seen by so many pixels."""
        self._hurry()
        self.translate(dx / self.scale_now, dy / self.scale_now)
        self.scaled.emit()

    def fit(self) -> None:
        """Show everything that lies on the table."""
        whole = QRectF()
        for _, item in self._items.values():
            if item.isVisible():
                whole |= bounds_of(item) if isinstance(item, DrawnItem) else item.sceneBoundingRect()
        if whole.isEmpty():
            whole = QRectF(-100, -900, 1800, 1000)
        self.show_box(whole)
        self._seen_whole = self.transform()

    def show_box(self, whole: QRectF) -> None:
        """Show a box of the scene with some air round it."""
        view = self.viewport().rect()
        scale = min(
            (view.width() - 60) / max(whole.width(), 1), (view.height() - 60) / max(whole.height(), 1)
        )
        scale = min(max(scale, _LEAST), _MOST)
        self.resetTransform()
        self.scale(scale, scale)
        now = self.mapToScene(view.center())
        self.translate(now.x() - whole.center().x(), now.y() - whole.center().y())
        self._after_scale()

    def reveal(self, key: Hashable) -> None:
        """Bring the record under `key` into sight."""
        item = self.item(key)
        if item is not None and not self.mapToScene(self.viewport().rect()).boundingRect().contains(
            bounds_of(item)
        ):
            now = self.mapToScene(self.viewport().rect().center())
            middle = bounds_of(item).center()
            self.translate(now.x() - middle.x(), now.y() - middle.y())
            self.scaled.emit()

    def _after_scale(self) -> None:
        self._names = None
        scale = self.scale_now
        for _, item in self._items.values():
            self._rescale(item, scale)
        self.scaled.emit()

    @property
    def tool(self) -> Tool:
        """What the hand holds."""
        return self._tool

    def set_tool(self, tool: Tool | None) -> None:
        """Take another tool in the hand (None: the bare hand, which only pans)."""
        self._tool = tool or Tool()
        self._pen_at = None
        self.set_cursor_of_tool()
        self.tool_changed.emit(self._tool)
        self.viewport().update()

    def spot_at(self, pixel: QPoint, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> Spot:
        """Where a pixel of the viewport is on the table."""
        return Spot(
            axis.spot(self.mapToScene(pixel)),
            _REACH / self.scale_now,
            bool(modifiers & Qt.KeyboardModifier.ShiftModifier),
            bool(modifiers & Qt.KeyboardModifier.ControlModifier),
        )

    def pixel_at(self, at: tuple[float, float]) -> QPoint:
        """The pixel of the viewport at which a spot of the table (mm) is seen."""
        return self.mapFromScene(axis.scene_point(at))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        spot = self.spot_at(event.position().toPoint(), event.modifiers())
        if event.button() == Qt.MouseButton.LeftButton and self._tool.press(spot):
            self._down = True
        elif event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self._panning = event.position().toPoint()
            self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
        self._told_tool()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        pixel = event.position().toPoint()
        spot = self.spot_at(pixel, event.modifiers())
        if self._panning is not None:
            self.pan(pixel.x() - self._panning.x(), pixel.y() - self._panning.y())
            self._panning = pixel
        elif self._down:
            self._tool.drag(spot)
            self._told_tool()
        else:
            self._tool.hover(spot)
            self.viewport().update()
        self.pointed.emit(spot.at)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._panning is not None:
            self._panning = None
            self.set_cursor_of_tool()
        elif self._down and event.button() == Qt.MouseButton.LeftButton:
            self._down = False
            self._tool.release(self.spot_at(event.position().toPoint(), event.modifiers()))
        self._told_tool()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        spot = self.spot_at(event.position().toPoint(), event.modifiers())
        if event.button() != Qt.MouseButton.LeftButton or not self._tool.double(spot):
            self.mousePressEvent(event)
        self._told_tool()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        self.menu_wanted.emit(self.spot_at(event.pos()), event.globalPos())

    def wheelEvent(self, event: QWheelEvent) -> None:
        delta = event.angleDelta().y() or event.angleDelta().x()
        turning = event.modifiers() & Qt.KeyboardModifier.AltModifier
        step = (15.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0) * (
            1 if delta > 0 else -1
        )
        if turning and self._tool.turn(step):
            self._told_tool()
        else:
            self.zoom(1.0015**delta, event.position().toPoint())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        name = QKeySequence(event.keyCombination()).toString().lower()
        if self._tool.key(_NAMES.get(name, name)):
            self._told_tool()
        elif event.key() in _ARROWS:
            self._move_pen(event)
        elif event.key() == Qt.Key.Key_Space and self._pen_at is not None:
            self._tool.press(self.spot_at(self._pen_at, event.modifiers()))
            self._tool.release(self.spot_at(self._pen_at, event.modifiers()))
            self._told_tool()
        elif event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(1.25)
        elif event.key() == Qt.Key.Key_Minus:
            self.zoom(0.8)
        else:
            super().keyPressEvent(event)

    def _move_pen(self, event: QKeyEvent) -> None:
        """With no mouse, arrows move a pen over the table (Ctrl: the table itself) and Space presses it down."""
        dx, dy = _ARROWS[Qt.Key(event.key())]
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.pan(-60 * dx, -60 * dy)
            return
        step = 1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 10
        at = self._pen_at or self.viewport().rect().center()
        self._pen_at = QPoint(at.x() + step * dx, at.y() + step * dy)
        spot = self.spot_at(self._pen_at)
        self._tool.hover(spot)
        self.pointed.emit(spot.at)
        self.viewport().update()

    def set_cursor_of_tool(self) -> None:
        """Show the pointer that goes with the tool."""
        drawing = isinstance(self._tool, TraceTool | DiscTool | StrokeTool)
        self.viewport().setCursor(Qt.CursorShape.CrossCursor if drawing else Qt.CursorShape.ArrowCursor)

    def _told_tool(self) -> None:
        self.tool_changed.emit(self._tool)
        self.viewport().update()

    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        if "names" not in self._hidden:
            if self._names is None:
                self._names = names_at((item for _, item in self._items.values()), self.scale_now)
            draw_names(painter, self, self._names)
        draw_shapes(painter, self, self._tool.preview())
        if self._pen_at is not None:
            draw_pen(painter, self._pen_at)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # What was shown whole stays whole when the window grows or shrinks, until the hand moves the view.
        if self._items and (not self._fitted or self.transform() == self._seen_whole):
            self._fitted = True
            self.fit()
        self.scaled.emit()

    def leaveEvent(self, event: QEvent) -> None:
        self.pointed.emit(None)
        super().leaveEvent(event)

    def pointer_spot(self) -> Spot | None:
        """Where the pointer is, if it is over the table."""
        pixel = self.viewport().mapFromGlobal(QCursor.pos())
        return self.spot_at(pixel) if self.viewport().rect().contains(pixel) else None
