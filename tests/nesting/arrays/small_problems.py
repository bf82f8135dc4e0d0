"""Small problems that the tests of the arrays share: two shapes on a field with a hole, and what is packed of them."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem

FIELD = Polygon(
    [(0, 0), (420, 10), (450, 200), (430, 330), (20, 340), (40, 150)],
    [[(200, 150), (200, 180), (230, 180), (230, 150)]],
)
ELL = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 30.0], [30.0, 30.0], [30.0, 90.0], [0.0, 90.0]])
BAR = np.array([[0.0, 0.0], [120.0, 0.0], [120.0, 25.0], [0.0, 25.0]])
HALVES = Turns.of([(0.0, 0.0), (180.0, 180.0)])


def problem(*, turns: Turns | None = None, ells: int = 2, bars: int = 2) -> Problem:
    """L-shapes and bars on a field with a hole."""
    turns = turns or Turns.any()
    items = [Item(ELL, 0, (PlacementOption(0, turns, (Containment(ELL, FIELD),)),))] * ells
    items += [Item(BAR, 1, (PlacementOption(0, turns, (Containment(BAR, FIELD),)),))] * bars
    return Problem((FIELD,), tuple(items))


def layout(*, turns: Turns | None = None, ells: int = 2, bars: int = 2, seed: int = 1) -> Layout:
    """The same as a layout with nothing placed."""
    return Layout(problem(turns=turns, ells=ells, bars=bars), seed=seed)


def ring_where(on: Layout, item: int) -> Polygon:
    """Where an item lies, as a polygon."""
    return Polygon(on.poses().ring_of(on.problem.items[item], item))
