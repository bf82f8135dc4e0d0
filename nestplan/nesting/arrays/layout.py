"""The state of a search: a problem packed for the kernels, and where its items lie at the moment.

How to use it::

    layout = Layout(problem, seed=1)
    layout.place(0, ShapePose(option, x, y, angle))
    layout.loss_at(1, pose)                          # what item 1 would suffer there; 0.0 = it fits exactly
    SeparationRun(layout, effort).advance(poses)     # nestplan.nesting.search.separation
    layout.feasible(), layout.poses()

A `ShapePose` speaks of the middle of a shape's smallest enclosing circle, `Poses` of the item's own origin:
`shape_pose` and `item_pose` lead across.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nestplan.nesting.arrays.entry_kernels import pose_loss
from nestplan.nesting.arrays.packing import middle_of, pack
from nestplan.nesting.arrays.pose_kernels import (
    lift_body,
    put_body,
    put_items,
    record_losses_of,
    total_loss,
)
from nestplan.nesting.arrays.records import Areas, PlacementOptions, SearchState, ShapePose, Shapes
from nestplan.nesting.arrays.search_state import fresh_state
from nestplan.nesting.arrays.turned_shape_kernels import cosine_sine
from nestplan.nesting.problem import Bools, Floats, Ints, Poses, Problem

__all__ = ["Layout", "ShapePose", "Snapshot"]


@dataclass(frozen=True, eq=False)
class Snapshot:
    """Where all items lay at one moment: `option (I,)` (-1: nowhere), `x, y` (mm) and `angle` (degrees) `(I,)` of
    their shapes' middles."""

    option: Ints
    x: Floats
    y: Floats
    angle: Floats


class Layout:
    """Mutable layout of one problem. Copies share the packed problem but nothing that changes."""

    def __init__(self, problem: Problem, *, seed: int = 0) -> None:
        self.problem = problem
        self.packed = pack(problem)
        self.item_count = len(problem.items)
        self.state = self._fresh_state(seed)

    def _fresh_state(self, seed: int) -> SearchState:
        state = fresh_state(self.problem, self.shapes, seed)
        for k, (field, ring) in enumerate(self.problem.fixed):
            x, y = middle_of(np.ascontiguousarray(ring, np.float64))
            shape = self.packed.fixed_shapes[k]
            put_body(self.shapes, state, self.item_count + k, field, shape, x, y, 0.0)
        return state

    @property
    def shapes(self) -> Shapes:
        """The packed shapes."""
        return self.packed.shapes

    @property
    def areas(self) -> Areas:
        """The packed areas."""
        return self.packed.areas

    @property
    def options(self) -> PlacementOptions:
        """The packed options of all items."""
        return self.packed.options

    @property
    def records(self) -> tuple[Shapes, Areas, PlacementOptions, SearchState]:
        """What most kernels take first."""
        return self.packed.shapes, self.packed.areas, self.packed.options, self.state

    def copy(self, *, seed: int) -> Layout:
        """The same problem, poses, limits and movable items, with its own state, fresh weights and generator."""
        twin = object.__new__(Layout)
        twin.problem, twin.packed, twin.item_count = self.problem, self.packed, self.item_count
        twin.state = twin._fresh_state(seed)
        twin.state.limit[:] = self.state.limit
        twin.state.movable[:] = self.state.movable
        twin.state.open_field[:] = self.state.open_field
        twin.state = twin.state._replace(pool=self.state.pool)
        twin.restore(self.snapshot())
        return twin

    def options_of(self, item: int) -> list[int]:
        """Numbers of an item's options, in the order of the problem."""
        return list(range(int(self.options.start[item]), int(self.options.start[item + 1])))

    def shape_pose(self, option: int, x: float, y: float, angle: float) -> ShapePose:
        """Where the middle of an option's shape lies when the item's own frame lies at (x, y, angle)."""
        cosine, sine = cosine_sine(angle)
        mx, my = self.options.middle[option]
        return ShapePose(option, x + cosine * mx - sine * my, y + sine * mx + cosine * my, angle)

    def item_pose(self, pose: ShapePose) -> tuple[float, float, float]:
        """The pose (x, y, angle) of the item's own frame when the middle of its shape lies so."""
        cosine, sine = cosine_sine(pose.angle)
        mx, my = self.options.middle[pose.option]
        return pose.x - (cosine * mx - sine * my), pose.y - (sine * mx + cosine * my), pose.angle

    def place(self, item: int, pose: ShapePose) -> None:
        """Put an item at a pose, overlapping or not, and record its losses."""
        field, shape = int(self.options.field[pose.option]), int(self.options.shape[pose.option])
        put_body(self.shapes, self.state, item, field, shape, float(pose.x), float(pose.y), float(pose.angle))
        self.state.option[item] = pose.option
        record_losses_of(*self.records, np.array([item]))

    def record_losses(self) -> None:
        """Record the losses of all that is placed anew, after limits or many poses changed."""
        record_losses_of(*self.records, np.flatnonzero(self.state.field >= 0))

    def lift(self, item: int) -> None:
        """Take an item off its field."""
        lift_body(self.state, item)

    def pose_of(self, item: int) -> ShapePose:
        """Where an item lies; its option is -1 if it is not placed."""
        state = self.state
        return ShapePose(
            int(state.option[item]), float(state.x[item]), float(state.y[item]), float(state.angle[item])
        )

    def loss_at(self, item: int, pose: ShapePose, worst: float = np.inf) -> float:
        """Weighted loss of an item at a pose against all placed bodies, its areas and the limits.

        0.0 exactly when the item fits there; evaluation stops early once the loss passes `worst`.
        """
        return pose_loss(self.records, item, pose, worst)

    def total_loss(self) -> float:
        """Sum of all unweighted losses."""
        return float(total_loss(self.state))

    def feasible(self) -> bool:
        """Whether no placed item overlaps another, leaves its areas or passes a limit."""
        return self.total_loss() == 0.0

    def placed(self) -> Bools:
        """Which items lie on a field, (I,)."""
        on: Bools = self.fields() >= 0
        return on

    def fields(self) -> Ints:
        """On which field each item lies, (I,), -1 for none; changes with the layout."""
        return self.state.field[: self.item_count]

    def set_limit(self, field: int, normal: tuple[float, float], distance: float) -> None:
        """Keep the items of a field to n·p <= distance (mm, unit normal); infinity lifts the limit."""
        self.state.limit[field] = (*normal, distance)
        self.record_losses()

    def reset_weights(self) -> None:
        """Set all weights to one."""
        self.state.pair_weight.fill(1.0)
        self.state.boundary_weight.fill(1.0)

    def snapshot(self) -> Snapshot:
        """Where all items lie now."""
        state, count = self.state, self.item_count
        return Snapshot(
            option=state.option[:count].copy(),
            x=state.x[:count].copy(),
            y=state.y[:count].copy(),
            angle=state.angle[:count].copy(),
        )

    def restore(self, snapshot: Snapshot) -> None:
        """Put all items where they lay when the snapshot was taken."""
        poses = np.column_stack((snapshot.option, snapshot.x, snapshot.y, snapshot.angle))
        put_items(self.shapes, self.options, self.state, np.arange(self.item_count), poses, True)
        self.record_losses()

    def back_to_best(self) -> None:
        """Put all movable items where they lay when the total loss of a run was least."""
        state = self.state
        items = np.flatnonzero(state.movable & (state.best_option >= 0))
        poses = np.column_stack((state.best_option, state.best_x, state.best_y, state.best_angle))[items]
        put_items(self.shapes, self.options, state, items, poses, False)
        self.record_losses()

    def poses(self) -> Poses:
        """Where all items lie, in their own frames."""
        poses = Poses.none(self.item_count)
        for item in range(self.item_count):
            pose = self.pose_of(item)
            if pose.option >= 0:
                poses.x[item], poses.y[item], poses.angle[item] = self.item_pose(pose)
                poses.angle[item] %= 360.0
                poses.flipped[item] = self.options.flipped[pose.option]
                poses.field[item] = self.options.field[pose.option]
        return poses
