"""A first feasible layout with much room: items thrown at random on part of a field, then separated.

What lives here: the start that gather needs when nobody has laid the items yet. What does not: Lay, which builds a
good plan for hides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from nestplan.errors import RuleError
from nestplan.nesting.arrays.layout import Layout, Spot
from nestplan.nesting.arrays.search_kernels import draw_spot, draw_turn
from nestplan.nesting.search.gather import Side, lowest
from nestplan.nesting.search.separation import Effort, never, separate

__all__ = ["lay_loosely", "spread"]

FIRST_DENSITY = 0.6
GROWTH = 1.15


def lay_loosely(
    layout: Layout, side: Side, *, seed: int = 0, stop: Callable[[float], bool] = never
) -> Layout:
    """Lay all items on one side's field, feasibly but loosely, and give the layout back.

    The items are thrown at random on the lowest part of the field and separated; if that fails, on a part larger
    by `GROWTH`. Raises RuleError when even the whole field does not do.
    """
    shapes, pieces, state = layout.shapes, layout.pieces, layout.state
    state.random[0] += seed
    base = lowest(layout, side)
    far = -lowest(layout, Side(side.field, (-side.normal[0], -side.normal[1])))
    field = layout.problem.fields[side.field]
    area = float(
        sum(shapes.scale[pieces.allow_shape[layout.spots(item)[0]]] ** 2 for item in range(layout.items))
    )
    extent = (far - base) * min(1.0, area / FIRST_DENSITY / field.area)
    while True:
        layout.set_limit(side.field, side.normal, min(far, base + extent))
        spread(layout, side, range(layout.items))
        if separate(layout, stop=stop, effort=Effort(patience=30, strikes=1)):
            return layout
        if base + extent >= far or stop(layout.total()):
            raise RuleError(
                "The items do not all fit on the field.", mend="Take a larger field or fewer items."
            )
        extent *= GROWTH


def spread(layout: Layout, side: Side, items: Iterable[int]) -> None:
    """Throw items at random on a side's field, below its limit. Raises RuleError for one that may not lie there."""
    shapes, areas, pieces, state = layout.shapes, layout.areas, layout.pieces, layout.state
    for item in items:
        leave = [k for k in layout.spots(item) if pieces.allow_field[k] == side.field]
        if not leave:
            raise RuleError(f"Item {item} may not lie on field {side.field}.")
        angle = float(draw_turn(pieces, state, leave[0], 0.0, 0.0))
        x, y = draw_spot(shapes, areas, pieces, state, leave[0], angle)
        layout.place(item, Spot(leave[0], float(x), float(y), angle))
