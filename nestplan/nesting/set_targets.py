"""What whole sets are made of, and what a layout lacks for the next one.

Items of one kind are alike, so sets are counted, not named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["SetTargets"]


@dataclass(frozen=True, eq=False)
class SetTargets:
    """The articles of a job as counts of kinds of item.

    `kinds (N,)`: the kind of each item. `needs[a]`: how many of each kind one set of article a takes.
    `asked[a]` and `most[a]`: sets of article a asked for, and sets there are items for.
    `kept`: how many of each kind lie fixed already. `size (N,)`: area of each item, mm².
    `placeable (N,)`: whether any hide may take the item at all.
    """

    kinds: NDArray[np.int64]
    needs: tuple[dict[int, int], ...]
    asked: tuple[int, ...]
    most: tuple[int, ...]
    kept: dict[int, int]
    size: NDArray[np.float64]
    placeable: NDArray[np.bool_]

    def counts(self, placed: NDArray[np.bool_]) -> Counter[int]:
        """How many of each kind lie, what is kept included; `placed (N,)` tells which items do."""
        return Counter(self.kinds[placed].tolist()) + Counter(self.kept)

    def whole(self, placed: NDArray[np.bool_]) -> tuple[int, ...]:
        """Whole sets of each article among the items that lie."""
        counts = self.counts(placed)
        return tuple(
            min((counts[kind] // n for kind, n in need.items()), default=most)
            for need, most in zip(self.needs, self.most, strict=True)
        )

    def merit(self, placed: NDArray[np.bool_]) -> tuple[float, float]:
        """Whole sets as shares of those asked, then area that lies: what more is better of."""
        sets = sum(min(w, m) / a for w, m, a in zip(self.whole(placed), self.most, self.asked, strict=True))
        return round(sets, 9), float(self.size[placed].sum())

    def targets(self, placed: NDArray[np.bool_]) -> list[int]:
        """Articles that could have one more set, the one that lags most first."""
        whole = self.whole(placed)
        barred = set(self.kinds[~self.placeable].tolist())
        open_ones = [
            a
            for a, need in enumerate(self.needs)
            if need and whole[a] < self.most[a] and not barred.intersection(need)
        ]
        return sorted(open_ones, key=lambda a: ((whole[a] + 1) / self.asked[a], a))

    def lacking(self, placed: NDArray[np.bool_], article: int) -> list[int]:
        """Items, one for each thing that the article's next set lacks, largest first."""
        counts, whole = self.counts(placed), self.whole(placed)[article]
        found: list[int] = []
        for kind, n in self.needs[article].items():
            short = (whole + 1) * n - counts[kind]
            if short > 0:
                found += [int(i) for i in np.flatnonzero((self.kinds == kind) & ~placed)[:short]]
        return sorted(found, key=lambda i: (-self.size[i], i))

    def spares(self, placed: NDArray[np.bool_]) -> list[int]:
        """Items that lie but belong to no whole set."""
        counts, whole = self.counts(placed), self.whole(placed)
        found: list[int] = []
        for article, need in enumerate(self.needs):
            for kind, n in need.items():
                extra = counts[kind] - whole[article] * n
                if extra > 0:
                    found += [int(i) for i in np.flatnonzero((self.kinds == kind) & placed)[-extra:]]
        return found

    def pieces_left(self, placed: NDArray[np.bool_]) -> Sequence[int]:
        """One item of each kind that does not lie yet and that a set may still ask for, largest first."""
        firsts: dict[int, int] = {}
        for i in np.flatnonzero(~placed & self.placeable).tolist():
            firsts.setdefault(int(self.kinds[i]), int(i))
        return sorted(firsts.values(), key=lambda i: (-self.size[i], i))
