"""The cheapest hides of a rack that together do a job.

Combinations are taken in the order of their cost, those proven too small are passed over, and the rest are
planned until one holds everything. What one hide gives by itself is asked in `compare`.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nestplan.errors import InputError, RuleError
from nestplan.estimate.planner import EnginePlanner, Planner
from nestplan.estimate.workers import Cancelling, OnDone, SerialWorkers, Workers
from nestplan.geometry.ring import area
from nestplan.model.goals import COMPLETE
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan
from nestplan.yields.bounds import job_bound

__all__ = ["Combination", "by_cost", "cheapest", "impossible", "too_small"]


@dataclass(frozen=True)
class Combination:
    """The cheapest hides found that do the whole job, and how sure that is.

    `cost` is their price together (their area in mm2 where hides have no price: `by_area`). `floor` is the
    cost of the cheapest combination that is not proven too small: no plan can cost less. `tried` plans were
    made, `cheaper_failed` of combinations that cost less and did not hold the job within the effort.
    """

    hides: tuple[str, ...]
    cost: float
    by_area: bool
    currency: str
    floor: float
    plan: Plan
    tried: int
    cheaper_failed: int


def cheapest(
    job: Job,
    hides: Sequence[Hide],
    *,
    planner: Planner = EnginePlanner(),
    most_tries: int = 60,
    workers: Workers | None = None,
    on_done: OnDone | None = None,
    cancelled: Cancelling | None = None,
) -> Combination:
    """The least costly combination of `hides` that a plan shows to hold the whole job.

    An exact search: by rising cost, each combination either is proven too small (see `impossible`), or is
    planned; the first whose plan leaves nothing out wins. It is the cheapest as far as the planner, with this
    effort, can tell. As many combinations as there are workers are planned at a time, but the answer is the
    same with any number.

    Raises InputError for no hides, RuleError if all hides together are too small or `most_tries` plans found none.
    """
    if not hides:
        raise InputError(
            "There are no hides on the rack.", mend="Name one or more hide files.", place="hides"
        )
    crew = workers or SerialWorkers()
    useful = [hide for hide in hides if any(layer.takes(hide) for layer in job.layers)]
    by_area = any(hide.price is None for hide in useful)
    costs = [hide.area_paid_for if by_area else hide.price or 0.0 for hide in useful]
    open_ones = (
        (cost, chosen)
        for cost, chosen in by_cost(costs)
        if not impossible(job, [useful[number] for number in chosen])
    )
    tried, floor = 0, 0.0
    while tried < most_tries:
        batch = list(itertools.islice(open_ones, min(max(crew.count, 1), most_tries - tried)))
        if not batch:
            break
        floor = floor or batch[0][0]
        tasks = [(job, tuple(useful[number] for number in chosen), planner) for _, chosen in batch]
        plans = crew.map(_plan, tasks, on_done=on_done, cancelled=cancelled)
        for place, ((cost, chosen), plan) in enumerate(zip(batch, plans, strict=True)):
            if not plan.unplaced:
                names = tuple(useful[number].name for number in chosen)
                currency = "" if by_area else useful[chosen[0]].currency
                failed = tried + place
                return Combination(names, cost, by_area, currency, floor, plan, failed + 1, failed)
        tried += len(batch)
    if tried == 0:
        raise RuleError(
            "All the hides together are too small for the job.", mend="Ask for fewer sets or add leather."
        )
    raise RuleError(
        f"No combination of hides was found to hold the whole job ({tried} tried).",
        mend="Ask for fewer sets, add leather, or allow more passes or tries.",
    )


def by_cost(costs: Sequence[float]) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Every non-empty combination of items as (cost, numbers rising), the least cost first; ties by fewer
    items.

    Lawler's ordering of subset sums: from a combination that ends in item i (items sorted by cost) two
    follow, with item i + 1 added and with i exchanged for it; none of them costs less, and none comes twice.
    """
    order = sorted(range(len(costs)), key=lambda number: (costs[number], number))
    if not order:
        return
    ready: list[tuple[float, int, tuple[int, ...]]] = [(costs[order[0]], 1, (0,))]
    while ready:
        cost, size, places = heapq.heappop(ready)
        yield cost, tuple(sorted(order[place] for place in places))
        last = places[-1]
        if last + 1 < len(order):
            grown, exchanged = (*places, last + 1), (*places[:-1], last + 1)
            heapq.heappush(ready, (_sum(costs, order, grown), size + 1, grown))
            heapq.heappush(ready, (_sum(costs, order, exchanged), size, exchanged))


def impossible(job: Job, hides: Sequence[Hide]) -> bool:
    """Whether a proof shows that no plan lays the whole job on `hides`: by area at once, else by `job_bound`."""
    return not hides or too_small(job, hides) or job_bound(job, hides).sets < 1


def too_small(job: Job, hides: Sequence[Hide]) -> bool:
    """Whether the job surely does not fit on `hides`: for some layers together, what is to be cut has more
    area than all hides that any of them takes (Hall's condition over the layers)."""
    need = {layer.name: 0.0 for layer in job.layers}
    for cut in job.cut_pieces:
        sets = job.articles[cut.article].sets
        # A band that may run off the edge takes up leather only in part.
        taken = area(cut.shape) if job.permissions.run_off == 0.0 else cut.net_area
        need[cut.cut.layer] += sets * cut.piece.count * taken
    for wanted in job.wanted_strips:
        strip = wanted.strip
        need[strip.layer] += job.articles[wanted.article].sets * strip.count * strip.width * strip.length
    layers = [layer for layer in job.layers if need[layer.name] > 0.0]
    for size in range(1, len(layers) + 1):
        for some in itertools.combinations(layers, size):
            there = sum(hide.gross_area for hide in hides if any(layer.takes(hide) for layer in some))
            if sum(need[layer.name] for layer in some) > there:
                return True
    return False


def _sum(costs: Sequence[float], order: Sequence[int], places: Sequence[int]) -> float:
    return sum(costs[order[place]] for place in places)


def _plan(task: tuple[Job, tuple[Hide, ...], Planner]) -> Plan:
    job, hides, planner = task
    return planner.plan(job, hides, COMPLETE.name)
