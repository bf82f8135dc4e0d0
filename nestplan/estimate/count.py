"""How many: the sets a hide, or several together, surely give and surely cannot pass.

A number is proven when a verified plan lays so many; it is a bound when an argument shows that no plan can
lay more. Between the two lies what the planner did not find or what nobody can. How much leather to buy for a
number is asked in `buy`.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nestplan.errors import InputError
from nestplan.estimate.combine import impossible
from nestplan.estimate.job_variants import apportion, job_for_hides, with_sets
from nestplan.estimate.merge_plans import merge_plans
from nestplan.estimate.planner import EnginePlanner, Planner, total_whole_sets
from nestplan.estimate.workers import Cancelling, OnDone, SerialWorkers, Workers
from nestplan.model.goals import COMPLETE, FILL
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.yields import whole_sets
from nestplan.yields.bounds import set_bounds

__all__ = ["TOGETHER", "Count", "count", "most_sets"]

TOGETHER = "all together"
"""Name under which all hides together stand in a list of counts."""


@dataclass(frozen=True)
class Count:
    """So many sets: `proven` by the verified `plan`, `bound` at most. `sets` are those of each article.

    `seconds` is the time spent, the one figure that differs from run to run. Where no plan can lay a set, `why` says
    what is in the way.
    """

    hide: str
    layers: tuple[str, ...]
    proven: int
    bound: int
    sets: tuple[tuple[str, int], ...]
    plan: Plan | None
    seconds: float
    why: str = ""

    @property
    def closed(self) -> bool:
        """Whether proven and bound meet: no plan can do better."""
        return self.proven == self.bound


def count(
    job: Job,
    hides: Sequence[Hide],
    *,
    ratio: Mapping[str, float] | None = None,
    together: bool = True,
    planner: Planner = EnginePlanner(),
    workers: Workers | None = None,
    on_done: OnDone | None = None,
    cancelled: Cancelling | None = None,
) -> tuple[Count, ...]:
    """Sets of the job on each hide by itself and, with `together`, on all of them at once.

    The job's own numbers of sets are not the limit here. Several articles come in `ratio` (by default that of
    their sets in the job): n sets in all are shared out among them, and n is raised as far as a plan is
    found. Hides count for the layers they can serve. Together they never count for less than one by one: the
    single plans taken together are a plan, from which n is raised where it is the better one.

    Raises InputError for no hides or a ratio that does not fit.
    """
    if not hides:
        raise InputError(
            "There are no hides to count on.", mend="Name one or more hide files.", place="hides"
        )
    shares = (
        dict(ratio) if ratio is not None else {article.name: float(article.sets) for article in job.articles}
    )
    names = {article.name for article in job.articles}
    if set(shares) != names:
        raise InputError(
            "The ratio needs one figure for each article of the job.",
            mend=f"Give it for {', '.join(sorted(names))}.",
        )
    apportion(0, shares)
    groups: list[tuple[Hide, ...]] = [(hide,) for hide in hides]
    if together and len(hides) > 1:
        groups.append(tuple(hides))
    # The longest task first, so that it is not begun when the other workers are done.
    order = sorted(range(len(groups)), key=lambda number: -sum(hide.gross_area for hide in groups[number]))
    crew = workers or SerialWorkers()
    counts = crew.map(
        _count,
        [(job, groups[number], shares, planner) for number in order],
        on_done=None if on_done is None else lambda place, answer: on_done(order[place], answer),
        cancelled=cancelled,
    )
    found = [counts[order.index(number)] for number in range(len(groups))]
    if len(groups) > len(hides):
        found[-1] = _at_least(found[-1], found[:-1], job, hides, shares, planner, crew, cancelled)
    return tuple(found)


def most_sets(
    job: Job, hides: Sequence[Hide], shares: Mapping[str, float], planner: Planner
) -> tuple[int, int, Plan | None]:
    """Most sets found on `hides`, the bound on them, and the plan that proves it (None for no set).

    One article: the hides are filled with it. Several: sets in their ratio are asked for, from six tenths of
    the bound downwards until they are laid. Then one set more at a time is asked for, since a fixed number is
    sometimes laid where filling was not, until one is not found.
    """
    bound = _bound(job, hides, shares)
    proven, best = 0, None
    if bound == 0:
        return 0, 0, None
    if len(shares) == 1:
        # Filling goes beyond the sets asked for with pieces, not with strips: as many of those as can be are
        # asked.
        asked = bound if any(article.strips for article in job.articles) else 1
        filled = planner.plan(with_sets(job, apportion(asked, shares)), hides, FILL.name)
        proven = min(total_whole_sets(filled), bound)
        best = filled if proven else None
    else:
        proven = max(1, round(0.6 * bound))
        while proven and best is None:
            plan = planner.plan(with_sets(job, apportion(proven, shares)), hides, COMPLETE.name)
            if plan.unplaced:
                proven -= max(1, proven // 8)
            else:
                best = plan
    proven, best = _raised(job, hides, shares, planner, proven, bound, best)
    return proven, bound, best


def _raised(
    job: Job,
    hides: Sequence[Hide],
    shares: Mapping[str, float],
    planner: Planner,
    proven: int,
    bound: int,
    best: Plan | None,
) -> tuple[int, Plan | None]:
    """One set more at a time from what is proven by `best`, until one is not found."""
    while proven < bound:
        plan = planner.plan(with_sets(job, apportion(proven + 1, shares)), hides, COMPLETE.name)
        if plan.unplaced:
            break
        proven, best = proven + 1, plan
    return proven, best


def _at_least(
    together: Count,
    singles: Sequence[Count],
    job: Job,
    hides: Sequence[Hide],
    shares: Mapping[str, float],
    planner: Planner,
    crew: Workers,
    cancelled: Cancelling | None,
) -> Count:
    """The count of all hides together, or where the single plans taken together hold more, that of those."""
    start = time.perf_counter()
    part = job_for_hides(job, *hides)
    plans = [single.plan for single in singles if single.plan is not None]
    if part is None or together.closed or not any(plan.placements for plan in plans):
        return together
    served = {article.name: shares[article.name] for article in part.articles}
    lie = [placement for plan in plans for placement in plan.placements]
    proven = _most_in(part, lie, served, together.bound)
    if proven <= together.proven:
        return together
    union = merge_plans(with_sets(part, apportion(proven, served)), hides, plans)
    task = (part, tuple(hides), served, planner, proven, together.bound, union)
    ((proven, plan),) = crew.map(_raise, [task], cancelled=cancelled)
    return replace(
        together,
        proven=proven,
        sets=tuple(apportion(proven, served).items()),
        plan=plan,
        seconds=together.seconds + time.perf_counter() - start,
    )


def _raise(
    task: tuple[Job, tuple[Hide, ...], Mapping[str, float], Planner, int, int, Plan],
) -> tuple[int, Plan | None]:
    return _raised(*task)


def _most_in(job: Job, placements: Sequence[Placement], shares: Mapping[str, float], bound: int) -> int:
    """The most sets in the ratio of `shares` that placements hold whole, up to the bound."""
    whole = {article.name: whole_sets(article, job, placements) for article in job.articles}
    most = 0
    while most < bound and all(n <= whole[name] for name, n in apportion(most + 1, shares).items()):
        most += 1
    return most


def _count(task: tuple[Job, tuple[Hide, ...], Mapping[str, float], Planner]) -> Count:
    job, hides, shares, planner = task
    start = time.perf_counter()
    name = hides[0].name if len(hides) == 1 else TOGETHER
    part = job_for_hides(job, *hides)
    if part is None:
        return Count(name, (), 0, 0, tuple((each, 0) for each in shares), None, 0.0)
    served = {article.name: shares[article.name] for article in part.articles}
    proven, bound, plan = most_sets(part, hides, served, planner)
    return Count(
        hide=name,
        layers=tuple(layer.name for layer in part.layers),
        proven=proven,
        bound=bound,
        sets=tuple(apportion(proven, served).items()),
        plan=plan,
        seconds=time.perf_counter() - start,
        why="" if bound else _what_is_in_the_way(part, hides),
    )


def _what_is_in_the_way(job: Job, hides: Sequence[Hide]) -> str:
    """Why not one set fits, if that is known of an article by itself."""
    return next((each.why for each in set_bounds(job, hides) if not each.sets), "")


def _bound(job: Job, hides: Sequence[Hide], shares: Mapping[str, float]) -> int:
    """No plan lays more sets than this in the ratio of `shares`: one more would pass the proven bound of an
    article by itself, or of all together."""
    alone = {each.article: each.sets for each in set_bounds(job, hides)}

    def possible(total: int) -> bool:
        wanted = apportion(total, shares)
        return all(sets <= alone[name] for name, sets in wanted.items()) and (
            len(wanted) == 1 or not impossible(with_sets(job, wanted), hides)
        )

    low, high = 0, 1
    while possible(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if possible(middle) else (low, middle)
    return low
