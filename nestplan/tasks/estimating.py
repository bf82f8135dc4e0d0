"""Estimates before anything is cut: who works on them, and the files of a comparison and of a purchase.

The questions themselves are `compare`, `cheapest`, `count` and `buy` of `estimate`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from nestplan.storage import write_atomically

if TYPE_CHECKING:
    from nestplan.drawing.pages import Page
    from nestplan.estimate.buy import BuyEstimate, BuyFigure
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer
    from nestplan.estimate.count import Count
    from nestplan.estimate.workers import Workers
    from nestplan.model.hide import Hide
    from nestplan.model.job import Job
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = [
    "COMPARISON_FILES",
    "PURCHASE_FILES",
    "count_tasks",
    "counts_json",
    "open_crew",
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


@contextmanager
def open_crew(
    tasks: int,
    *,
    seconds_each: float | None = None,
    processes: int | None = None,
    scheduler: str | None = None,
) -> Iterator[Workers]:
    """Whoever works on so many tasks of an estimate, until the block is left.

    At most `processes` of this machine (all cores by default), and no more than tasks, for each takes a second or
    two to start; this process alone where the tasks, of `seconds_each`, are not worth that. With the address of a
    Dask `scheduler` its workers.
    """
    from nestplan.estimate.workers import open_workers

    useful = max(1, min(processes or os.cpu_count() or 1, tasks))
    if seconds_each is not None and tasks * seconds_each <= _START_SECONDS:
        useful = 1
    with open_workers(useful, scheduler=scheduler) as workers:
        yield workers


def count_tasks(hides: Sequence[Hide], together: bool = True) -> int:
    """How many answers a count of sets gives: one for each hide, and one for all of them `together`."""
    return len(hides) + (1 if together and len(hides) > 1 else 0)


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
    """Write the COMPARISON_FILES into a folder.

    Raises InputError if it is not there or a file cannot be written.
    """
    from nestplan.estimate.comparison_report import comparison_csv, comparison_json, pictured_answers
    from nestplan.sheets.comparison_pages import ComparedHide, write_comparison_pages

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
                "why": each.why,
                "sets": dict(each.sets),
                "seconds": round(each.seconds, 3),
            }
            for each in counts
        ]
    )


def purchase_json(estimate: BuyEstimate) -> str:
    """The estimate of leather to buy as JSON: figures, request, and every purchase."""
    return _json(
        {
            "job": estimate.job,
            "sets": dict(estimate.sets),
            "kind": estimate.kind,
            "planner": estimate.planner,
            "seed": estimate.seed,
            "net_mm2": estimate.net,
            "advice": estimate.advice,
            "figures": estimate.figures,
            "purchases": estimate.purchases,
            "seconds": round(estimate.seconds, 3),
        }
    )


def purchase_plot(
    estimate: BuyEstimate, *, units: LengthUnit, mark_words: Callable[[BuyFigure], str], notes: Sequence[str]
) -> Page:
    """Sets against the area bought; `mark_words` names a mark, `notes` stand below."""
    from nestplan.sheets.buying_plot import AreaMark, sets_plot

    marks = [
        AreaMark(each.area, each.least_area, each.area, mark_words(each))
        for each in estimate.figures
        if each.area is not None
    ]
    return sets_plot(
        estimate.curve, marks, wanted=estimate.wanted, units=units, title=estimate.title, notes=notes
    )


def write_purchase(folder: Path, estimate: BuyEstimate, plot: Page) -> None:
    """Write the PURCHASE_FILES into a folder.

    Raises InputError if it is not there or a file cannot be written.
    """
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import write_svg

    data, svg, png = (folder / name for name in PURCHASE_FILES)
    write_atomically(data, purchase_json(estimate).encode())
    write_svg(plot, svg, title=estimate.job)
    write_png(plot, png)


def _json(value: Any) -> str:
    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
