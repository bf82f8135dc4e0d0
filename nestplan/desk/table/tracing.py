"""Drawing on the table: outlines traced or drawn freehand, discs, strokes, and the points of a ring.

Each tool is told where the pointer is in mm and says what it would draw; when a shape is finished it calls
back. No Qt here, and nothing of hides or pieces: `canvas` turns events into calls, the editors decide what a
finished shape means. Moving pieces of a plan is in `placing`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.reshape import (
    nearest_spot,
    smoothed,
    straightened,
    thinned,
    with_point,
    without_points,
)

__all__ = ["DiscTool", "OverlayShape", "PointerPosition", "PointsTool", "StrokeTool", "Tool", "TraceTool"]

Ring = NDArray[np.float64]


@dataclass(frozen=True)
class PointerPosition:
    """Where the pointer is: mm on the table, how far a click may miss at this zoom (mm), and which keys are held."""

    at: tuple[float, float]
    tolerance: float = 5.0
    shift: bool = False
    control: bool = False

    def near(self, other: tuple[float, float]) -> bool:
        """Whether the pointer is on `other`."""
        return math.dist(self.at, other) <= self.tolerance


@dataclass(frozen=True)
class OverlayShape:
    """Something to draw over the table while a tool works: a line, a closed area, handles, or words at a point."""

    kind: Literal["line", "area", "good", "alarm", "handles", "selected", "words"]
    points: tuple[tuple[float, float], ...]
    words: str = ""


class Tool:
    """What every tool answers to. `hint` tells the worker what to do next."""

    hint = ""

    def press(self, pointer: PointerPosition) -> bool:
        """The button goes down. Whether the tool takes it; if not, the table may pan."""
        return False

    def drag(self, pointer: PointerPosition) -> None:
        """The pointer moves with the button down."""

    def hover(self, pointer: PointerPosition) -> None:
        """The pointer moves with no button down."""

    def release(self, pointer: PointerPosition) -> None:
        """The button comes up."""

    def double_click(self, pointer: PointerPosition) -> bool:
        """A second click came at once."""
        return False

    def key(self, key: str) -> bool:
        """A key was pressed (`enter`, `escape`, `delete`, `s`, `shift+left` …). Whether the tool took it."""
        return False

    def turn(self, degrees: float) -> bool:
        """The wheel was turned with Alt held. Whether the tool took it."""
        return False

    def preview(self) -> tuple[OverlayShape, ...]:
        """What to draw over the table now."""
        return ()

    @property
    def unfinished(self) -> bool:
        """Whether something has been drawn that is not handed on yet."""
        return False

    def undo(self) -> bool:
        """Take back the last part of what is unfinished. Whether there was one."""
        return False


@dataclass
class TraceTool(Tool):
    """A line point by point (click) or freehand (hold and draw); closed where it comes back to its start.

    `done` gets the points, mm. Freehand strokes are thinned to half a millimetre or half the pointer's tolerance. Where
    `label` is given its text, made of the points so far, stands beside the pointer.
    """

    done: Callable[[tuple[tuple[float, float], ...]], None]
    closed: bool = True
    cancelled: Callable[[], None] | None = None
    label: Callable[[tuple[tuple[float, float], ...]], str] | None = None
    points: list[tuple[float, float]] = field(default_factory=list)
    at: tuple[float, float] | None = None
    _stroke: list[tuple[float, float]] | None = None
    _undo_lengths: list[int] = field(default_factory=list)

    @property
    def unfinished(self) -> bool:
        return bool(self.points)

    def undo(self) -> bool:
        if not self.points:
            return False
        while len(self._undo_lengths) > 1 and self._undo_lengths[-1] >= len(self.points):
            self._undo_lengths.pop()
        del self.points[self._undo_lengths.pop() if self._undo_lengths else -1 :]
        self._stroke = None
        return True

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        how = "Click from point to point, or hold and draw."
        if self.closed and len(self.points) >= 3:
            return f"{how} Enter or the first point closes it; Backspace goes back."
        if not self.closed and len(self.points) >= 2:
            return f"{how} Enter or a double click ends it; Backspace goes back."
        return f"{how} Esc leaves it."

    def press(self, pointer: PointerPosition) -> bool:
        if self.closed and len(self.points) >= 3 and pointer.near(self.points[0]):
            self._finish()
            return True
        self._undo_lengths.append(len(self.points))
        self.points.append(pointer.at)
        self._stroke = [pointer.at]
        self.at = pointer.at
        return True

    def drag(self, pointer: PointerPosition) -> None:
        self.at = pointer.at
        if self._stroke is not None and math.dist(self._stroke[-1], pointer.at) >= 0.25 * pointer.tolerance:
            self._stroke.append(pointer.at)

    def hover(self, pointer: PointerPosition) -> None:
        self.at = pointer.at

    def release(self, pointer: PointerPosition) -> None:
        stroke, self._stroke = self._stroke, None
        if stroke is None:
            return
        drawn_at_once = not self.closed and len(self.points) == 1
        # A pointer that shakes on a click draws no freehand stroke.
        if len(stroke) < 4:
            if drawn_at_once and not pointer.near(stroke[0]):
                self.points.append(pointer.at)
                self._finish()
            return
        thin = thinned(np.asarray(stroke), max(0.5, 0.25 * pointer.tolerance))
        self.points.extend((float(x), float(y)) for x, y in thin[1:])
        if self.closed and len(self.points) > 8 and pointer.near(self.points[0]):
            self.points.pop()
            self._finish()
        elif drawn_at_once:
            self._finish()

    def double_click(self, pointer: PointerPosition) -> bool:
        return self.key("enter")

    def key(self, key: str) -> bool:
        if key == "enter":
            if len(self.points) >= (3 if self.closed else 2):
                self._finish()
            return True
        if key == "backspace" and self.points:
            self.points.pop()
            return True
        if key == "escape":
            self.points.clear()
            self._undo_lengths.clear()
            if self.cancelled is not None:
                self.cancelled()
            return True
        return False

    def preview(self) -> tuple[OverlayShape, ...]:
        line = [*self.points, *(self._stroke or [])[1:]]
        if self.at is not None and line and self._stroke is None:
            line.append(self.at)
        shapes = [OverlayShape("line", tuple(line)), OverlayShape("handles", tuple(self.points[-400:]))]
        if self.label is not None and len(line) >= 3:
            shapes.append(OverlayShape("words", (line[-1],), self.label(tuple(line))))
        return tuple(shapes)

    def _finish(self) -> None:
        points = tuple(self.points)
        self.points.clear()
        self._undo_lengths.clear()
        self.at = None
        self.done(points)


@dataclass
class DiscTool(Tool):
    """A disc: press at its middle, draw out to its edge, let go. `done` gets the centre and the diameter, mm."""

    done: Callable[[tuple[float, float], float], None]
    cancelled: Callable[[], None] | None = None
    centre: tuple[float, float] | None = None
    radius: float = 0.0
    hint = "Press in the middle of the spot, draw out to its edge and let go."

    def press(self, pointer: PointerPosition) -> bool:
        self.centre, self.radius = pointer.at, 0.0
        return True

    def drag(self, pointer: PointerPosition) -> None:
        if self.centre is not None:
            self.radius = math.dist(self.centre, pointer.at)

    def release(self, pointer: PointerPosition) -> None:
        centre, self.centre = self.centre, None
        if centre is None:
            return
        # A single click makes a disc as wide as the pointer's tolerance, to be sized by its figure.
        self.done(
            centre,
            2.0 * max(self.radius, 0.0) if self.radius > 0.3 * pointer.tolerance else 2.0 * pointer.tolerance,
        )

    def key(self, key: str) -> bool:
        if key != "escape":
            return False
        self.centre = None
        if self.cancelled is not None:
            self.cancelled()
        return True

    def preview(self) -> tuple[OverlayShape, ...]:
        if self.centre is None or self.radius <= 0:
            return ()
        x, y = self.centre
        steps = np.linspace(0, 2 * math.pi, 48, endpoint=False)
        ring = tuple((x + self.radius * math.cos(t), y + self.radius * math.sin(t)) for t in steps)
        return (OverlayShape("area", ring), OverlayShape("words", ((x, y),), f"⌀ {2 * self.radius:.0f} mm"))


@dataclass
class StrokeTool(Tool):
    """One straight stroke from press to release: a backbone, a direction, a measurement.

    `done` gets both ends, mm. With shift held the stroke keeps to steps of 15 degrees. Where `label` is given
    its text stands beside the stroke; where `stays` is set strokes stay in sight until Backspace takes the last one
    away or Esc all of them.
    """

    done: Callable[[tuple[float, float], tuple[float, float]], None]
    label: Callable[[tuple[float, float], tuple[float, float]], str] | None = None
    stays: bool = False
    cancelled: Callable[[], None] | None = None
    hint: str = "Press at one end, draw to the other and let go. Shift keeps to 15° steps."
    start: tuple[float, float] | None = None
    end: tuple[float, float] | None = None
    kept: list[tuple[tuple[float, float], tuple[float, float]]] = field(default_factory=list)
    _down: bool = False

    def press(self, pointer: PointerPosition) -> bool:
        self.start, self.end, self._down = pointer.at, pointer.at, True
        return True

    def drag(self, pointer: PointerPosition) -> None:
        if self.start is not None and self._down:
            self.end = _snapped(self.start, pointer.at) if pointer.shift else pointer.at

    def release(self, pointer: PointerPosition) -> None:
        self._down = False
        if (
            self.start is None
            or self.end is None
            or math.dist(self.start, self.end) < 0.2 * pointer.tolerance
        ):
            self.start = self.end = None
            return
        start, end = self.start, self.end
        self.start = self.end = None
        if self.stays:
            self.kept.append((start, end))
        self.done(start, end)

    def key(self, key: str) -> bool:
        if key in ("backspace", "delete") and self.kept:
            self.kept.pop()
            return True
        if key != "escape":
            return False
        self.start = self.end = None
        if self.kept:
            self.kept.clear()
            return True
        if self.cancelled is not None:
            self.cancelled()
        return True

    def preview(self) -> tuple[OverlayShape, ...]:
        now = [(self.start, self.end)] if self.start is not None and self.end is not None else []
        shapes = []
        for start, end in (*self.kept, *now):
            shapes += [OverlayShape("line", (start, end)), OverlayShape("handles", (start, end))]
            if self.label is not None and start != end:
                middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
                shapes.append(OverlayShape("words", (middle,), self.label(start, end)))
        return tuple(shapes)


@dataclass
class PointsTool(Tool):
    """The points of a ring: drag them, add on an edge (double click), take out (Delete), smooth (S), straighten (T).

    Click selects a point, shift-click adds to the selected ones. `changed` gets the new ring (n, 2), mm, and what
    was done; the ring is taken as `changed` returns it, or stays where that refuses it by returning None.
    """

    ring: Ring
    changed: Callable[[Ring, str], Ring | None]
    cancelled: Callable[[], None] | None = None
    selected: set[int] = field(default_factory=set)
    hovered: tuple[float, float] | None = None
    hint = (
        "Drag a point. Double click on the edge adds one; shift-click selects more. "
        "Del takes out, S smooths, T straightens."
    )
    _moving: Ring | None = None
    _pressed_at: tuple[float, float] = (0.0, 0.0)

    def take(self, ring: Ring) -> None:
        """Go on with the ring as it is now, after undo or another change: nothing is held or selected any more."""
        self.ring, self._moving, self.hovered = ring, None, None
        self.selected.clear()

    def press(self, pointer: PointerPosition) -> bool:
        point = self._point_at(pointer)
        if point is None:
            if not pointer.shift:
                self.selected.clear()
            return False
        if pointer.shift:
            self.selected ^= {point}
        elif point not in self.selected:
            self.selected = {point}
        self._moving, self._pressed_at = self.ring.copy(), pointer.at
        return True

    def drag(self, pointer: PointerPosition) -> None:
        if self._moving is None or not self.selected:
            return
        chosen = sorted(self.selected)
        self._moving[chosen] = self.ring[chosen] + np.subtract(pointer.at, self._pressed_at)

    def release(self, pointer: PointerPosition) -> None:
        moved, self._moving = self._moving, None
        if moved is not None and not np.array_equal(moved, self.ring):
            self._change(moved, "Move points")

    def hover(self, pointer: PointerPosition) -> None:
        _, nearest, distance = nearest_spot(self.ring, pointer.at)
        self.hovered = (
            nearest if distance <= 2 * pointer.tolerance and self._point_at(pointer) is None else None
        )

    def double_click(self, pointer: PointerPosition) -> bool:
        edge, at, distance = nearest_spot(self.ring, pointer.at)
        if distance > 2 * pointer.tolerance or self._point_at(pointer) is not None:
            return False
        if self._change(with_point(self.ring, edge, at), "Add a point"):
            self.selected = {edge + 1}
        return True

    def key(self, key: str) -> bool:
        if key in ("delete", "backspace") and self.selected:
            if self._change(without_points(self.ring, self.selected), "Take points out"):
                self.selected.clear()
            return True
        if key == "s":
            self._change(smoothed(self.ring, self.selected or None), "Smooth the edge")
            return True
        if key == "t" and len(self.selected) >= 2:
            if self._change(straightened(self.ring, self.selected), "Straighten the edge"):
                self.selected.clear()
            return True
        if key == "escape":
            if self.selected:
                self.selected.clear()
            elif self.cancelled is not None:
                self.cancelled()
            return True
        return False

    def preview(self) -> tuple[OverlayShape, ...]:
        ring = self.ring if self._moving is None else self._moving
        points = tuple((float(x), float(y)) for x, y in ring)
        shapes = [OverlayShape("area", points), OverlayShape("handles", points)]
        if self.selected:
            shapes.append(OverlayShape("selected", tuple(points[number] for number in sorted(self.selected))))
        if self.hovered is not None:
            shapes.append(OverlayShape("handles", (self.hovered,)))
        return tuple(shapes)

    def _point_at(self, pointer: PointerPosition) -> int | None:
        distance = np.hypot(*(self.ring - np.asarray(pointer.at)).T)
        nearest = int(distance.argmin())
        return nearest if distance[nearest] <= pointer.tolerance else None

    def _change(self, ring: Ring, what: str) -> bool:
        count, chosen = len(self.ring), set(self.selected)
        taken = self.changed(ring, what)
        if taken is None:
            return False
        self.take(taken)
        if len(taken) == count:
            self.selected = chosen
        return True


def _snapped(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    angle = round(math.atan2(end[1] - start[1], end[0] - start[0]) / math.radians(15)) * math.radians(15)
    length = math.dist(start, end)
    return (start[0] + length * math.cos(angle), start[1] + length * math.sin(angle))
