"""Laying the items of one field anew below a limit, so that gathering can jump to a shorter part of the field.

Laying puts large items first and small ones into what is left between them, which a layout that shrinks step by step
hardly comes to: shirts of 99 items lie so within a second on a strip for which shrinking needs half a minute
(`tests.benchmarks.strip`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.packing import areas_cut_to
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem
from nestplan.nesting.problem import Poses

__all__ = ["LayingBelow"]

ORDER_SPREAD = 0.25
"""How far hardness is changed by chance for the order of laying: another order, another layout."""


class LayingBelow:
    """Lays the movable items of a layout's field anew below n·p = reach; makes ready once what all layings share."""

    def __init__(self, layout: Layout, field: int, normal: tuple[float, float]) -> None:
        self.prepared = PreparedProblem.from_layout(layout)
        self.field, self.normal = field, normal
        state = layout.state
        on_field = (layout.fields() == field) & state.movable[: layout.item_count]
        self.items: list[int] = np.flatnonzero(on_field).tolist()
        self.others = layout.poses()
        self.others.field[self.items] = -1
        self.effort = LayEffort.for_count(len(self.items))
        rings = (shapely.Polygon(layout.problem.items[item].ring) for item in self.items)
        self.sizes = {item: float(ring.area) for item, ring in zip(self.items, rings, strict=True)}

    @property
    def poses_for_one(self) -> int:
        """About so many poses one laying judges."""
        return self.effort.samples * len(self.items)

    def share_of(self, items: Sequence[int]) -> float:
        """Share of the area of all items that some of them have."""
        return sum(self.sizes[item] for item in items) / sum(self.sizes.values())

    def has_area(self, reach: float) -> bool:
        """Whether the field has the area of all items below a limit."""
        return float(self._room(reach).area) > sum(self.sizes.values())

    def lay(
        self, reach: float, seed: int, rng: np.random.Generator, stop: Callable[[int], bool]
    ) -> tuple[Poses, list[int]]:
        """Poses of all items, those of the field anew below a limit; and those that found no place, hardest first."""
        room = self._room(reach)
        problem = self.prepared.problem
        fields = tuple(room if k == self.field else outline for k, outline in enumerate(problem.fields))
        prepared = PreparedProblem(
            replace(problem, fields=fields),
            self.prepared.shapes,
            areas_cut_to(problem, room),
            self.prepared.options,
            self.prepared.fixed_shapes,
        )
        order = self._order(prepared, rng)
        poses = lay(
            prepared,
            order=order,
            start=self.others,
            seed=seed,
            effort=self.effort,
            fields=[self.field],
            stop=stop,
        )
        return poses, [item for item in order if poses.field[item] < 0]

    def _order(self, prepared: PreparedProblem, rng: np.random.Generator) -> Sequence[int]:
        """Hardest first, but for chance; those of a kind one after another."""
        kinds = [problem_item.kind for problem_item in prepared.problem.items]
        chance = dict.fromkeys(kinds, 0.0)
        for kind in sorted(chance):
            chance[kind] = float(np.exp(ORDER_SPREAD * rng.normal()))
        return sorted(self.items, key=lambda i: (-prepared.hardness[i] * chance[kinds[i]], kinds[i], i))

    def _room(self, reach: float) -> shapely.Polygon:
        """What of the field lies below a limit: its largest part."""
        outline = self.prepared.problem.fields[self.field]
        x0, y0, x1, y1 = outline.bounds
        nx, ny = self.normal
        middle = np.array([0.5 * (x0 + x1), 0.5 * (y0 + y1)])
        size = float(np.hypot(x1 - x0, y1 - y0))
        edge = middle + (reach - float(middle @ (nx, ny))) * np.array([nx, ny])
        along, back = size * np.array([-ny, nx]), 2.0 * size * np.array([nx, ny])
        half = shapely.Polygon([edge + along, edge - along, edge - along - back, edge + along - back])
        parts = [part for part in shapely.get_parts(shapely.intersection(outline, half)) if part.area > 0.0]
        return max(parts, key=lambda part: float(part.area), default=shapely.Polygon())
