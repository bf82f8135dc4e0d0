"""Which hide: every hide on its own for the part of the job it can serve, in parallel, ranked by what
matters.

Which hides together do the job most cheaply is asked in `combine`; how many sets a hide gives at most in
`count`. Plans come from nesting; what a plan comes to from its figures.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from nestplan.errors import InputError
from nestplan.estimate.job_variants import job_for_hides
from nestplan.estimate.planner import EnginePlanner, Planner, largest_offcut_area, plan_figures
from nestplan.estimate.workers import Cancelling, SerialWorkers, Workers
from nestplan.model.goals import COMPLETE
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan

__all__ = ["RANKINGS", "HideAnswer", "Ranking", "compare", "rank"]

Ranking = Literal["sets", "cost", "yield", "offcut", "area"]
RANKINGS: tuple[Ranking, ...] = get_args(Ranking)


@dataclass(frozen=True)
class HideAnswer:
    """What one hide gives of a job. Areas in mm2, money in the hide's currency.

    `cost` is the price of the whole hide, `leather_cost` that of the leather used: less the share in offcuts to keep;
    `cost_per_set` and `leather_cost_per_set` are the same for one whole set.

    `layers` are those of the job it can serve; empty if none, and then there is no plan. `whole` and `asked`
    count sets over all articles; `done` says that everything asked of these layers has its place. `area` is
    what one pays for: the seller's, or the measured one where none is stated. `offcut` is the largest one
    kept. `seconds` is how long it took, and is the one figure that differs from run to run.
    """

    hide: str
    layers: tuple[str, ...]
    whole: int
    asked: int
    placed: int
    pieces: int
    done: bool
    area: float
    net_yield: float
    cut_yield: float
    offcut: float
    cost: float | None
    cost_per_set: float | None
    leather_cost: float | None
    leather_cost_per_set: float | None
    currency: str
    plan: Plan | None
    seconds: float


def compare(
    job: Job,
    hides: Sequence[Hide],
    *,
    by: Ranking = "sets",
    planner: Planner = EnginePlanner(),
    workers: Workers | None = None,
    on_done: Callable[[int, HideAnswer], None] | None = None,
    cancelled: Cancelling | None = None,
) -> tuple[HideAnswer, ...]:
    """What each hide gives of the job by itself, best first (see `rank`).

    One task for each hide; `on_done(number of the hide, answer)` is told as they come.

    Raises InputError for no hides, Cancelled with the answers so far.
    """
    if not hides:
        raise InputError("There are no hides to compare.", mend="Name one or more hide files.", place="hides")
    # The largest first: they take longest, and none should be begun when the other workers are done.
    order = sorted(range(len(hides)), key=lambda number: -hides[number].gross_area)
    answers = (workers or SerialWorkers()).map(
        _answer,
        [(job, hides[number], planner) for number in order],
        on_done=None if on_done is None else lambda place, answer: on_done(order[place], answer),
        cancelled=cancelled,
    )
    return rank(answers, by)


def rank(answers: Sequence[HideAnswer], by: Ranking) -> tuple[HideAnswer, ...]:
    """The answers, best first: by

    `sets`: most whole sets, then most pieces, then least money;
    `cost`: least money of the whole hide for a set, hides without a price or a whole set last;
    `yield`: greatest share of the hide in finished pieces;
    `offcut`: hides that do the most sets, and of those the largest offcut;
    `area`: hides that do the most sets, and of those the least area to pay for.
    Ties go by name.

    Raises InputError for another word.
    """
    if by not in _KEYS:
        raise InputError(
            f"Hides are not ranked by '{by}'.", mend=f"Take one of: {', '.join(RANKINGS)}.", place="ranking"
        )
    return tuple(sorted(answers, key=lambda answer: (*_KEYS[by](answer), answer.hide)))


def _much(value: float | None) -> float:
    return float("inf") if value is None else value


_KEYS: dict[str, Callable[[HideAnswer], tuple[float, ...]]] = {
    "sets": lambda each: (-each.whole, -each.placed, _much(each.cost), each.area),
    "cost": lambda each: (_much(each.cost_per_set if each.whole else None), -each.whole),
    "yield": lambda each: (-each.net_yield,),
    "offcut": lambda each: (-each.whole, -each.offcut),
    "area": lambda each: (-each.whole, each.area),
}


def _answer(task: tuple[Job, Hide, Planner]) -> HideAnswer:
    job, hide, planner = task
    start = time.perf_counter()
    area = hide.area_paid_for
    part = job_for_hides(job, hide)
    if part is None:
        asked = sum(article.sets for article in job.articles)
        return HideAnswer(
            hide.name,
            (),
            0,
            asked,
            0,
            0,
            False,
            area,
            0.0,
            0.0,
            0.0,
            hide.price,
            None,
            None,
            None,
            hide.currency,
            None,
            0.0,
        )
    plan = planner.plan(part, [hide], COMPLETE.name)
    figures = plan_figures(plan)
    whole = sum(each.whole for each in figures.sets)
    cost = hide.price
    return HideAnswer(
        hide=hide.name,
        layers=tuple(layer.name for layer in part.layers),
        whole=whole,
        asked=sum(each.asked for each in figures.sets),
        placed=figures.placed,
        pieces=figures.asked,
        done=not plan.unplaced,
        area=area,
        net_yield=figures.net_yield,
        cut_yield=figures.cut_yield,
        offcut=largest_offcut_area(plan),
        cost=cost,
        cost_per_set=None if cost is None or whole == 0 else cost / whole,
        leather_cost=figures.leather_cost,
        leather_cost_per_set=figures.leather_cost_per_set,
        currency=hide.currency,
        plan=plan,
        seconds=time.perf_counter() - start,
    )
