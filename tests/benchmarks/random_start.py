"""A first feasible layout with much room: items thrown at random on part of a field, then separated.

The start that gather needs when nobody has laid the items yet; the laying of the product builds a good plan for hides
instead.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from nestplan.errors import RuleError
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.sampling_kernels import random_position, random_turn
from nestplan.nesting.search.gather import GatherDirection, lowest
from nestplan.nesting.search.separation import SeparationEffort, never
from tests.separating import separate

__all__ = ["lay_loosely", "throw", "throw_all"]

FIRST_DENSITY = 0.6
GROWTH = 1.15


def lay_loosely(
    layout: Layout, direction: GatherDirection, *, seed: int = 0, stop: Callable[[float], bool] = never
) -> Layout:
    """Lay all items on the direction's field, feasibly but loosely, and give the layout back.

    The items are thrown at random on the lowest part of the field and separated; if that fails, on a part larger
    by `GROWTH`. Raises RuleError when even the whole field does not do.
    """
    layout.state.random_state[0] += seed
    nx, ny = direction.normal
    start = lowest(layout, direction)
    end = -lowest(layout, GatherDirection(direction.field, (-nx, -ny)))
    field = layout.problem.fields[direction.field]
    first_shapes = layout.options.shape[layout.options.start[:-1]]
    area = float(sum(layout.shapes.hull_size[first_shapes] ** 2))
    extent = (end - start) * min(1.0, area / FIRST_DENSITY / field.area)
    while True:
        layout.set_limit(direction.field, direction.normal, min(end, start + extent))
        throw_all(layout, direction.field, range(layout.item_count))
        if separate(layout, stop=stop, effort=SeparationEffort(passes_without_gain=30, stalls=1)):
            return layout
        if start + extent >= end or stop(layout.total_loss()):
            raise RuleError(
                "The items do not all fit on the field.", mend="Take a larger field or fewer items."
            )
        extent *= GROWTH


def throw_all(layout: Layout, field: int, items: Iterable[int]) -> None:
    """Throw items at random on a field, below its limit. Raises RuleError for one that may not lie there."""
    for item in items:
        options = [k for k in layout.options_of(item) if layout.options.field[k] == field]
        if not options:
            raise RuleError(f"Item {item} may not lie on field {field}.")
        throw(layout, item, options[0])


def throw(layout: Layout, item: int, option: int) -> None:
    """Put an item at a random pose under an option."""
    angle = float(random_turn(layout.options, layout.state, option, 0.0, 0.0))
    x, y = random_position(*layout.records, option, angle)
    pose = layout.shape_pose(option, 0.0, 0.0, angle)
    layout.place(item, pose._replace(x=float(x), y=float(y)))
