"""Estimates before anything is cut: hides compared, sets counted, leather to buy, and their files.

The answers are those of `estimate`; here they are asked with as many processes as serve, and written.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from nestplan.storage import write_atomically

if TYPE_CHECKING:
    from nestplan.drawing.pages import Page
    from nestplan.estimate.buy import BuyEstimate, BuyFigure, Purchase
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer, Ranking
    from nestplan.estimate.count import Count
    from nestplan.estimate.planner import Planner
    from nestplan.estimate.simulate import HideKind
    from nestplan.model.hide import Hide
    from nestplan.model.job import Job
    from nestplan.sheets.measures import LengthUnit

__all__ = [
    "COMPARISON_FILES",
    "PURCHASE_FILES",
    "Crew",
    "buy_leather",
    "cheapest_hides",
    "compare_hides",
    "count_sets",
    "count_tasks",
    "counts_json",
    "purchase_json",
    "purchase_plot",
    "write_comparison",
    "write_purchase",
]

COMPARISON_FILES = ("compare.csv", "compare.json", "compare.pdf", "compare.png")
"""Names of the files of a comparison; of the pictures there is one for each page."""

PURCHASE_FILES = ("buy.json", "buy.svg", "buy.png")
"""Names of the files of an estimate of leather to buy."""

_START_SECONDS = 6.0
"""Work of less than this is done in this process: starting others takes a second or two."""


@dataclass(frozen=True)
class Crew:
    """Who works on an estimate: at most `processes` of this machine (all cores where it is None), or the workers of
    a Dask `scheduler`."""

    processes: int | None = None
    scheduler: str | None = None

    def useful(self, tasks: int) -> int:
        """How many processes serve for so many tasks: no more than tasks, for each takes a second or two to start."""
        return max(1, min(self.processes or os.cpu_count() or 1, tasks))

    @classmethod
    def for_work(cls, tasks: int, seconds: float) -> Crew:
        """All cores where `tasks` of `seconds` each are worth the start of processes, else this process alone."""
        return cls(None if tasks * seconds > _START_SECONDS else 1)


def compare_hides(
    job: Job,
    hides: Sequence[Hide],
    *,
    by: Ranking = "sets",
    planner: Planner,
    crew: Crew,
    on_done: Callable[[int, HideAnswer], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[HideAnswer, ...]:
    """What each hide gives of the job by itself, ranked; see `estimate.compare`.

    Raises Cancelled with the answers so far when `cancelled` says so.
    """
    from nestplan.estimate.compare import compare
    from nestplan.estimate.workers import open_workers

    with open_workers(crew.useful(len(hides)), scheduler=crew.scheduler) as workers:
        return compare(
            job, hides, by=by, planner=planner, workers=workers, on_done=on_done, cancelled=cancelled
        )


def cheapest_hides(
    job: Job,
    hides: Sequence[Hide],
    *,
    most_tries: int,
    planner: Planner,
    crew: Crew,
    on_done: Callable[[int, Any], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Combination:
    """The hides that together do the whole job at least cost; see `estimate.combine`.

    Raises RuleError if none was found in `most_tries` plans, Cancelled when `cancelled` says so.
    """
    from nestplan.estimate.combine import cheapest
    from nestplan.estimate.workers import open_workers

    with open_workers(crew.useful(most_tries), scheduler=crew.scheduler) as workers:
        return cheapest(
            job,
            hides,
            planner=planner,
            most_tries=most_tries,
            workers=workers,
            on_done=on_done,
            cancelled=cancelled,
        )


def count_sets(
    job: Job,
    hides: Sequence[Hide],
    *,
    ratio: Mapping[str, float] | None = None,
    together: bool = True,
    planner: Planner,
    crew: Crew,
    on_done: Callable[[int, Any], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Count, ...]:
    """How many sets each hide gives, and all together where `together` is said; see `estimate.count`.

    Raises InputError if the ratio does not fit the job, Cancelled when `cancelled` says so.
    """
    from nestplan.estimate.count import count
    from nestplan.estimate.workers import open_workers

    with open_workers(crew.useful(count_tasks(hides, together)), scheduler=crew.scheduler) as workers:
        return count(
            job,
            hides,
            ratio=ratio,
            together=together,
            planner=planner,
            workers=workers,
            on_done=on_done,
            cancelled=cancelled,
        )


def count_tasks(hides: Sequence[Hide], together: bool = True) -> int:
    """How many answers `count_sets` gives."""
    return len(hides) + (1 if together and len(hides) > 1 else 0)


def buy_leather(
    job: Job,
    kind: HideKind,
    *,
    sets: int | None = None,
    layer: str | None = None,
    draws: int,
    seed: int = 0,
    planner: Planner,
    crew: Crew,
    on_done: Callable[[int, Purchase], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> BuyEstimate:
    """How much leather of a kind to buy for the job before seeing it; see `estimate.buy`.

    Raises RuleError if nothing of this kind is asked for, Cancelled when `cancelled` says so.
    """
    from nestplan.estimate.buy import buy
    from nestplan.estimate.workers import open_workers

    with open_workers(crew.useful(draws), scheduler=crew.scheduler) as workers:
        return buy(
            job,
            kind,
            sets=sets,
            layer=layer,
            draws=draws,
            seed=seed,
            planner=planner,
            workers=workers,
            on_done=on_done,
            cancelled=cancelled,
        )


def write_comparison(
    folder: Path,
    job: Job,
    hides: Sequence[Hide],
    answers: Sequence[HideAnswer],
    together: Combination | None,
    *,
    by: str,
    units: LengthUnit,
) -> None:
    """Write the COMPARISON_FILES into a folder, which is made if it is not there.

    Raises InputError if a file cannot be written.
    """
    from nestplan.estimate.comparison_words import comparison_csv, comparison_json, pictured_answers
    from nestplan.sheets.comparison import ComparedHide, write_comparison_pages

    folder.mkdir(parents=True, exist_ok=True)
    write_atomically(folder / "compare.csv", comparison_csv(answers).encode())
    write_atomically(folder / "compare.json", comparison_json(answers, together).encode())
    compared = [ComparedHide(*each) for each in pictured_answers(answers, job, hides, units)]
    write_comparison_pages(compared, folder, f"{job.name}: hides by {by}", units=units)


def counts_json(counts: Sequence[Count]) -> str:
    """The counts as JSON, without the plans' polygons."""
    return _json(
        [
            {
                "hide": each.hide,
                "layers": each.layers,
                "proven": each.proven,
                "bound": each.bound,
                "sets": dict(each.sets),
                "seconds": round(each.seconds, 3),
            }
            for each in counts
        ]
    )


def purchase_json(estimate: BuyEstimate) -> str:
    """The estimate of leather to buy as JSON: figures, settings, and every purchase."""
    return _json(
        {
            "job": estimate.job,
            "sets": dict(estimate.sets),
            "kind": estimate.kind,
            "planner": estimate.planner,
            "seed": estimate.seed,
            "net_mm2": estimate.net,
            "figures": estimate.figures,
            "purchases": estimate.purchases,
            "seconds": round(estimate.seconds, 3),
        }
    )


def purchase_plot(
    estimate: BuyEstimate, *, units: LengthUnit, mark_words: Callable[[BuyFigure], str], notes: Sequence[str]
) -> Page:
    """Sets against the area bought; `mark_words` names a mark, `notes` stand below."""
    from nestplan.sheets.buying import AreaMark, sets_plot

    marks = [
        AreaMark(each.area, *each.area_range, mark_words(each))
        for each in estimate.figures
        if each.area is not None
    ]
    return sets_plot(
        estimate.curve, marks, wanted=estimate.wanted, units=units, title=estimate.title, notes=notes
    )


def write_purchase(folder: Path, estimate: BuyEstimate, plot: Page) -> None:
    """Write the PURCHASE_FILES into a folder, which is made if it is not there.

    Raises InputError if a file cannot be written.
    """
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import write_svg

    folder.mkdir(parents=True, exist_ok=True)
    data, svg, png = (folder / name for name in PURCHASE_FILES)
    write_atomically(data, purchase_json(estimate).encode())
    write_svg(plot, svg, title=estimate.job)
    write_png(plot, png)


def _json(value: Any) -> str:
    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
