"""What was seen to lie together on a field: sets of items, kept while chains of moves come upon them, and put together
anew so that least waits for a place.

A chain changes one field at a time and forgets what lay there before. Of all that ever lay on each field the
densest sets are kept, each with its poses; one of them for each field, of different moments, may hold more than any
moment did. Choosing them is set packing: items of a kind are alike, so a choice counts what its sets hold of each
kind, and no more than there are items. After Foster and Ryan (1976), who choose routes so that were found one by
one; here by local search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Snapshot
from nestplan.nesting.problem import Floats, Ints

__all__ = ["SeenTogether"]

MOST_SETS = 300
"""Sets kept of each field."""
SHARE_OF_DENSEST = 0.5
"""Least area of a set that is kept, as a share of the largest one of its field."""
FEWEST_DISTURBANCES, DISTURBANCES_IN_ALL = 12, 2000
"""Times that a choice is disturbed and bettered again: at least, and for all fields together, so that it takes about a
tenth of a second."""
DISTURBED = 3
"""Fields that are given another set by chance each time."""


@dataclass(eq=False)
class _Sets:
    """The sets of one field: `counts (S, K)` of each kind, `area (S,)`, and of each set its items with their poses."""

    counts: Ints
    area: Floats
    poses: list[tuple[Ints, Floats]]
    known: set[bytes]


class SeenTogether:
    """The sets seen on each field. `size (I,)` is what each item is worth."""

    def __init__(self, layout: Layout, size: Floats) -> None:
        kinds, self._kind_of = np.unique(layout.options.kind[: layout.item_count], return_inverse=True)
        self._size = np.zeros(len(kinds))
        self._size[self._kind_of] = size
        self._first_option = np.asarray(layout.options.start)
        fields = len(layout.problem.fields)
        none = np.zeros((0, len(kinds)), np.int64)
        self._fields = [_Sets(none, np.zeros(0), [], set()) for _ in range(fields)]
        self._last: list[bytes] = [b""] * fields

    def note(self, layout: Layout) -> None:
        """Keep what lies on each field now, without overlap, where it is new and dense enough."""
        on = layout.fields()
        for field in range(len(self._fields)):
            items = np.flatnonzero(on == field)
            if not len(items):
                continue
            counts = np.bincount(self._kind_of[items], minlength=len(self._size))
            key = counts.tobytes()
            if key == self._last[field]:
                continue
            self._last[field] = key
            self._keep(field, counts, key, items, layout)

    def _keep(self, field: int, counts: Ints, key: bytes, items: Ints, layout: Layout) -> None:
        own, area = self._fields[field], float(counts @ self._size)
        if key in own.known or area < SHARE_OF_DENSEST * own.area.max(initial=0.0):
            return
        if len(own.area) >= MOST_SETS:
            least = int(own.area.argmin())
            if own.area[least] >= area:
                return
            own.known.discard(own.counts[least].tobytes())
            own.counts = np.delete(own.counts, least, axis=0)
            own.area = np.delete(own.area, least)
            del own.poses[least]
        state = layout.state
        first = self._first_option[items]
        kept = np.stack([self._kind_of[items], state.option[items] - first])
        where = np.stack([state.x[items], state.y[items], state.angle[items]], axis=1)
        own.counts = np.vstack([own.counts, counts])
        own.area = np.append(own.area, area)
        own.poses.append((kept, where))
        own.known.add(key)

    def put_together(
        self, wanted: Ints, fields: Ints, rng: np.random.Generator
    ) -> tuple[Snapshot, list[int]]:
        """Poses of the wanted items, one set for each of the fields, and the items that wait for a place.

        Of choices bettered from several beginnings drawn by chance the one in which least waits.
        """
        demand = np.bincount(self._kind_of[wanted], minlength=len(self._size))
        open_fields = [int(field) for field in fields if len(self._fields[field].area)]
        chosen = {field: int(rng.integers(len(self._fields[field].area))) for field in open_fields}
        best, best_worth = chosen, -1.0
        for _ in range(max(DISTURBANCES_IN_ALL // max(len(open_fields), 1), FEWEST_DISTURBANCES)):
            chosen = dict(chosen)
            worth = self._bettered(chosen, demand, rng)
            if worth >= best_worth:
                best, best_worth = dict(chosen), worth
            chosen = dict(best)
            for field in rng.permutation(open_fields)[:DISTURBED].tolist():
                chosen[field] = int(rng.integers(len(self._fields[field].area)))
        return self._poses_of(best, wanted)

    def _bettered(self, chosen: dict[int, int], demand: Ints, rng: np.random.Generator) -> float:
        """Give one field after another the set that is best beside the others, until none is better; what lies then."""
        total = sum((self._fields[f].counts[s] for f, s in chosen.items()), np.zeros_like(demand))
        worth = float(np.minimum(total, demand) @ self._size)
        while True:
            before = worth
            for field in rng.permutation(list(chosen)).tolist():
                counts = self._fields[field].counts
                others = total - counts[chosen[field]]
                worths = np.minimum(counts + others, demand) @ self._size
                choice = int(worths.argmax())
                if worths[choice] > worth + 1e-6:
                    chosen[field], total, worth = choice, others + counts[choice], float(worths[choice])
            if worth <= before + 1e-6:
                return worth

    def _poses_of(self, chosen: dict[int, int], wanted: Ints) -> tuple[Snapshot, list[int]]:
        """The chosen sets laid, each kind by what is wanted of it; what is too much is left out."""
        free: dict[int, list[int]] = {}
        for item in sorted(wanted.tolist(), reverse=True):
            free.setdefault(int(self._kind_of[item]), []).append(item)
        count = len(self._kind_of)
        found = Snapshot(np.full(count, -1, np.int64), np.zeros(count), np.zeros(count), np.zeros(count))
        for field, number in sorted(chosen.items()):
            (kinds, options), where = self._fields[field].poses[number]
            for kind, option, (x, y, angle) in zip(kinds.tolist(), options.tolist(), where, strict=True):
                if free.get(kind):
                    item = free[kind].pop()
                    found.option[item] = self._first_option[item] + option
                    found.x[item], found.y[item], found.angle[item] = x, y, angle
        return found, sorted(item for items in free.values() for item in items)
