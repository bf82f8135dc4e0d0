"""A layout of boxes and bars, and the sets that they make, for the tests of the search."""

from __future__ import annotations

import numpy as np
import shapely

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.construct.lay import lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.set_targets import SetTargets

BOX = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]])
BAR = np.array([[0.0, 0.0], [130.0, 0.0], [130.0, 30.0], [0.0, 30.0]])


def laid(count: int, *fields: shapely.Polygon, turns: Turns | None = None) -> Layout:
    """Boxes and bars by turns, laid as far as they find a place."""
    items = tuple(
        Item(
            ring,
            kind,
            tuple(
                PlacementOption(f, turns or Turns.any(), (Containment(ring, field),))
                for f, field in enumerate(fields)
            ),
        )
        for kind, ring in [(0, BOX), (1, BAR)] * count
    )
    layout = Layout(Problem(fields, items), seed=1)
    place_poses(layout, lay(PreparedProblem.from_layout(layout)))
    return layout


def targets_of(layout: Layout) -> SetTargets:
    kinds = np.array([item.kind for item in layout.problem.items])
    size = np.where(kinds == 0, 3600.0, 3900.0)
    count = len(kinds) // 2
    return SetTargets(kinds, ({0: 1, 1: 1},), (count,), (count,), {}, size, np.ones(len(kinds), bool))
