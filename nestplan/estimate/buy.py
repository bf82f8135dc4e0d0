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
from functools import lru_cache

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
    "BuyAdvice",
    "BuyEstimate",
    "BuyFigure",
    "Purchase",
    "advice_for",
    "buy",
    "figure_for",
    "least_trials",
    "purchase",
    "safe_places",
    "sure_share",
]

SHARES = (0.50, 0.80, 0.95)
"""The shares of purchases for which figures are given."""
CONFIDENCE = 0.95
"""How sure a figure is to be enough as often as it says: what few trials leave open goes to the safe side."""
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
    """What is enough in `share` of purchases, on the safe side, for the trials are only so many.

    `area` (mm2, seller's): buy hides as they come until they have more than this. Were the estimate made again and
    again, it would be enough in `share` of purchases or more in 95 of 100 estimates; None where the trials are too
    few for that. `least_area` is what more trials may bring it down to, in the same sense. `hides` and `least_hides`
    say the same in numbers of hides. `bought` is the mean area one has then paid for, and `money` its mean price
    (None without a price).
    """

    share: float
    area: float | None
    least_area: float
    hides: int | None
    least_hides: int
    bought: float | None
    money: float | None


@dataclass(frozen=True)
class BuyAdvice:
    """How many hides to buy so that they are enough in `share` of purchases.

    `hides` were enough in `enough` of `trials` simulated purchases, and so in `sure` of all purchases or more, in 95
    of 100 such estimates. `sure` is below `share` where the trials are too few, or none had more hides that were
    enough. `area` is the mean seller's area of so many hides, mm2, `money` its mean price (None without a price).
    """

    share: float
    hides: int
    enough: int
    trials: int
    sure: float
    area: float
    money: float | None


@dataclass(frozen=True)
class BuyEstimate:
    """The answer of `buy` with everything it rests on: first of all the advice. `net` is the finished area of the job,
    mm2."""

    job: str
    sets: tuple[tuple[str, int], ...]
    kind: HideKind
    planner: str
    seed: int
    advice: BuyAdvice
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
    trials: int = 100,
    seed: int = 0,
    share: float = 0.90,
    curve_trials: int = 10,
    planner: Planner = EnginePlanner(),
    workers: Workers | None = None,
    on_done: Callable[[int, Purchase], None] | None = None,
    cancelled: Cancelling | None = None,
) -> BuyEstimate:
    """Leather of `kind` that is enough for `sets` sets (the job's own if None): advice for `share` of all purchases,
    and figures for 50, 80 and 95 of 100.

    `trials` purchases are simulated from `seed`, each a task of its own; the first `curve_trials` are planned
    at every number of hides, so that sets can be plotted against area. Several articles share `sets` in the
    ratio of their sets in the job. `layer` tells which layer is to be bought where that is not clear.

    Raises InputError for too few trials, a share that is none or an unknown layer, RuleError where nothing of
    this kind is asked for or no number of hides was ever enough.
    """
    if trials < 10:
        raise InputError(
            f"{trials} trials are too few for an estimate.", mend="Take 10 or more.", place="trials"
        )
    if not 0.0 < share < 1.0:
        raise InputError(
            f"No advice is enough in {100.0 * share:g} of 100 purchases.",
            mend="Ask for 1 to 99.",
            place="enough",
        )
    start = time.perf_counter()
    part = job_for_kind(job, kind.leather or kind.kind, layer)
    if sets is not None:
        part = with_sets(part, apportion(sets, {article.name: article.sets for article in part.articles}))
    tasks = [(part, kind, seed, number, number < curve_trials, planner) for number in range(trials)]
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
        advice=advice_for(share, purchases, kind),
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


def advice_for(share: float, purchases: Sequence[Purchase], kind: HideKind) -> BuyAdvice:
    """The least number of hides that is surely enough in `share` of purchases; where the trials cannot make that sure,
    the most hides that any of them needed."""
    trials = len(purchases)
    counts = [each.enough for each in purchases if each.enough is not None]
    for hides in sorted(set(counts)):
        enough = sum(count <= hides for count in counts)
        sure = sure_share(enough, trials)
        if sure >= share:
            break
    area = hides * kind.area * kind.marked
    money = None if kind.price is None else area / MM2_PER_FT2 * kind.price
    return BuyAdvice(share, hides, enough, trials, sure, area, money)


def figure_for(share: float, purchases: Sequence[Purchase], kind: HideKind, seed: int) -> BuyFigure:
    """The figure that is enough in `share` of purchases, from simulated ones."""
    trials = len(purchases)
    shorts = sorted(each.short for each in purchases)
    counts = sorted(each.enough or math.inf for each in purchases)
    low, high = safe_places(share, trials)
    area = _finite(shorts[high - 1]) if high <= trials else None
    hides = _finite(counts[high - 1]) if high <= trials else None
    bought = None
    if area is not None:
        bought = sum(_bought(each, area, kind, seed) for each in purchases) / trials
    return BuyFigure(
        share=share,
        area=area,
        least_area=shorts[low - 1],
        hides=None if hides is None else int(hides),
        least_hides=int(min(counts[low - 1], MOST_HIDES)),
        bought=bought,
        money=None if bought is None or kind.price is None else bought / MM2_PER_FT2 * kind.price,
    )


@lru_cache(maxsize=1024)
def sure_share(enough: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """The share of all purchases that is surely enough when `enough` of `trials` simulated ones were.

    The lower end of the one-sided interval of Clopper and Pearson (The use of confidence or fiducial limits,
    Biometrika 26, 1934): the share at which so many or more would come by chance in 1 - `confidence` of cases.
    """
    if enough <= 0:
        return 0.0
    low, high = 0.0, enough / trials
    for _ in range(60):
        middle = 0.5 * (low + high)
        if middle > 0.0 and sum(_chances(trials, middle)[enough:]) > 1.0 - confidence:
            high = middle
        else:
            low = middle
    return low


def safe_places(share: float, trials: int, confidence: float = CONFIDENCE) -> tuple[int, int]:
    """Places (from 1) of `trials` sorted values: the true `share` quantile is surely not below the one at the first,
    and surely not above the one at the second, each with `confidence`.

    Free of any distribution: the number of values below the quantile is binomial (David and Nagaraja, Order
    Statistics, 2003, 7.1). The second is `trials` + 1 where no value is surely above the quantile; the first is at
    least 1. The second is also where `sure_share` first comes up to `share`.
    """
    low = high = 0
    total = 0.0
    for below, chance in enumerate(_chances(trials, share)):
        if total + chance <= 1.0 - confidence:
            low = below + 1
        total += chance
        if total >= confidence:
            high = below + 1
            break
    return max(low, 1), high


def least_trials(share: float, confidence: float = CONFIDENCE) -> int:
    """How many trials it takes at least to say what is enough in `share` of purchases: with all of them enough."""
    return math.ceil(math.log(1.0 - confidence) / math.log(share) - 1e-9)


def _chances(trials: int, share: float) -> list[float]:
    """Chance that 0, 1, … `trials` of as many come below a quantile: the binomial distribution."""
    return [
        math.exp(
            math.lgamma(trials + 1)
            - math.lgamma(below + 1)
            - math.lgamma(trials - below + 1)
            + below * math.log(share)
            + (trials - below) * math.log1p(-share)
        )
        for below in range(trials + 1)
    ]


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
