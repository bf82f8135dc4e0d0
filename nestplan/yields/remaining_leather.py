"""What a cut leaves of each hide for the rack: the leather as it lies there, and the net area that was cut; and the
offcuts of a plan measured after the fact.

Which of it counts as an offcut in a plan's figures is told in `figures`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import shapely
from msgspec.structs import replace

from nestplan.geometry.ring import to_polygon
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan
from nestplan.yields.figures import figures_of, with_measures
from nestplan.yields.offcuts import offcuts_of

__all__ = ["RemainingLeather", "remaining_leather", "with_measured_offcuts"]


@dataclass(frozen=True)
class RemainingLeather:
    """By hide: useful offcuts (hide coordinates, mm), and the area of finished pieces and strips (mm²)."""

    offcuts: dict[str, list[shapely.Polygon]]
    net: dict[str, float]


def remaining_leather(
    plan: Plan, job: Job, hides: Sequence[Hide], *, least_area: float = 0.0
) -> RemainingLeather:
    """What is left of the hides that `plan` places something on.

    An offcut is a part of the leather that no cut shape took, opened by the job's useful width, flaws and all.
    It is kept if it is `least_area` mm² or more and holds sound leather of that width (an offcut of the
    plan's figures, which leave flaws out).
    """
    figures = figures_of(plan, job, hides, measured=False)
    offcuts: dict[str, list[shapely.Polygon]] = {}
    for hide in hides:
        cut = [to_polygon(placed.cut_ring) for placed in plan.placements if placed.hide == hide.name]
        if not cut:
            continue
        sound = shapely.union_all(
            [shapely.Polygon(each.outline, each.holes) for each in figures.offcuts if each.hide == hide.name]
        )
        free = hide.surface.difference(shapely.union_all(cut))
        parts = offcuts_of(hide.name, free, job.useful_width, measured=False)
        polygons = [shapely.Polygon(part.outline, part.holes) for part in parts]
        offcuts[hide.name] = [each for each in polygons if each.area >= least_area and each.intersects(sound)]
    return RemainingLeather(offcuts, {row.hide: row.net for row in figures.hides})


def with_measured_offcuts(plan: Plan, job: Job, *, stop: Callable[[], bool] = lambda: False) -> Plan:
    """The plan with its offcuts' rectangles, discs and lace measured, where a search cut short left them out; as far as
    it gets before `stop` says so.

    A plan that is measured already is given back as it is.
    """
    figures = plan.figures
    if figures is None or stop() or not any(offcut.rectangle_width == 0.0 for offcut in figures.offcuts):
        return plan
    return replace(plan, figures=with_measures(figures, job, stop=stop))
