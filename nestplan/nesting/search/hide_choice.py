"""Which hides to use: choices that cost less than the one at hand.

By area alone: what the pieces have together against what the hides have that they may lie on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from nestplan.nesting.problem import Bools, Floats, Item, Problem

__all__ = ["Choice", "HideChoices"]

Choice = frozenset[int]
"""Numbers of the fields in use."""

FEW_FIELDS = 9
"""Fields up to which every choice is looked at; of more only those near the one at hand."""
DENSEST = 0.97
"""Share of a choice's area that pieces may come to at the most for it to be tried."""


@dataclass(frozen=True, eq=False)
class HideChoices:
    """What is to lie and where it may, as far as choosing hides needs to know.

    `groups`: for each set of fields that some items may lie on, the area of these items (mm²), that set's subsets
    included; `capacity (F,)`: usable area of each field (mm²); `costs (F,)`; `needed`: fields in use anyhow.
    """

    groups: dict[Choice, float]
    capacity: Floats
    costs: Floats
    needed: Choice

    @classmethod
    def of(cls, problem: Problem, wanted: Bools, costs: Floats, needed: Choice) -> HideChoices:
        """The choices for the `wanted (N,)` items of a problem, with the cost of using each of its fields."""
        sizes: dict[Choice, float] = {}
        capacity = np.zeros(len(problem.fields))
        area_of: dict[int, float] = {}
        for item in (problem.items[index] for index in np.flatnonzero(wanted)):
            fields = frozenset(option.field for option in item.options)
            sizes[fields] = sizes.get(fields, 0.0) + _area_held(item)
            for option in item.options:
                for constraint in option.constraints:
                    area_of.setdefault(id(constraint.area), float(constraint.area.area))
                narrow = min(area_of[id(constraint.area)] for constraint in option.constraints)
                capacity[option.field] = max(capacity[option.field], narrow)
        for index, ring in problem.fixed:
            capacity[index] = max(capacity[index] - float(shapely.Polygon(ring).area), 0.0)
        groups = {
            fields: sum(size for inner, size in sizes.items() if inner <= fields)
            for fields in sizes
            if fields
        }
        return cls(groups, capacity, costs, needed)

    def cost(self, choice: Choice) -> float:
        """What the fields of a choice cost together."""
        return float(sum(self.costs[field] for field in sorted(choice)))

    def density(self, choice: Choice) -> float:
        """The area of what is to lie over the area that a choice has for it; infinite where it has none."""
        worst = 0.0
        for fields, size in self.groups.items():
            room = float(sum(self.capacity[field] for field in sorted(fields & choice)))
            worst = max(worst, size / room if room > 0.0 else np.inf)
        return worst

    def cheaper(self, now: Choice) -> list[Choice]:
        """Choices that cost less than the one at hand and may hold all, those with most room first."""
        limit = self.cost(now) * (1.0 - 1e-9)
        found = {choice: self.density(choice) for choice in set(self._near(now)) if self.cost(choice) < limit}
        possible = [choice for choice in found if found[choice] <= DENSEST]
        return sorted(possible, key=lambda choice: (found[choice], self.cost(choice), sorted(choice)))

    def _near(self, now: Choice) -> Iterator[Choice]:
        """Every choice where there are few fields; else those with one or two fields fewer and one more, and the
        roomiest with one field fewer."""
        every = range(len(self.costs))
        if len(self.costs) <= FEW_FIELDS:
            for count in range(1, len(self.costs) + 1):
                for fields in combinations(every, count):
                    if self.needed <= frozenset(fields):
                        yield frozenset(fields)
            return
        free = sorted(now - self.needed)
        unused = [field for field in every if field not in now]
        for first in free:
            for second in free:
                for added in (None, *unused):
                    yield (now - {first, second}) | (frozenset() if added is None else {added})
        others = [
            field for field in np.argsort(-self.capacity, kind="stable").tolist() if field not in self.needed
        ]
        yield self.needed | frozenset(others[: max(len(now) - 1 - len(self.needed), 0)])


def _area_held(item: Item) -> float:
    """Area (mm²) of the largest ring that some area must hold for an item to lie."""
    rings = {id(each.ring): each.ring for option in item.options[:1] for each in option.constraints}
    return max((float(shapely.Polygon(ring).area) for ring in rings.values()), default=0.0)
