"""What whole sets are made of, and what a layout lacks for the next one.

Items of one kind are alike, so sets are counted, not named. Not here: how anything is laid.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["SetTargets"]


@dataclass(frozen=True, eq=False)
class SetTargets:
    """The articles of a job as counts of kinds of item.

    `kinds (N,)`: the kind of each item; `needs[a]`: how many of each kind one set of article a takes; `asked[a]` and
    `most[a]`: sets asked, and sets there are items for; `held[a]`: items of each kind that lie fixed already.
    `size (N,)`: area of each item, mm²;
    `able (N,)`: whether any hide may take it at all.
    """

    kinds: NDArray[np.int64]
    needs: tuple[dict[int, int], ...]
    asked: tuple[int, ...]
    most: tuple[int, ...]
    held: tuple[dict[int, int], ...]
    size: NDArray[np.float64]
    able: NDArray[np.bool_]

    def counts(self, placed: NDArray[np.bool_]) -> Counter[int]:
        """How many of each kind lie."""
        found: Counter[int] = Counter(self.kinds[placed].tolist())
        for held in self.held:
            found.update(held)
        return found

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
        barred = set(self.kinds[~self.able].tolist())
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

    def spares(self, placed: NDArray[np.bool_], articles: Iterable[int] = ()) -> list[int]:
        """Items that lie but belong to no whole set, nor to the next one of `articles`."""
        counts, whole = self.counts(placed), self.whole(placed)
        next_ones = set(articles)
        found: list[int] = []
        for article, need in enumerate(self.needs):
            for kind, n in need.items():
                extra = counts[kind] - (whole[article] + (article in next_ones)) * n
                if extra > 0:
                    found += [int(i) for i in np.flatnonzero((self.kinds == kind) & placed)[-extra:]]
        return found

    def pieces_left(self, placed: NDArray[np.bool_]) -> Sequence[int]:
        """One item of each kind that does not lie yet and that a set may still ask for, largest first."""
        firsts: dict[int, int] = {}
        for i in np.flatnonzero(~placed & self.able).tolist():
            firsts.setdefault(int(self.kinds[i]), int(i))
        return sorted(firsts.values(), key=lambda i: (-self.size[i], i))
