"""Moving pieces by hand: select, drag, turn by the handle, the wheel or the keys, and let go.

The tool of the plan and the cutting step. No Qt; whether a place is free is asked of `held_piece`, what a
finished move does to the plan is the caller's business.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from nestplan.desk.held_piece import HeldPiece, PoseCheck, angle_at
from nestplan.desk.table.tracing import OverlayShape, PointerPosition, Tool
from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import centroid
from nestplan.model.plan import Placement

__all__ = ["PlaceTool", "turned_about_middle"]

_NUDGES = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "up": (0.0, 1.0), "down": (0.0, -1.0)}


@dataclass
class PlaceTool(Tool):
    """Selects placements and moves one of them.

    `placement_at` gives the placement under the pointer; `hold` takes one up; `select` tells what is selected; `move`
    is called with a placement, its new pose and words when it is let go; `command` gets keys that mean something else
    (`l` lock, `m` turn over, `f` nearest free place, `n` the next one, `delete`) and says whether it took them.
    """

    placement_at: Callable[[PointerPosition], Placement | None]
    hold: Callable[[Placement], HeldPiece]
    select: Callable[[Sequence[Placement]], None]
    move: Callable[[Placement, Pose, str], None]
    command: Callable[[str], bool]
    slide: Callable[[], bool] = lambda: False
    movable: bool = True
    selected: tuple[Placement, ...] = ()
    held: HeldPiece | None = None
    pose: Pose | None = None
    check: PoseCheck | None = None
    _pressed_at: tuple[float, float] = (0.0, 0.0)
    _turning: bool = False
    _outlines: tuple[tuple[float, float], ...] = field(default=())

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        if self.held is not None and self.check is not None:
            return "It may lie here: let go." if self.check.free else self.check.why
        if not self.movable:
            return "Click a piece to select it; Enter marks it as cut."
        if len(self.selected) == 1:
            return (
                "Drag it; turn it by its handle or with Alt and the wheel. Arrows nudge, [ ] turn, M over, "
                "L lock, F nearest free, Del off."
            )
        return "Click a piece to select it; shift-click selects more."

    @property
    def handle(self) -> tuple[float, float] | None:
        """Where the turning handle of the selected piece is, mm."""
        if len(self.selected) != 1 or not self.movable or self._is_fixed(self.selected[0]):
            return None
        ring = self.selected[0].finished_ring
        x, _ = centroid(ring)
        return (x, float(ring[:, 1].max()) + 0.12 * float(np.ptp(ring[:, 1])) + 20.0)

    def press(self, pointer: PointerPosition) -> bool:
        handle = self.handle
        if handle is not None and math.dist(handle, pointer.at) <= 1.6 * pointer.tolerance:
            self._take_up(self.selected[0], pointer, turning=True)
            return True
        found = self.placement_at(pointer)
        if found is None:
            if not pointer.shift:
                self.select(())
            return False
        if pointer.shift:
            rest = tuple(other for other in self.selected if other is not found)
            self.select(rest if len(rest) < len(self.selected) else (*self.selected, found))
            return True
        if found not in self.selected or len(self.selected) > 1:
            self.select((found,))
        if self.movable and not self._is_fixed(found):
            self._take_up(found, pointer, turning=False)
        return True

    def drag(self, pointer: PointerPosition) -> None:
        if self.held is None:
            return
        start = self.held.moving.pose
        if self._turning:
            centre = centroid(self.held.moving.finished_ring)
            turned = angle_at(centre, self._pressed_at, pointer.at)
            self._hold(_turned(start, centre, _snapped(start.angle + turned, pointer.shift) - start.angle))
        else:
            dx, dy = pointer.at[0] - self._pressed_at[0], pointer.at[1] - self._pressed_at[1]
            if self.pose is None and math.hypot(dx, dy) < 0.4 * pointer.tolerance:
                return
            self._hold(Pose(start.x + dx, start.y + dy, start.angle, start.mirrored))

    def release(self, pointer: PointerPosition) -> None:
        held, pose, check = self.held, self.pose, self.check
        self.held = self.pose = self.check = None
        if held is None or pose is None:
            return
        if check is not None and not check.free and self.slide():
            pose = held.nearest_free(pose) or pose
        self.move(held.moving, pose, "Turn" if self._turning else "Move")

    def key(self, key: str) -> bool:
        if key == "escape":
            if self.held is not None:
                self.held = self.pose = self.check = None
                return True
            if self.selected:
                self.select(())
                return True
            return False
        step, _, plain = key.rpartition("+")
        if self.movable and self.selected and plain in _NUDGES and step in ("", "shift"):
            dx, dy = np.multiply(_NUDGES[plain], 10.0 if step else 1.0)
            for placement in self.selected:
                if not self._is_fixed(placement):
                    pose = placement.pose
                    self.move(placement, Pose(pose.x + dx, pose.y + dy, pose.angle, pose.mirrored), "Nudge")
            return True
        if key in ("[", "]", "shift+[", "shift+]", "{", "}"):
            return self.turn((15.0 if key[0] in "s{}" else 1.0) * (1.0 if key[-1] in "[{" else -1.0))
        return self.command(key)

    def turn(self, degrees: float) -> bool:
        if not self.movable or len(self.selected) != 1 or self._is_fixed(self.selected[0]):
            return False
        placement = self.selected[0]
        self.move(placement, turned_about_middle(placement, degrees), "Turn")
        return True

    def preview(self) -> tuple[OverlayShape, ...]:
        shapes: list[OverlayShape] = []
        if self.held is not None and self.pose is not None and self.check is not None:
            shapes.append(OverlayShape("good" if self.check.free else "alarm", self._outlines))
            if not self.check.free:
                shapes.append(OverlayShape("words", (self._outlines[0],), self.check.why))
            for hit in self.check.overlapped:
                shapes.append(OverlayShape("alarm", hit.cut))
            if self._turning:
                x, y = centroid(np.asarray(self._outlines))
                shapes.append(OverlayShape("words", ((x, y),), f"{self.pose.angle % 360.0:.0f}°"))
            return tuple(shapes)
        handle = self.handle
        if handle is not None:
            shapes.append(OverlayShape("line", (centroid(self.selected[0].finished_ring), handle)))
            shapes.append(OverlayShape("selected", (handle,)))
        return tuple(shapes)

    def _take_up(self, placement: Placement, pointer: PointerPosition, *, turning: bool) -> None:
        self.held, self.pose, self.check = self.hold(placement), None, None
        self._pressed_at, self._turning = pointer.at, turning

    def _hold(self, pose: Pose) -> None:
        assert self.held is not None
        self.pose = pose
        self.check = self.held.check(pose)
        _, cut = self.held.rings(pose)
        self._outlines = tuple((float(x), float(y)) for x, y in cut)

    @staticmethod
    def _is_fixed(placement: Placement) -> bool:
        return placement.locked or placement.done


def turned_about_middle(placement: Placement, degrees: float) -> Pose:
    """The placement's pose turned by `degrees` about the middle of its finished outline."""
    return _turned(placement.pose, centroid(placement.finished_ring), degrees)


def _turned(pose: Pose, centre: tuple[float, float], degrees: float) -> Pose:
    """The pose turned by `degrees` about a centre."""
    away = Pose(-centre[0], -centre[1])
    return pose.then(away).then(Pose(0.0, 0.0, degrees)).then(Pose(*centre))


def _snapped(angle: float, wanted: bool) -> float:
    return round(angle / 15.0) * 15.0 if wanted else angle
