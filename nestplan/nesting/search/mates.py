"""Mates brought near each other on the leather: a left and a right of one piece are to lie close together.

One of a pair is laid beside the other where there is room, or a neighbour makes room for it and takes its place. What
is nearer by a millimetre may cost so much offcut worth keeping, and never a piece that has its place, nor another hide.
Which left belongs to which right is free as long as they are alike (`nestplan.nesting.matching`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely

from nestplan.geometry.inscribed import opening
from nestplan.nesting.arrays.layout import Layout, ShapePose
from nestplan.nesting.matching import exchanged
from nestplan.nesting.problem import Floats, MateGroup

__all__ = ["bring_mates_together", "distances_of_mates"]

OTHER_HIDE = 3000.0
"""mm that two mates on two hides count as apart: more than two on one usual hide ever are."""
SWEEPS = 3
"""Times that all pairs are gone through at most."""
NEAR = 0.15
"""Distance of two mates, as a share of the piece's size, below which nothing is gained by bringing them nearer."""
LEAST_GAIN = 5.0
"""mm by which the pairs concerned must come nearer together for a move to be made."""
POSES_BESIDE, POSES_INSTEAD = 120, 80
"""Poses drawn by chance for a place beside a mate, and for a neighbour that has to make room."""
PLACES_FOR_BOTH = 12
"""Places tried for both of a pair elsewhere."""
KEPT = 4
"""Places beside a mate of which the nearest is taken."""
NEIGHBOURS = 6
"""Neighbours of a mate that are asked to make room."""


def bring_mates_together(
    layout: Layout,
    groups: Sequence[MateGroup],
    *,
    price: float,
    useful_width: float,
    seed: int = 0,
    stop: Callable[[], bool] = lambda: False,
) -> bool:
    """Move items so that mates come near each other; whether any was moved.

    `price`, mm² for a mm: how much of the offcuts, opened by `useful_width`, a millimetre nearer may cost. The layout
    must be feasible; it stays so, and no item changes to a field that nothing lies on. The same seed gives the same
    moves unless `stop`, asked before each, says so.
    """
    search = _MateSearch(layout, groups, price, useful_width, seed)
    moved = False
    for _ in range(SWEEPS):
        gained = False
        search.pair_up()
        for left, right in search.far_pairs():
            if stop():
                return moved
            gained |= search.bring_together(left, right)
        moved |= gained
        if not gained:
            break
    return moved


def distances_of_mates(layout: Layout, groups: Sequence[MateGroup]) -> list[float]:
    """mm from edge to edge of every pair, paired so that they lie near; those on two hides count as `OTHER_HIDE`."""
    search = _MateSearch(layout, groups, 0.0, 1.0, 0)
    search.pair_up()
    return [search.apart(left, right) for left, right in search.pairs()]


class _MateSearch:
    """A layout in which pairs come near; `mate` tells each body's mate."""

    def __init__(
        self, layout: Layout, groups: Sequence[MateGroup], price: float, useful_width: float, seed: int
    ) -> None:
        self.layout, self.groups, self.price, self.useful_width = layout, groups, price, useful_width
        self.rng = np.random.default_rng([seed, 4711])
        self.mate: dict[int, int] = {}
        self.size = {
            number: math.sqrt(shapely.Polygon(item.ring).area)
            for number, item in enumerate(layout.problem.items)
        }
        self._offcuts: dict[int, float] = {}
        """What the fields looked at left in offcuts worth keeping after the last change, mm²."""

    def pair_up(self) -> None:
        """Pair lefts and rights anew so that they lie near each other; those that have no place have no mate."""
        self.mate.clear()
        state = self.layout.state
        for group in self.groups:
            lefts = np.array([body for body in group.lefts if state.field[body] >= 0], int)
            rights = np.array([body for body in group.rights if state.field[body] >= 0], int)
            count = max(len(lefts), len(rights))
            if not len(lefts) or not len(rights):
                continue
            cost = np.zeros((count, count))
            apart = np.hypot(
                state.x[lefts][:, None] - state.x[rights], state.y[lefts][:, None] - state.y[rights]
            )
            other = state.field[lefts][:, None] != state.field[rights]
            cost[: len(lefts), : len(rights)] = np.where(other, OTHER_HIDE, apart)
            for left, right in enumerate(exchanged(cost).tolist()):
                if left < len(lefts) and right < len(rights):
                    self.mate[int(lefts[left])] = int(rights[right])
                    self.mate[int(rights[right])] = int(lefts[left])

    def pairs(self) -> list[tuple[int, int]]:
        """Every pair once, the lower number first."""
        return sorted((one, other) for one, other in self.mate.items() if one < other)

    def far_pairs(self) -> list[tuple[int, int]]:
        """The pairs that do not lie near, the farthest first."""
        apart = {pair: self.apart(*pair) for pair in self.pairs()}
        far = [pair for pair, distance in apart.items() if distance > NEAR * self._size_of(pair)]
        return sorted(far, key=lambda pair: (-apart[pair], pair))

    def apart(self, one: int, other: int) -> float:
        """mm from edge to edge of two bodies."""
        if self.layout.state.field[one] != self.layout.state.field[other]:
            return OTHER_HIDE
        return float(shapely.distance(self._shape(one), self._shape(other)))

    def bring_together(self, one: int, other: int) -> bool:
        """Lay one of two mates beside the other; whether that brought them nearer at a price that is paid."""
        if self.apart(one, other) <= NEAR * self._size_of((one, other)):
            return False
        ways = [(one, other), (other, one)]
        ways = [(moving, anchor) for moving, anchor in ways if moving < self.layout.item_count]
        return (
            any(self._move(*way) for way in ways)
            or any(self._exchange(*way) for way in ways)
            or (len(ways) == 2 and self._move_both(one, other))
        )

    def _move(self, moving: int, anchor: int) -> bool:
        """Lay a body beside its mate where there is room."""

        def change() -> bool:
            self.layout.lift(moving)
            return self._lay_beside(moving, anchor)

        return self._kept_if_better([moving], change)

    def _exchange(self, moving: int, anchor: int) -> bool:
        """Lay a body beside its mate where a neighbour makes room, which is laid elsewhere."""
        for neighbour in self._neighbours(anchor, moving):

            def change(neighbour: int = neighbour) -> bool:
                left, freed = self.layout.pose_of(moving), self.layout.pose_of(neighbour)
                self.layout.lift(moving)
                self.layout.lift(neighbour)
                laid = self._lay_at(moving, freed) or self._lay_beside(moving, anchor)
                return laid and self._lay_instead(neighbour, left)

            if self._kept_if_better([moving, neighbour], change):
                return True
        return False

    def _move_both(self, one: int, other: int) -> bool:
        """Lay both of a pair elsewhere, beside something that lies on a field in use, and beside each other."""
        layout = self.layout
        for _ in range(PLACES_FOR_BOTH):
            on = np.flatnonzero(layout.fields() >= 0)
            beside = int(self.rng.choice(on[(on != one) & (on != other)])) if len(on) > 2 else -1
            if beside < 0:
                return False

            def change(beside: int = beside) -> bool:
                layout.lift(one)
                layout.lift(other)
                return self._lay_beside(one, beside) and self._lay_beside(other, one)

            if self._kept_if_better([one, other], change, int(layout.state.field[beside])):
                return True
        return False

    def _kept_if_better(self, moved: Sequence[int], change: Callable[[], bool], *fields_besides: int) -> bool:
        """Make a change of bodies' places, on their fields, those of their mates and of some besides; take it back
        unless the pairs concerned come nearer at a price that is paid."""
        layout, fields = self.layout, self.layout.state.field
        before = [layout.pose_of(body) for body in moved]
        mates = [self.mate[body] for body in moved if body in self.mate]
        touched = sorted({*(int(fields[body]) for body in (*moved, *mates)), *fields_besides})
        for field in touched:
            if field not in self._offcuts:
                self._offcuts[field] = self._offcut_area(field)
        far = self._apart_in_all(moved)
        if change():
            gain = far - self._apart_in_all(moved)
            if gain >= LEAST_GAIN and self._is_paid(touched, gain):
                return True
        for body in moved:
            layout.lift(body)
        for body, pose in zip(moved, before, strict=True):
            layout.place(body, pose)
        return False

    def _apart_in_all(self, bodies: Sequence[int]) -> float:
        """mm between the mates of all pairs that bodies belong to."""
        pairs = {
            (min(body, self.mate[body]), max(body, self.mate[body])) for body in bodies if body in self.mate
        }
        return sum(self.apart(*pair) for pair in pairs)

    def _is_paid(self, fields: Sequence[int], gain: float) -> bool:
        """Whether what fields lose in offcuts costs no more than the gain in distance is worth."""
        now = {field: self._offcut_area(field) for field in fields}
        lost = sum(self._offcuts[field] - area for field, area in now.items())
        if lost > self.price * gain:
            return False
        self._offcuts.update(now)
        return True

    def _lay_beside(self, moving: int, anchor: int) -> bool:
        """Lay a body as near to its mate as one of the poses drawn by chance lets it; whether it lies."""
        state, shapes = self.layout.state, self.layout.shapes
        ax, ay, field = float(state.x[anchor]), float(state.y[anchor]), int(state.field[anchor])
        reach = (
            0.5
            * (1.0 + 2.0 * NEAR)
            * (self._diameter(anchor) + float(shapes.diameter[self._shape_number(moving)]))
        )
        found: list[tuple[float, ShapePose]] = []
        for option, angle in self._turns(moving, field, POSES_BESIDE, float(state.angle[anchor])):
            direction, r = (
                self.rng.uniform(0.0, 2.0 * math.pi),
                reach * math.sqrt(self.rng.uniform(0.15, 1.0)),
            )
            way = math.cos(direction), math.sin(direction)
            if self._fits(moving, ShapePose(option, ax + r * way[0], ay + r * way[1], angle)):
                r = self._nearest_on_way(moving, option, angle, (ax, ay), way, r)
                found.append((r, ShapePose(option, ax + r * way[0], ay + r * way[1], angle)))
                if len(found) == KEPT:
                    break
        if not found:
            return False
        self.layout.place(moving, min(found, key=lambda each: each[0])[1])
        return True

    def _nearest_on_way(
        self,
        moving: int,
        option: int,
        angle: float,
        at: tuple[float, float],
        way: tuple[float, float],
        r: float,
    ) -> float:
        """How near along a way a body may slide to where its mate lies, mm from middle to middle."""
        low, high = 0.0, r
        for _ in range(7):
            middle = 0.5 * (low + high)
            pose = ShapePose(option, at[0] + middle * way[0], at[1] + middle * way[1], angle)
            low, high = (low, middle) if self._fits(moving, pose) else (middle, high)
        return high

    def _lay_instead(self, body: int, left: ShapePose) -> bool:
        """Lay a body that made room: where its own mate or the gap that was left lets it, else anywhere on the fields
        in use; whether it lies."""
        if body in self.mate and self._lay_beside(body, self.mate[body]):
            return True
        return self._lay_at(body, left)

    def _lay_at(self, body: int, left: ShapePose) -> bool:
        """Lay a body where another lay, or as near to that as one of the poses drawn by chance lets it."""
        field = int(self.layout.options.field[left.option])
        turns = self._turns(body, field, POSES_INSTEAD, left.angle)
        spread = 0.25 * float(self.layout.shapes.diameter[self._shape_number(body)]) / POSES_INSTEAD
        steps = self.rng.normal(0.0, 1.0, (len(turns), 2))
        for number, (option, angle) in enumerate(turns):
            # The place itself first, then wider and wider round it.
            x, y = max(number - 8, 0) * spread * steps[number]
            pose = ShapePose(option, left.x + float(x), left.y + float(y), angle)
            if self._fits(body, pose):
                self.layout.place(body, pose)
                return True
        return False

    def _turns(self, body: int, field: int, count: int, favoured: float) -> list[tuple[int, float]]:
        """So many (option, angle) that a body may have on a field, half of them at right angles to `favoured` or as
        near to it as is allowed."""
        layout, rng = self.layout, self.rng
        first = int(layout.options.start[body])
        allowed = [
            (number, layout.problem.items[body].options[number - first].turns)
            for number in layout.options_of(body)
            if layout.options.field[number] == field
        ]
        square = [
            (number, turns.nearest(favoured + 90.0 * quarter))
            for number, turns in allowed
            for quarter in range(4)
        ]
        spans = [(number, low, high) for number, turns in allowed for low, high in turns.intervals]
        if not spans:
            return []
        picked = rng.integers(len(square), size=count), rng.integers(len(spans), size=count)
        shares = rng.random(count)
        found = []
        for place in range(count):
            if place % 2:
                found.append(square[int(picked[0][place])])
            else:
                number, low, high = spans[int(picked[1][place])]
                found.append((number, low + float(shares[place]) * (high - low)))
        return found

    def _neighbours(self, anchor: int, moving: int) -> list[int]:
        """Movable items nearest to a body, its mate not among them."""
        state = self.layout.state
        on = np.flatnonzero(self.layout.fields() == state.field[anchor])
        on = on[(on != anchor) & (on != moving)]
        apart = np.hypot(state.x[on] - state.x[anchor], state.y[on] - state.y[anchor])
        return [int(on[place]) for place in np.argsort(apart, kind="stable")[:NEIGHBOURS]]

    def _fits(self, body: int, pose: ShapePose) -> bool:
        return self.layout.loss_at(body, pose, 0.0) == 0.0

    def _size_of(self, pair: tuple[int, int]) -> float:
        return min(self.size.get(body, math.inf) for body in pair)

    def _diameter(self, body: int) -> float:
        state = self.layout.state
        return float(self.layout.shapes.diameter[state.rows.shape[state.row[body]]])

    def _shape_number(self, body: int) -> int:
        return int(self.layout.options.shape[self.layout.options.start[body]])

    def _ring(self, body: int) -> Floats:
        """The ring of a body where it lies, grown by half the knife gap."""
        state = self.layout.state
        row = int(state.row[body])
        count = int(state.rows.corner_count[row])
        corners = np.column_stack([state.rows.corner_x[row, :count], state.rows.corner_y[row, :count]])
        ring: Floats = corners + np.array([state.x[body], state.y[body]])
        return ring

    def _shape(self, body: int) -> shapely.Polygon:
        return shapely.Polygon(self._ring(body))

    def _offcut_area(self, field: int) -> float:
        """What a field leaves in offcuts worth keeping, mm², the largest counted twice: it is not to be broken up."""
        state = self.layout.state
        rings = [self._shape(int(body)) for body in np.flatnonzero(state.field == field)]
        left = self.layout.problem.fields[field].difference(shapely.union_all(rings))
        parts = [float(part.area) for part in opening(left, self.useful_width).geoms]
        return sum(parts) + max(parts, default=0.0)
