"""Drawing what lies on each hide to one side of it, so that what is left is one large offcut."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestplan.geometry.inscribed import opening
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.gather import GatherDirection, GatherSchedule, gather

__all__ = ["gather_fields", "largest_offcut"]

SCOUTING_SHARE = 0.3
"""Share of the budget for finding out which side leaves most."""

SCOUTING = GatherSchedule(first_jump=0.0)
"""A side is scouted from where all lies; laying anew would take too much of so short a search."""

Normal = tuple[float, float]


def gather_fields(
    layout: Layout,
    normals: Sequence[Sequence[Normal]],
    useful_width: float,
    budget: SearchBudget,
    *,
    seed: int = 0,
    workers: int = 2,
    on_improved: Callable[[], None] = lambda: None,
) -> None:
    """Draw what lies on each used field to the side that leaves the largest useful offcut.

    `normals[field]` are unit normals: items come to lie low along one of them. The fields come one after another, each
    with a share of the budget by the area that is free on it. Each of a field's normals is scouted for a share of that,
    from the poses given, then the best is gathered on. The layout must be feasible; it stays so, and no field's largest
    offcut gets smaller.
    """
    on = layout.fields()
    fields = sorted(set(on[on >= 0].tolist()))
    offcuts = {field: largest_offcut(layout, field, useful_width) for field in fields}
    scouting = SCOUTING_SHARE if any(len(normals[f]) > 1 for f in fields) else 0.0
    begun = budget.fraction_used()
    free = np.array([free_area(layout, field) for field in fields])
    shares = begun + (1.0 - begun) * np.concatenate(([0.0], np.cumsum(free) / max(float(free.sum()), 1.0)))
    settings = _GatherSettings(useful_width, budget, seed, workers, on_improved)
    for field, low, high in zip(fields, shares[:-1].tolist(), shares[1:].tolist(), strict=True):
        gathering = _FieldGathering(layout, field, offcuts[field], settings)
        if scouting:
            for k, normal in enumerate(normals[field]):
                layout.restore(gathering.start)
                until = low + (high - low) * scouting * (k + 1) / len(normals[field])
                gathering.gather(normal, until, SCOUTING)
        if budget.is_spent():
            return
        gathering.gather(gathering.best_normal or normals[field][0], high)


@dataclass(frozen=True)
class _GatherSettings:
    useful_width: float
    budget: SearchBudget
    seed: int
    workers: int
    on_improved: Callable[[], None]


class _FieldGathering:
    """One field gathered several times, and the poses that left the largest offcut (mm²)."""

    def __init__(self, layout: Layout, field: int, offcut: float, settings: _GatherSettings) -> None:
        self.layout, self.field, self.settings = layout, field, settings
        self.start = layout.snapshot()
        self._best, self._offcut = self.start, offcut
        self._tried: list[tuple[float, Normal]] = []

    @property
    def best_normal(self) -> Normal | None:
        """Of those tried the one that left most, the first of equals; None before any was tried."""
        return max(self._tried, key=lambda tried: tried[0])[1] if self._tried else None

    def gather(self, normal: Normal, until: float, schedule: GatherSchedule = GatherSchedule()) -> None:
        """Gather from the poses as they are until that share of the budget is used; the layout is left at the best."""
        settings, budget = self.settings, self.settings.budget
        began = budget.fraction_used()
        first = budget.progress.passes

        def share(rounds: int) -> float:
            while budget.progress.passes < first + rounds:
                budget.count_pass()
            if budget.is_spent():
                return 1.0
            return min((budget.fraction_used() - began) / max(until - began, 1e-9), 1.0)

        gather(
            self.layout,
            GatherDirection(self.field, normal),
            share=share,
            stop=lambda _: budget.deadline_passed(),
            seed=settings.seed,
            workers=settings.workers,
            schedule=schedule,
        )
        offcut = largest_offcut(self.layout, self.field, settings.useful_width)
        self._tried.append((offcut, normal))
        if offcut > self._offcut:
            self._offcut, self._best = offcut, self.layout.snapshot()
            settings.on_improved()
        self.layout.restore(self._best)


def largest_offcut(layout: Layout, field: int, useful_width: float) -> float:
    """Area of the largest connected part of a field that is left, opened by the useful width, mm²."""
    left = layout.problem.fields[field].difference(shapely.union_all(_shapes_on(layout, field)))
    return max((float(part.area) for part in opening(left, useful_width).geoms), default=0.0)


def free_area(layout: Layout, field: int) -> float:
    """Area of a field that nothing lies on, mm²."""
    taken = sum(float(shape.area) for shape in _shapes_on(layout, field))
    return max(float(layout.problem.fields[field].area) - taken, 0.0)


def _shapes_on(layout: Layout, field: int) -> list[shapely.Polygon]:
    """All that lies on a field."""
    poses = layout.poses()
    here = np.flatnonzero(poses.field == field).tolist()
    rings = [poses.ring_of(layout.problem.items[item], item) for item in here]
    rings += [ring for index, ring in layout.problem.fixed if index == field]
    return [shapely.Polygon(ring) for ring in rings]
