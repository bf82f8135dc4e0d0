"""Lay: the first plan, built shape by shape, hardest first. A whole answer in seconds.

Each shape is sampled widely in every field that may take it, with turns that lay an edge along an edge favoured,
and slid to where its rim is nearest to others and to the edge. Leather that pickier shapes could use counts against
a place, so linings go to the belly by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.construct_kernels import add_shape, find_places
from nestplan.nesting.arrays.packing import middle_of
from nestplan.nesting.arrays.records import (
    FieldOccupancy,
    Grid,
    PlaceQuery,
    PlaceWorkspace,
    ShapePose,
    Shapes,
)
from nestplan.nesting.arrays.search_state import empty_rows
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.problem import Floats, Poses, Singles

__all__ = ["LayEffort", "lay"]

FIELDS_TOGETHER = 6
"""Fields that are looked at together for one shape."""

HALVES = 2
"""Every search for a place is cut into this many, each with its own random numbers, so that one worker and two
come to the same."""

LEAST_SAMPLES = 150
LEAST_REFINED = 2
"""Of one half of a search in one field."""

KEPT_TO_REFINED = 3
"""Poses kept while sampling for each that is refined, since some are much alike."""

LATEST_EDGES = 24
"""Shapes laid last along whose edges the next may be laid."""


@dataclass(frozen=True)
class LayEffort:
    """How hard to look for each place.

    samples, refined: poses drawn and refined
    loose: the clearance, as a share of the shape's size, from which on it counts as wholly loose
    worth_to_others: the weight of leather that other shapes need
    drift: the weight of lying towards one end of a field
    """

    samples: int = 4000
    refined: int = 4
    loose: float = 0.4
    worth_to_others: float = 0.5
    drift: float = 0.15

    @classmethod
    def for_count(cls, items: int) -> LayEffort:
        """Less for each of many items, so that a first answer stays a matter of seconds."""
        share = min(max(80.0 / max(items, 1), 0.2), 1.0)
        return cls(samples=int(4000 * share), refined=max(round(4 * share), 2))


def lay(
    prepared: PreparedProblem,
    *,
    order: Sequence[int] | None = None,
    start: Poses | None = None,
    seed: int = 0,
    effort: LayEffort | None = None,
    spread: bool = False,
    fields: Collection[int] | None = None,
    pool: Executor | None = None,
    stop: Callable[[int], bool] | None = None,
) -> Poses:
    """Poses of as many items as find a place, in `order` (hardest first), around those that `start` has placed.

    With `spread` every field is used from the beginning; without, a new field is opened only for a shape that finds
    no place in those in use; none but `fields` is used if they are given. `stop` is asked before each shape with the
    number of shapes tried. The same seed gives the same poses with any `pool`, or none.
    """
    count = len(prepared.problem.items)
    poses = _copied(start or Poses.none(count))
    laying = _Laying(prepared, effort or LayEffort(), seed, pool)
    laying.closed = (
        set(range(len(prepared.problem.fields))).difference(fields) if fields is not None else set()
    )
    for kept in np.flatnonzero(poses.field >= 0):
        laying.add_as_posed(int(kept), poses)
    for tried, item in enumerate(hardest_first(prepared, range(count)) if order is None else order):
        if poses.field[item] >= 0:
            continue
        if stop is not None and stop(tried):
            break
        laying.lay_item(item, poses, spread=spread)
    return poses


class _Place(NamedTuple):
    """A pose that fits, and its score: lower is better."""

    pose: ShapePose
    score: float


class _Laying:
    """What lies on all fields while shapes are laid."""

    def __init__(
        self, prepared: PreparedProblem, effort: LayEffort, seed: int, pool: Executor | None
    ) -> None:
        self.prepared = prepared
        self.effort = effort
        self.seed = seed
        self.pool = pool
        self.field_of = prepared.options.field.tolist()
        """The field of each option."""
        self.occupancies: dict[int, FieldOccupancy] = {}
        self.used = [False] * len(prepared.problem.fields)
        self.closed: set[int] = set()
        """Fields that nothing more is laid on."""
        self._full: set[bytes] = set()
        """What was asked of a field and found no place there."""
        self._asked: dict[int, bytes] = {}
        self._edges: list[list[float]] = [[] for _ in self.used]
        """Directions (degrees) of the main edges of what lies on each field."""
        self._worth: dict[tuple[int, tuple[int, ...]], Singles] = {}
        shapes = prepared.shapes
        largest_disc = float(shapes.disc_radius[:, 0].max()) if len(shapes.disc_radius) else 0.0
        self.reach = max(largest_disc, effort.loose * float(shapes.hull_size.max(initial=0.0)))
        """mm round a shape within which the raster of room is kept."""
        for number, (field, ring) in enumerate(prepared.problem.fixed):
            x, y = middle_of(np.ascontiguousarray(ring, np.float64))
            shape = prepared.fixed_shapes[number]
            add_shape(shapes, self.occupancy(field), shape, x, y, 0.0, self.reach)
            self.used[field] = True

    def occupancy(self, field: int) -> FieldOccupancy:
        """What lies on a field; made when first asked for."""
        if field not in self.occupancies:
            grid = self.prepared.grid_of(field)
            count = len(self.prepared.problem.items) + len(self.prepared.problem.fixed)
            self.occupancies[field] = FieldOccupancy(
                rows=empty_rows(self.prepared.shapes, count),
                x=np.zeros(count),
                y=np.zeros(count),
                number=np.zeros(1, np.int64),
                grid=grid,
                room=np.full((grid.rows, grid.columns), self.reach + 2.0 * grid.cell, np.float32),
            )
        return self.occupancies[field]

    def lay_item(self, item: int, poses: Poses, *, spread: bool) -> bool:
        """Lay an item at its best place and enter it in the poses; False where it has none."""
        is_open = [o for o in self.prepared.options_of(item) if self.field_of[o] not in self.closed]
        options = [o for o in is_open if self._what_is_asked(o) not in self._full]
        groups = self._groups_in_use(options, spread=spread)
        if not spread:
            groups += self._groups_to_open(options)
        for group in groups:
            pose = self._best_pose(item, group)
            if pose is not None:
                self._enter(item, pose, poses)
                return True
        return False

    def add_as_posed(self, item: int, poses: Poses) -> None:
        """Let an item lie where its pose says."""
        field, flipped = int(poses.field[item]), bool(poses.flipped[item])
        for option in self.prepared.options_of(item):
            if self.field_of[option] == field and self.prepared.options.flipped[option] == flipped:
                angle = float(poses.angle[item])
                mx, my = _turned(self.prepared.options.middle[option], angle)
                self._add(ShapePose(option, poses.x[item] + mx, poses.y[item] + my, angle))
                return

    def _groups_in_use(self, options: Sequence[int], *, spread: bool) -> list[list[int]]:
        """Options on the fields in use (with `spread` on all), a few fields at a time: where hides are many, a shape
        that finds a place on the first few does not look at the others."""
        here = [o for o in options if spread or self.used[self.field_of[o]]]
        fields = sorted({self.field_of[o] for o in here})
        chunks = [set(fields[k : k + FIELDS_TOGETHER]) for k in range(0, len(fields), FIELDS_TOGETHER)]
        return [[o for o in here if self.field_of[o] in chunk] for chunk in chunks]

    def _groups_to_open(self, options: Iterable[int]) -> list[list[int]]:
        """Options on fields not in use, field by field: cheap first."""
        groups: dict[int, list[int]] = {}
        for option in options:
            if not self.used[self.field_of[option]]:
                groups.setdefault(self.field_of[option], []).append(option)
        return [groups[field] for field in sorted(groups, key=lambda f: (self._cost(groups[f][0]), f))]

    def _cost(self, option: int) -> float:
        """What opening an option's field costs for each mm² it has."""
        area = float(self.prepared.problem.fields[self.field_of[option]].area)
        return self._costs[option] / max(area, 1.0)

    @cached_property
    def _costs(self) -> list[float]:
        return [option.cost for item in self.prepared.problem.items for option in item.options]

    def _what_is_asked(self, option: int) -> bytes:
        """The same for options that ask the same of the same field: where one has no place, none has."""
        if option not in self._asked:
            options = self.prepared.options
            contained = slice(*options.containment_start[option : option + 2].tolist())
            turns = slice(*options.turn_start[option : option + 2].tolist())
            asked: list[NDArray[Any]] = [
                options.containment_shape[contained],
                options.containment_area[contained],
                options.turn_low[turns],
                options.turn_high[turns],
                np.array([options.field[option], options.shape[option]]),
            ]
            self._asked[option] = b"".join(part.tobytes() for part in asked)
        return self._asked[option]

    def _best_pose(self, item: int, group: Sequence[int]) -> ShapePose | None:
        """The pose of least score among a group of an item's options; options without a place are noted as full."""
        if not group:
            return None
        share = max(len(group) ** 0.5, 1.0)
        samples = max(int(self.effort.samples / share / HALVES), LEAST_SAMPLES)
        refined = max(round(self.effort.refined / share / HALVES), LEAST_REFINED)
        jobs = [(item, option, half, samples, refined) for option in group for half in range(HALVES)]
        for option in group:
            # Made here, so that two threads do not make them twice.
            self.occupancy(self.field_of[option])
            self.prepared.depth_raster(option)
            self._worth_raster(option)
        run: Any = self.pool.map if self.pool is not None else map
        found: list[_Place | None] = list(run(lambda job: self._search(*job), jobs))
        for number, option in enumerate(group):
            if all(place is None for place in found[number * HALVES : (number + 1) * HALVES]):
                self._full.add(self._what_is_asked(option))
        places = [place for place in found if place is not None]
        return min(places, key=lambda place: place.score).pose if places else None

    def _search(self, item: int, option: int, half: int, samples: int, refined: int) -> _Place | None:
        prepared = self.prepared
        occupancy, shape = self.occupancy(self.field_of[option]), int(prepared.options.shape[option])
        query = PlaceQuery(
            option=option,
            samples=samples,
            loose=self.effort.loose * float(prepared.shapes.hull_size[shape]),
            depth=prepared.depth_raster(option),
            worth=self._worth_raster(option),
            rim=prepared.rims[shape],
            favoured=self._favoured_turns(option),
        )
        seed = np.random.SeedSequence([self.seed, item, option, half])
        workspace = _workspace(prepared.shapes, occupancy.grid, KEPT_TO_REFINED * refined, seed)
        places = np.empty((refined, 4))
        records = prepared.shapes, prepared.areas, prepared.options
        if not find_places(*records, occupancy, query, workspace, places):
            return None
        x, y, angle, score = places[0].tolist()
        return _Place(ShapePose(option, x, y, angle), score)

    def _favoured_turns(self, option: int) -> Floats:
        """Turns that lay the shape's longest edge along an edge of the field or of a shape that lies there."""
        field, shape = self.field_of[option], int(self.prepared.options.shape[option])
        latest = np.array(self._edges[field][-LATEST_EDGES:])
        turns = np.concatenate([self.prepared.field_edges[field], latest]) - self.prepared.main_edges[shape]
        return np.unique(np.round(np.concatenate([turns, turns + 180.0]) % 360.0, 3))

    def _worth_raster(self, option: int) -> Singles:
        """Raster of what the leather of a field is worth to others than this option, 0 to 1, by area; with the
        drift."""
        field = self.field_of[option]
        key = field, self.prepared.areas_asked(option)
        if key not in self._worth:
            demands = self.prepared.demands_on(field)
            total = sum(size for size, _ in demands) or 1.0
            grid = self.prepared.grid_of(field)
            raster = np.zeros((grid.rows, grid.columns), np.float32)
            for size, held in demands:
                raster += self.effort.worth_to_others * size / total * held
            if self.effort.drift:
                raster += self.effort.drift * (np.arange(grid.columns) / grid.columns)[None, :]
            self._worth[key] = raster
        return self._worth[key]

    def _enter(self, item: int, pose: ShapePose, poses: Poses) -> None:
        """Let an item lie at a pose, and enter it in the poses."""
        options = self.prepared.options
        mx, my = _turned(options.middle[pose.option], pose.angle)
        poses.x[item], poses.y[item], poses.angle[item] = pose.x - mx, pose.y - my, pose.angle
        poses.flipped[item] = options.flipped[pose.option]
        poses.field[item] = options.field[pose.option]
        self._add(pose)

    def _add(self, pose: ShapePose) -> None:
        """Let an option's shape lie at a pose."""
        field, shape = self.field_of[pose.option], int(self.prepared.options.shape[pose.option])
        x, y, angle = float(pose.x), float(pose.y), pose.angle
        add_shape(self.prepared.shapes, self.occupancy(field), shape, x, y, angle, self.reach)
        self.used[field] = True
        self._edges[field].append(float(self.prepared.main_edges[shape]) + angle)


def _copied(poses: Poses) -> Poses:
    """Poses that may be changed while the given ones stay."""
    return Poses(poses.x.copy(), poses.y.copy(), poses.angle.copy(), poses.flipped.copy(), poses.field.copy())


def _workspace(shapes: Shapes, grid: Grid, kept: int, seed: np.random.SeedSequence) -> PlaceWorkspace:
    nodes = grid.rows * grid.columns
    return PlaceWorkspace(
        rows=empty_rows(shapes, 2),
        clearance=np.empty((grid.rows, grid.columns), np.float32),
        open_nodes=np.empty(nodes, np.int32),
        snug_nodes=np.empty(nodes, np.int32),
        best=np.empty((kept, 4)),
        random_state=seed.generate_state(1, np.uint64).astype(np.uint64),
    )


def _turned(point: Floats, angle: float) -> tuple[float, float]:
    t = math.radians(angle)
    return (
        math.cos(t) * float(point[0]) - math.sin(t) * float(point[1]),
        math.sin(t) * float(point[0]) + math.cos(t) * float(point[1]),
    )
