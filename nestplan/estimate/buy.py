"""How much leather to buy for a number of sets, when the hides have not been seen: by simulated purchases.

A purchase takes hides of a kind as they come, one after the other, until a verified plan lays the whole job
on them. Many simulated purchases give the area and the number of hides that suffice in so many of a hundred.
What chance may do to a hide is `simulate`'s; all its figures go into the answer.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nestplan.errors import InputError, RuleError
from nestplan.estimate.combine import too_small
from nestplan.estimate.job_variants import apportion, job_for_kind, with_sets
from nestplan.estimate.planner import EnginePlanner, Planner, total_whole_sets
from nestplan.estimate.simulate import HideKind, simulate_hide
from nestplan.estimate.workers import Cancelling, SerialWorkers, Workers
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model.goals import COMPLETE
from nestplan.model.hide import Hide
from nestplan.model.job import Job

__all__ = [
    "SHARES",
    "BuyEstimate",
    "BuyFigure",
    "Purchase",
    "buy",
    "figure_for",
    "order_interval",
    "order_place",
    "purchase",
]

SHARES = (0.50, 0.80, 0.95)
"""The shares of purchases for which figures are given."""
MOST_HIDES = 60
"""Hides drawn for one purchase at most; a job that wants more is better asked in smaller numbers."""


@dataclass(frozen=True)
class Purchase:
    """One simulated purchase. `areas` are the seller's areas of its hides in the order bought, mm2.

    `enough` hides suffice for the job, one fewer do not; None if not even all of them do. `seen` are (hides,
    whole sets on them) for every number of hides that was planned.
    """

    number: int
    areas: tuple[float, ...]
    enough: int | None
    seen: tuple[tuple[int, int], ...]

    @property
    def short(self) -> float:
        """The largest area, mm2, that does not suffice in this purchase; infinite if none does.

        Who buys hides as they come until they have more than this, has enough.
        """
        return math.inf if self.enough is None else sum(self.areas[: self.enough - 1])

    def suffices(self, area: float) -> bool:
        """Whether buying hides as they come until they have more than `area` mm2 is enough."""
        return area >= self.short


@dataclass(frozen=True)
class BuyFigure:
    """What suffices in `share` of purchases.

    `area` (mm2, seller's): buy hides as they come until they have more than this. `area_range` is the 95 %
    confidence range of that figure, its upper end None where the purchases are too few to tell. `hides` is
    the number that suffices, with its range. `bought` is the mean area one has then paid for, and `money` its
    mean price (None without a price).
    """

    share: float
    area: float | None
    area_range: tuple[float, float | None]
    hides: int | None
    hides_range: tuple[int, int | None]
    bought: float | None
    money: float | None


@dataclass(frozen=True)
class BuyEstimate:
    """The answer of `buy` with everything it rests on. `net` is the finished area of the job, mm2."""

    job: str
    sets: tuple[tuple[str, int], ...]
    kind: HideKind
    planner: str
    seed: int
    figures: tuple[BuyFigure, ...]
    purchases: tuple[Purchase, ...]
    net: float
    seconds: float

    @property
    def wanted(self) -> int:
        """Sets asked, of all articles together."""
        return sum(number for _, number in self.sets)

    @property
    def title(self) -> str:
        """What a plot of `curve` is called."""
        return f"{self.job}: sets against {self.kind.kind.replace('-', ' ')} bought"

    @property
    def curve(self) -> tuple[tuple[float, int], ...]:
        """(area bought in mm2, whole sets) of every plan made, for a plot."""
        return tuple((sum(each.areas[:hides]), sets) for each in self.purchases for hides, sets in each.seen)


def buy(
    job: Job,
    kind: HideKind,
    *,
    sets: int | None = None,
    layer: str | None = None,
    draws: int = 100,
    seed: int = 0,
    curve_draws: int = 10,
    planner: Planner = EnginePlanner(),
    workers: Workers | None = None,
    on_done: Callable[[int, Purchase], None] | None = None,
    cancelled: Cancelling | None = None,
) -> BuyEstimate:
    """Leather of `kind` that suffices for `sets` sets (the job's own if None) in 50, 80 and 95 % of
    purchases.

    `draws` purchases are simulated from `seed`, each a task of its own; the first `curve_draws` are planned
    at every number of hides, so that sets can be plotted against area. Several articles share `sets` in the
    ratio of their sets in the job. `layer` tells which layer is to be bought where that is not clear.

    Raises InputError for too few draws or an unknown layer, RuleError where nothing of this kind is asked for or no
    number of hides was ever enough.
    """
    if draws < 10:
        raise InputError(
            f"{draws} draws are too few for an estimate.", mend="Take 10 or more.", place="--draws"
        )
    start = time.perf_counter()
    part = job_for_kind(job, kind.leather or kind.kind, layer)
    if sets is not None:
        part = with_sets(part, apportion(sets, {article.name: article.sets for article in part.articles}))
    tasks = [(part, kind, seed, number, number < curve_draws, planner) for number in range(draws)]
    purchases = (workers or SerialWorkers()).map(purchase, tasks, on_done=on_done, cancelled=cancelled)
    if all(each.enough is None for each in purchases):
        raise RuleError(
            f"No purchase of up to {MOST_HIDES} hides held the whole job.",
            mend="A piece may be too large for this kind of hide or its rules too strict: plan it on one to see why.",
        )
    figures = tuple(figure_for(share, purchases, kind, seed) for share in SHARES)
    return BuyEstimate(
        job=job.name,
        sets=tuple((article.name, article.sets) for article in part.articles),
        kind=kind,
        planner=getattr(planner, "words", ""),
        seed=seed,
        figures=figures,
        purchases=tuple(purchases),
        net=_net_area(part),
        seconds=time.perf_counter() - start,
    )


def purchase(task: tuple[Job, HideKind, int, int, bool, Planner]) -> Purchase:
    """One purchase: hides drawn until a plan lays the whole job on them.

    The search for the least number starts at a guess from the area and goes up or down from there; a plan on
    more hides is taken to hold whatever a plan on fewer holds. `task` is (job, kind, seed, number of the
    purchase, whether to plan every number of hides from one, planner).
    """
    job, kind, seed, number, whole_curve, planner = task
    hides: list[Hide] = []
    seen: dict[int, tuple[int, bool]] = {}

    def done(size: int) -> bool:
        while len(hides) < size:
            hides.append(simulate_hide(kind, seed, number * MOST_HIDES + len(hides)))
        if size not in seen:
            if not whole_curve and too_small(job, hides[:size]):
                return False
            plan = planner.plan(job, hides[:size], COMPLETE.name)
            seen[size] = (total_whole_sets(plan), not plan.unplaced)
        return seen[size][1]

    size = 1 if whole_curve else max(1, min(math.ceil(_net_area(job) / (0.7 * kind.area)), MOST_HIDES))
    while size > 1 and done(size) and done(size - 1):
        size -= 1
    while not done(size) and size < MOST_HIDES and not _hopeless(seen):
        size += 1
    enough = size if done(size) else None
    areas = tuple(hide.area_paid_for for hide in hides)
    return Purchase(
        number, areas, enough, tuple((hides_used, seen[hides_used][0]) for hides_used in sorted(seen))
    )


def figure_for(share: float, purchases: Sequence[Purchase], kind: HideKind, seed: int) -> BuyFigure:
    """The figure that suffices in `share` of purchases, from simulated ones."""
    draws = len(purchases)
    shorts = sorted(each.short for each in purchases)
    counts = sorted(each.enough or math.inf for each in purchases)
    place, (low, high) = order_place(share, draws), order_interval(share, draws)
    area = _finite(shorts[place - 1]) if place <= draws else None
    hides = _finite(counts[place - 1]) if place <= draws else None
    top_area = _finite(shorts[high - 1]) if high <= draws else None
    top_hides = _finite(counts[high - 1]) if high <= draws else None
    bought = None
    if area is not None:
        bought = sum(_bought(each, area, kind, seed) for each in purchases) / draws
    return BuyFigure(
        share=share,
        area=area,
        area_range=(shorts[low - 1], top_area),
        hides=None if hides is None else int(hides),
        hides_range=(int(min(counts[low - 1], MOST_HIDES)), None if top_hides is None else int(top_hides)),
        bought=bought,
        money=None if bought is None or kind.price is None else bought / MM2_PER_FT2 * kind.price,
    )


def order_place(share: float, draws: int) -> int:
    """Which of `draws` sorted values is not passed by a new one with probability `share`, counted from 1.

    A new value is at most the r-th of n with probability r / (n + 1) (David and Nagaraja, Order Statistics,
    2003), so r = ceil(share * (n + 1)); n + 1 where n is too small to tell.
    """
    return max(1, math.ceil(share * (draws + 1) - 1e-9))


def order_interval(share: float, draws: int, confidence: float = 0.95) -> tuple[int, int]:
    """Places (from 1) of the sorted values between which the true `share` quantile lies with `confidence`.

    Free of any distribution: the number of values below the quantile is binomial (David and Nagaraja, 2003,
    7.1). The upper place is `draws` + 1 where no value is surely above it; the lower is at least 1.
    """
    tail = 0.5 * (1.0 - confidence)
    chances = [
        math.exp(
            math.lgamma(draws + 1)
            - math.lgamma(below + 1)
            - math.lgamma(draws - below + 1)
            + below * math.log(share)
            + (draws - below) * math.log1p(-share)
        )
        for below in range(draws + 1)
    ]
    low = high = 0
    total = 0.0
    for below, chance in enumerate(chances):
        if total + chance <= tail:
            low = below + 1
        total += chance
        if total >= 1.0 - tail:
            high = below + 1
            break
    return max(low, 1), high


def _bought(each: Purchase, area: float, kind: HideKind, seed: int) -> float:
    """Area one holds after buying hides as they come until they have more than `area`."""
    total = 0.0
    for place in range(MOST_HIDES):
        if place < len(each.areas):
            total += each.areas[place]
        else:
            hide = simulate_hide(kind, seed, each.number * MOST_HIDES + place)
            total += hide.area_paid_for
        if total > area:
            break
    return total


def _hopeless(seen: dict[int, tuple[int, bool]]) -> bool:
    """Whether five hides more brought no set more: something in the job fits on none of them."""
    sizes = sorted(seen)
    return len(sizes) > 5 and seen[sizes[-1]][0] == seen[sizes[-6]][0] == 0


def _net_area(job: Job) -> float:
    pieces = sum(job.articles[cut.article].sets * cut.piece.count * cut.net_area for cut in job.cut_pieces)
    strips = sum(
        job.articles[each.article].sets * each.strip.count * each.strip.width * each.strip.length
        for each in job.wanted_strips
    )
    return pieces + strips


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
