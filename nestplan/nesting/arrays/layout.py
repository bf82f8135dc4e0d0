"""The state of a search: a problem packed for the kernels, and where its items lie at the moment.

How to use it::

    layout = Layout(problem, seed=1)
    layout.place(0, Spot(allow, x, y, angle))  # or layout.set_poses(poses)
    layout.loss_at(1, spot)                    # what item 1 would suffer there; 0.0 = it fits exactly
    separate(layout, stop=..., ...)            # nestplan.nesting.search.separation
    layout.feasible(), layout.poses()

What lives here: placing, lifting, judging one pose, snapshots, limits, which items may be moved. What does not:
deciding where to go (`separate`, `gather`). A Spot speaks of the middle of a shape's smallest circle; Poses speak of
the item's own origin: `spot_of` and `pose_of` lead across.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import RuleError
from nestplan.nesting.arrays.collision_kernels import cosine_sine
from nestplan.nesting.arrays.packing import Areas, Pieces, Shapes, middle_of, pack
from nestplan.nesting.arrays.pose_kernels import (
    lift,
    pose_loss,
    put_all,
    put_row,
    record_all,
    settle,
    total_loss,
)
from nestplan.nesting.arrays.search_state import State, fresh_state
from nestplan.nesting.problem import (
    Floats,
    Ints,
    Poses,
    Problem,
)

__all__ = ["Layout", "Snapshot", "Spot"]


class Spot(NamedTuple):
    """One candidate: allowance index (into `Layout.pieces`), middle of the shape (mm), turn (degrees)."""

    allow: int
    x: float
    y: float
    angle: float


@dataclass(frozen=True, eq=False)
class Snapshot:
    """Spots of all items at one moment: `allow (N,)` (-1 = not placed), `x, y, angle (N,)`."""

    allow: Ints
    x: Floats
    y: Floats
    angle: Floats


class Layout:
    """Mutable layout of one problem. Copies share the packed problem but nothing that changes."""

    def __init__(self, problem: Problem, *, seed: int = 0) -> None:
        self.problem = problem
        self.shapes: Shapes
        self.areas: Areas
        self.pieces: Pieces
        self.shapes, self.areas, self.pieces, self._fixed = pack(problem)
        self.items = len(problem.items)
        self.state = self._fresh(seed)

    def _fresh(self, seed: int) -> State:
        state = fresh_state(self.problem, self.shapes, seed)
        for k, (field, ring) in enumerate(self.problem.fixed):
            x, y = middle_of(np.ascontiguousarray(ring, np.float64))
            put_row(self.shapes, state, self.items + k, field, self._fixed[k], x, y, 0.0)
        return state

    def copy(self, *, seed: int) -> Layout:
        """The same problem, poses, limits and active items, with its own state, fresh weights and generator."""
        twin = object.__new__(Layout)
        twin.problem, twin.items, twin._fixed = self.problem, self.items, self._fixed
        twin.shapes, twin.areas, twin.pieces = self.shapes, self.areas, self.pieces
        twin.state = self._fresh(seed)
        twin.state.limit[:] = self.state.limit
        twin.state.active[:] = self.state.active
        twin.restore(self.snapshot())
        return twin

    def spots(self, item: int) -> list[int]:
        """Indices of the allowances of an item, in the order of `Item.options`."""
        return list(range(int(self.pieces.allow_start[item]), int(self.pieces.allow_start[item + 1])))

    def spot_of(self, allow: int, x: float, y: float, angle: float) -> Spot:
        """The spot of a pose (x, y, angle of the item's own frame) under an allowance."""
        cosine, sine = cosine_sine(angle)
        mx, my = self.pieces.middle[allow]
        return Spot(allow, x + cosine * mx - sine * my, y + sine * mx + cosine * my, angle)

    def pose_of(self, spot: Spot) -> tuple[float, float, float]:
        """The pose (x, y, angle) of the item's own frame that a spot stands for."""
        cosine, sine = cosine_sine(spot.angle)
        mx, my = self.pieces.middle[spot.allow]
        return spot.x - (cosine * mx - sine * my), spot.y - (sine * mx + cosine * my), spot.angle

    def place(self, item: int, spot: Spot) -> None:
        """Put an item at a spot, overlapping or not, and record its losses."""
        settle(self.shapes, self.areas, self.pieces, self.state, item, *spot)

    def lift(self, item: int) -> None:
        """Take an item off its field."""
        lift(self.state, item)

    def spot(self, item: int) -> Spot:
        """Where an item lies; `allow` is -1 if it is not placed."""
        t = self.state
        return Spot(int(t.allow[item]), float(t.x[item]), float(t.y[item]), float(t.angle[item]))

    def loss_at(self, item: int, spot: Spot, worst: float = np.inf) -> float:
        """Weighted loss of an item at a spot against all placed bodies, its demands and the limits.

        0.0 exactly when the item fits there; evaluation stops early once the loss passes `worst`.
        """
        return float(pose_loss(self.shapes, self.areas, self.pieces, self.state, item, *spot, worst))

    def fits(self, item: int, spot: Spot) -> bool:
        """Whether the item would lie at the spot without overlap, within its demands, limits and turns."""
        allow = spot.allow
        lo = self.pieces.turn_lo[self.pieces.turn_start[allow] : self.pieces.turn_start[allow + 1]]
        hi = self.pieces.turn_hi[self.pieces.turn_start[allow] : self.pieces.turn_start[allow + 1]]
        angle = spot.angle % 360.0
        turned = bool(np.any((lo - 1e-9 <= angle) & (angle <= hi + 1e-9)))
        return turned and self.loss_at(item, spot, 0.0) == 0.0

    def total(self) -> float:
        """Sum of all unweighted losses."""
        return float(total_loss(self.state))

    def feasible(self) -> bool:
        """Whether no placed item overlaps another, leaves its areas or passes a limit."""
        return self.total() == 0.0

    def placed(self) -> NDArray[np.bool_]:
        """Which items lie on a field, (N,)."""
        on: NDArray[np.bool_] = self.state.field[: self.items] >= 0
        return on

    def set_limit(self, field: int, normal: tuple[float, float], distance: float) -> None:
        """Keep the items of a field to n·p <= distance (mm, unit normal); infinity lifts the limit."""
        self.state.limit[field] = (*normal, distance)
        record_all(self.shapes, self.areas, self.pieces, self.state)

    def set_active(self, items: NDArray[np.bool_]) -> None:
        """Which items Separate may move, (N,)."""
        self.state.active[: self.items] = items

    def reset_weights(self) -> None:
        """Set all weights to one."""
        self.state.weight.fill(1.0)
        self.state.wall_weight.fill(1.0)

    def snapshot(self) -> Snapshot:
        """The spots of all items now."""
        t, n = self.state, self.items
        return Snapshot(t.allow[:n].copy(), t.x[:n].copy(), t.y[:n].copy(), t.angle[:n].copy())

    def restore(self, snapshot: Snapshot) -> None:
        """Put all items where they lay when the snapshot was taken."""
        spots = snapshot.allow, snapshot.x, snapshot.y, snapshot.angle
        put_all(self.shapes, self.areas, self.pieces, self.state, *spots)

    def poses(self) -> Poses:
        """Where all items lie, in their own frames."""
        poses = Poses.none(self.items)
        for item in range(self.items):
            spot = self.spot(item)
            if spot.allow >= 0:
                poses.x[item], poses.y[item], poses.angle[item] = self.pose_of(spot)
                poses.angle[item] %= 360.0
                poses.flipped[item] = self.pieces.allow_flipped[spot.allow]
                poses.field[item] = self.pieces.allow_field[spot.allow]
        return poses

    def set_poses(self, poses: Poses) -> None:
        """Put all items at the given poses; raises RuleError where no allowance covers field, turn and side."""
        found = []
        for item in range(self.items):
            field, angle = int(poses.field[item]), float(poses.angle[item])
            if field < 0:
                found.append(Spot(-1, 0.0, 0.0, 0.0))
                continue
            for allow, leave in zip(self.spots(item), self.problem.items[item].options, strict=True):
                fitting = leave.field == field and leave.flipped == bool(poses.flipped[item])
                if fitting and leave.turns.contains(angle):
                    found.append(self.spot_of(allow, float(poses.x[item]), float(poses.y[item]), angle))
                    break
            else:
                raise RuleError(
                    f"Item {item} may not lie on field {field} at {angle:g} degrees.",
                    mend="Give it a turn and a field that its rules allow.",
                )
        columns = [np.array(column) for column in zip(*found, strict=True)] if found else [np.zeros(0)] * 4
        self.restore(Snapshot(columns[0].astype(np.int64), *columns[1:]))
