"""Lay: the first plan, built shape by shape, hardest first. A whole answer in seconds.

What lives here: the order of the shapes, the choice between fields, and the bench that a field is while shapes are
put on it. What does not: where one shape fits (`lay_kernels`), moving shapes that lie (`separate`), leather.

Each shape is sampled widely in every field that may take it, with turns that lay an edge along an edge favoured,
and slid to where its rim is nearest to others and to the edge. Ground that pickier shapes could use counts against
a place, so linings go to the belly by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.construct_kernels import find_places, set_down
from nestplan.nesting.arrays.packing import middle_of
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.problem import Poses

__all__ = ["Effort", "lay"]

TOGETHER = 6
"""Fields that are looked at together for one shape."""
HALVES = 2
"""Every search for a place is cut into this many, each with its own random numbers, so that one worker and two
come to the same."""

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]


class FieldOccupancy(NamedTuple):
    """What lies in one field. Rows as in `packed.State`: `vx, vy (N, V)` turned rings about their middles, `vn`,
    `x, y (N,)`, `box (N, 4)`, `inner (N, 2)` a point well inside, `number (1,)` of rows; `frame` (x0, y0, cell) and
    `room (ny, nx)` the raster of distances to what lies, mm."""

    vx: Floats
    vy: Floats
    vn: NDArray[np.int64]
    x: Floats
    y: Floats
    box: Floats
    inner: Floats
    number: NDArray[np.int64]
    frame: tuple[float, float, float]
    room: Singles


class Scratch(NamedTuple):
    """Room for one search: a candidate's ring and one demand's, turned, and their boxes; the raster of clearance, its
    nodes with room, the best poses sampled, and the pose that is refined."""

    vx: Floats
    vy: Floats
    box: Floats
    keep: NDArray[np.int64]
    inner: Floats
    clear: Singles
    wide: NDArray[np.int32]
    tight: NDArray[np.int32]
    best: Floats
    pose: Floats

    @classmethod
    def of(cls, points: int, nodes: tuple[int, int], kept: int) -> Scratch:
        """Scratch for rings of so many points, a raster of so many nodes, and so many poses."""
        ny, nx = nodes
        return cls(
            vx=np.empty((2, points)),
            vy=np.empty((2, points)),
            box=np.empty((2, 4)),
            keep=np.empty(points, np.int64),
            inner=np.empty(2),
            clear=np.empty((ny, nx), np.float32),
            wide=np.empty(ny * nx, np.int32),
            tight=np.empty(ny * nx, np.int32),
            best=np.empty((kept, 4)),
            pose=np.empty(4),
        )


@dataclass(frozen=True)
class Effort:
    """How hard to look for each place: poses sampled and refined; `cap`, as a share of the shape's size, up to
    which clearance counts as loose; `pull` the weight of ground that others need; `drift` that of lying towards one
    end of a field."""

    samples: int = 4000
    refined: int = 4
    cap: float = 0.4
    pull: float = 0.5
    drift: float = 0.15

    @classmethod
    def for_count(cls, items: int) -> Effort:
        """Less for each of many items, so that a first answer stays a matter of seconds."""
        share = min(max(80.0 / max(items, 1), 0.2), 1.0)
        return cls(samples=int(4000 * share), refined=max(round(4 * share), 2))


def lay(
    ground: PreparedProblem,
    *,
    order: Sequence[int] | None = None,
    start: Poses | None = None,
    seed: int = 0,
    effort: Effort | None = None,
    spread: bool = False,
    pool: Executor | None = None,
    stop: Callable[[int], bool] | None = None,
) -> Poses:
    """Poses of as many items as find a place, in `order` (hardest first), around those that `start` has placed.

    With `spread` every field is used from the beginning; without, a new field is opened only for a shape that finds
    no place in those in use. `stop` is asked before each shape with the number placed. The same seed gives the
    same poses with any `pool`, or none.
    """
    effort = effort or Effort()
    count = len(ground.problem.items)
    poses = _Sheet.of(start or Poses.none(count))
    table = _Table(ground, effort, seed, pool)
    for kept in np.flatnonzero(poses.field >= 0):
        table.put_kept(int(kept), poses)
    for placed, item in enumerate(hardest_first(ground, range(count)) if order is None else order):
        if poses.field[item] >= 0:
            continue
        if stop is not None and stop(placed):
            break
        table.put(item, poses, spread=spread)
    return Poses(poses.x, poses.y, poses.angle, poses.flipped, poses.field)


@dataclass
class _Sheet:
    """Poses that may still change."""

    x: Floats
    y: Floats
    angle: Floats
    flipped: NDArray[np.bool_]
    field: NDArray[np.int64]

    @classmethod
    def of(cls, poses: Poses) -> _Sheet:
        return cls(
            poses.x.copy(), poses.y.copy(), poses.angle.copy(), poses.flipped.copy(), poses.field.copy()
        )


class _Table:
    """The benches of all fields while shapes are laid."""

    def __init__(self, ground: PreparedProblem, effort: Effort, seed: int, pool: Executor | None) -> None:
        self.ground = ground
        self.effort = effort
        self.seed = seed
        self.pool = pool
        fields = len(ground.problem.fields)
        self.benches: dict[int, FieldOccupancy] = {}
        self.full: set[bytes] = set()
        self._keys: dict[int, bytes] = {}
        self.turns: list[list[float]] = [[] for _ in range(fields)]
        self.used = [False] * fields
        self._worth: dict[tuple[int, tuple[int, ...]], Singles] = {}
        discs = float(ground.shapes.pr[:, 0].max()) if len(ground.shapes.pr) else 0.0
        self.reach = max(discs, effort.cap * float(ground.shapes.scale.max(initial=0.0)))
        for number, (index, _) in enumerate(ground.problem.fixed):
            shape = ground.fixed[number]
            set_down(ground.shapes, self.bench(index), shape, *_fixed_at(ground, number), 0.0, self.reach)
            self.used[index] = True

    def bench(self, index: int) -> FieldOccupancy:
        """The bench of a field, made when first asked for."""
        if index not in self.benches:
            x0, y0, cell, nx, ny = self.ground.frame(index)
            rows = len(self.ground.problem.items) + len(self.ground.problem.fixed)
            wide = self.ground.shapes.vx.shape[1]
            self.benches[index] = FieldOccupancy(
                np.zeros((rows, wide)), np.zeros((rows, wide)), np.zeros(rows, np.int64), np.zeros(rows),
                np.zeros(rows), np.zeros((rows, 4)), np.zeros((rows, 2)), np.zeros(1, np.int64),
                (x0, y0, cell), np.full((ny, nx), self.reach + 2.0 * cell, np.float32),
            )  # fmt: skip
        return self.benches[index]

    def put(self, item: int, poses: _Sheet, *, spread: bool) -> bool:
        """Lay an item at its best place; False where it has none."""
        tasks = [a for a in self.ground.allowances(item) if self._key(a) not in self.full]
        groups = [*self._in_turn(tasks, spread=spread), *([] if spread else self._by_field(tasks))]
        for group in groups:
            best = self._best_of(item, group)
            if best is not None:
                self._set(item, best, poses)
                return True
        return False

    def put_kept(self, item: int, poses: _Sheet) -> None:
        """Lay an item where its pose says."""
        index = int(poses.field[item])
        for a in self.ground.allowances(item):
            p = self.ground.pieces
            if int(p.allow_field[a]) == index and bool(p.allow_flipped[a]) == bool(poses.flipped[item]):
                mx, my = _turned(p.middle[a], float(poses.angle[item]))
                self._down(a, poses.x[item] + mx, poses.y[item] + my, float(poses.angle[item]))
                return

    def _in_turn(self, tasks: Sequence[int], *, spread: bool) -> list[list[int]]:
        """Allowances in the fields in use (with `spread` in all), a few fields at a time: where hides are many, a
        shape that finds a place on the first few does not look at the others."""
        fields = self.ground.pieces.allow_field
        here = [a for a in tasks if spread or self._in_use(a)]
        order = sorted({int(fields[a]) for a in here})
        chunks = [set(order[k : k + TOGETHER]) for k in range(0, len(order), TOGETHER)]
        return [[a for a in here if int(fields[a]) in chunk] for chunk in chunks]

    def _in_use(self, allowance: int) -> bool:
        return self.used[int(self.ground.pieces.allow_field[allowance])]

    def _by_field(self, tasks: Iterable[int]) -> list[list[int]]:
        """Allowances in fields not in use, field by field: cheap first, then large."""
        groups: dict[int, list[int]] = {}
        for a in tasks:
            if not self._in_use(a):
                groups.setdefault(int(self.ground.pieces.allow_field[a]), []).append(a)
        return [groups[index] for index in sorted(groups, key=lambda f: (self._cost(groups[f][0]), f))]

    def _cost(self, allowance: int) -> float:
        """What opening a field costs for each mm² it has."""
        index = int(self.ground.pieces.allow_field[allowance])
        return self._costs[allowance] / max(float(self.ground.problem.fields[index].area), 1.0)

    @cached_property
    def _costs(self) -> list[float]:
        return [a.cost for item in self.ground.problem.items for a in item.options]

    def _key(self, allowance: int) -> bytes:
        """The same for allowances that ask the same of the same field: where one has no place, none has."""
        if allowance in self._keys:
            return self._keys[allowance]
        p = self.ground.pieces
        span = slice(int(p.demand_start[allowance]), int(p.demand_start[allowance + 1]))
        turn = slice(int(p.turn_start[allowance]), int(p.turn_start[allowance + 1]))
        asked: list[NDArray[Any]] = [
            p.demand_shape[span],
            p.demand_area[span],
            p.turn_lo[turn],
            p.turn_hi[turn],
        ]
        asked.append(np.array([p.allow_field[allowance], p.allow_shape[allowance]]))
        self._keys[allowance] = b"".join(part.tobytes() for part in asked)
        return self._keys[allowance]

    def _best_of(self, item: int, group: Sequence[int]) -> tuple[int, float, float, float] | None:
        """The place of least score among an item's allowances: (allowance, x, y, angle) of the shape's middle."""
        if not group:
            return None
        share = max(len(group) ** 0.5, 1.0)
        samples = max(int(self.effort.samples / share / HALVES), 150)
        refined = max(round(self.effort.refined / share / HALVES), 2)
        jobs = [(item, a, half, samples, refined) for a in group for half in range(HALVES)]
        for a in group:
            # Made here, so that two threads do not make them twice.
            self.bench(int(self.ground.pieces.allow_field[a]))
            self.ground.demanded(a)
            self._worth_for(int(self.ground.pieces.allow_field[a]), a)
        run: Any = self.pool.map if self.pool is not None else map
        found = list(run(lambda job: self._search(*job), jobs))
        best: tuple[float, int, float, float, float] | None = None
        for (_, a, _, _, _), place in zip(jobs, found, strict=True):
            if place is not None and (best is None or place[3] < best[0]):
                best = (place[3], a, place[0], place[1], place[2])
        for a in group:
            if all(place is None for job, place in zip(jobs, found, strict=True) if job[1] == a):
                self.full.add(self._key(a))
        return None if best is None else best[1:]

    def _search(
        self, item: int, allowance: int, half: int, samples: int, refined: int
    ) -> tuple[float, float, float, float] | None:
        g = self.ground
        index, shape = int(g.pieces.allow_field[allowance]), int(g.pieces.allow_shape[allowance])
        scratch = Scratch.of(g.shapes.vx.shape[1], self.bench(index).room.shape, 3 * refined)
        mixed = np.random.SeedSequence([self.seed, item, allowance, half]).generate_state(1, np.uint64)
        out = np.empty((refined, 4))
        found = find_places(
            g.areas, g.shapes, g.pieces, self.bench(index), g.demanded(allowance), self._worth_for(index, allowance),
            g.rims[shape], self._favoured(index, shape), allowance, samples, self._cap(shape), 1.0, mixed, scratch, out,
        )  # fmt: skip
        return tuple(out[0]) if found else None

    def _cap(self, shape: int) -> float:
        return self.effort.cap * float(self.ground.shapes.scale[shape])

    def _favoured(self, index: int, shape: int) -> Floats:
        """Turns that lay the shape's longest edge along an edge of the field or of a shape that lies there."""
        edges = np.concatenate([self.ground.field_edges[index], np.array(self.turns[index][-24:])])
        turns = edges - self.ground.main_edges[shape]
        return np.unique(np.round(np.concatenate([turns, turns + 180.0]) % 360.0, 3))

    def _worth_for(self, index: int, allowance: int) -> Singles:
        """Raster of what the ground of a field is worth to others than this allowance, 0 to 1, by area."""
        wish = self.ground.wish(allowance)
        if (index, wish) not in self._worth:
            claims = self.ground.claims(index)
            total = sum(weight for weight, _ in claims) or 1.0
            nx, ny = self.ground.frame(index)[3:]
            raster = np.zeros((ny, nx), np.float32)
            for weight, held in claims:
                raster += self.effort.pull * weight / total * held
            if self.effort.drift:
                raster += self.effort.drift * (np.arange(nx) / nx)[None, :]
            self._worth[index, wish] = raster
        return self._worth[index, wish]

    def _set(self, item: int, place: tuple[int, float, float, float], poses: _Sheet) -> None:
        allowance, x, y, angle = place
        p = self.ground.pieces
        mx, my = _turned(p.middle[allowance], angle)
        poses.x[item], poses.y[item], poses.angle[item] = x - mx, y - my, angle
        poses.flipped[item] = p.allow_flipped[allowance]
        poses.field[item] = p.allow_field[allowance]
        self._down(allowance, x, y, angle)

    def _down(self, allowance: int, x: float, y: float, angle: float) -> None:
        p = self.ground.pieces
        index, shape = int(p.allow_field[allowance]), int(p.allow_shape[allowance])
        set_down(self.ground.shapes, self.bench(index), shape, x, y, angle, self.reach)
        self.used[index] = True
        self.turns[index].append(float(self.ground.main_edges[shape]) + angle)


def _turned(point: Floats, angle: float) -> tuple[float, float]:
    t = math.radians(angle)
    return (
        math.cos(t) * float(point[0]) - math.sin(t) * float(point[1]),
        math.sin(t) * float(point[0]) + math.cos(t) * float(point[1]),
    )


def _fixed_at(ground: PreparedProblem, number: int) -> tuple[float, float]:
    """Where the middle of a fixed ring lies."""
    return middle_of(np.ascontiguousarray(ground.problem.fixed[number][1], np.float64))
