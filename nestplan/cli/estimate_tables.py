"""Estimates as lines, tables and files: what `compare`, `count` and `buy` print and write.

Not here: the answers (estimate) and how pictures look (sheets).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestplan.estimate.buy import BuyEstimate, BuyFigure
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer
    from nestplan.estimate.count import Count
    from nestplan.model import Hide, Job
    from nestplan.sheets.measures import LengthUnit

__all__ = [
    "buy_json",
    "buy_lines",
    "comparison_lines",
    "count_lines",
    "counts_json",
    "write_buy",
    "write_comparison",
]


def comparison_lines(answers: Sequence[HideAnswer], together: Combination | None, units: str) -> list[str]:
    """The ranking as a table, and the cheapest combination below it."""
    from nestplan.estimate.comparison_report import combination_words, money_words

    rows = [["", "hide", "sets", "placed", "area", "net yield", "offcut", "cost", "a set"]]
    for place, each in enumerate(answers, start=1):
        if not each.layers:
            rows.append([str(place), each.hide, "-", "no layer takes this leather", "", "", "", "", ""])
            continue
        rows.append(
            [
                str(place),
                each.hide,
                f"{each.whole} of {each.asked}",
                f"{each.placed} of {each.pieces}",
                _area(each.area, units),
                f"{each.net_yield:.1%}",
                _area(each.offcut, units),
                money_words(each.cost, each.currency),
                money_words(each.cost_per_set, each.currency),
            ]
        )
    lines = _aligned(rows)
    served = {each.layers for each in answers if each.layers}
    if len(served) > 1:
        lines.append(
            "Each hide is counted for the layers it can serve: sets of one layer are not whole articles."
        )
    if together is not None:
        lines.append(combination_words(together, units))
    return lines


def write_comparison(
    out: Path,
    job: Job,
    hides: Sequence[Hide],
    answers: Sequence[HideAnswer],
    together: Combination | None,
    by: str,
) -> None:
    """compare.csv, compare.json, compare.pdf and compare.png (one for each page) in the folder."""
    from nestplan.estimate.comparison_report import comparison_csv, comparison_json, pictured_answers
    from nestplan.sheets.comparison import ComparedHide, write_comparison_pages
    from nestplan.storage import write_atomically

    out.mkdir(parents=True, exist_ok=True)
    write_atomically(out / "compare.csv", comparison_csv(answers).encode())
    write_atomically(out / "compare.json", comparison_json(answers, together).encode())
    compared = [ComparedHide(*each) for each in pictured_answers(answers, job, hides, job.units)]
    write_comparison_pages(compared, out, f"{job.name}: hides by {by}", units=job.units)


def count_lines(counts: Sequence[Count]) -> list[str]:
    """A line for each hide and one for all together."""
    rows = [["hide", "proven", "bound", "of each", "time"]]
    for each in counts:
        if not each.layers:
            rows.append([each.hide, "-", "-", "no layer takes this leather", ""])
            continue
        parts = "; ".join(f"{number} × {name}" for name, number in each.sets) if len(each.sets) > 1 else ""
        rows.append([each.hide, str(each.proven), str(each.bound), parts, f"{each.seconds:.1f} s"])
    lines = _aligned(rows)
    lines.append("Proven: a verified plan lays so many. Bound: no plan can lay more.")
    if len({each.layers for each in counts if each.layers}) > 1:
        lines.append(
            "Each hide is counted for the layers it can serve: sets of one layer are not whole articles."
        )
    return lines


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


def buy_lines(estimate: BuyEstimate, units: str) -> list[str]:
    """What suffices how often, what it costs, and everything it rests on."""
    from nestplan.estimate.comparison_report import money_words

    wanted = "; ".join(f"{number} × {name}" for name, number in estimate.sets)
    lines = [f"{estimate.job}: {wanted}, from {estimate.kind.kind}"]
    rows = [
        ["suffices in", "area to pass", "95 % sure between", "hides", "95 % sure", "area then held", "money"]
    ]
    for each in estimate.figures:
        rows.append(
            [
                f"{each.share:.0%} of purchases",
                _to_pass(each.area, units),
                _between(each.area_range, units),
                "not known" if each.hides is None else str(each.hides),
                _hides_between(each.hides_range),
                "" if each.bought is None else _area(each.bought, units),
                money_words(each.money, estimate.kind.currency),
            ]
        )
    lines += _aligned(rows)
    return [*lines, *_notes(estimate, units)]


def buy_json(estimate: BuyEstimate) -> str:
    """The estimate as JSON: figures, settings, and every purchase."""
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


def write_buy(out: Path, estimate: BuyEstimate, units: LengthUnit) -> None:
    """buy.json, buy.svg and buy.png in the folder."""
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import write_svg
    from nestplan.sheets.buying import AreaMark, sets_plot
    from nestplan.storage import write_atomically

    out.mkdir(parents=True, exist_ok=True)
    write_atomically(out / "buy.json", buy_json(estimate).encode())
    marks = [
        AreaMark(
            each.area,
            *each.area_range,
            f"suffices in {each.share:.0%} of purchases: {_to_pass(each.area, units)}, "
            f"95 % sure between {_between(each.area_range, units)}",
        )
        for each in estimate.figures
        if each.area is not None
    ]
    page = sets_plot(
        estimate.curve,
        marks,
        wanted=estimate.wanted,
        units=units,
        title=estimate.title,
        notes=_notes(estimate, units),
    )
    write_svg(page, out / "buy.svg", title=estimate.job)
    write_png(page, out / "buy.png")


def _notes(estimate: BuyEstimate, units: str) -> list[str]:
    middle: BuyFigure = estimate.figures[len(estimate.figures) // 2]
    yields = ""
    if middle.bought:
        yields = (
            f" Finished pieces are {_area(estimate.net, units)}, {estimate.net / middle.bought:.0%} of that."
        )
    return [
        "Buy hides as they come until their marked area is more than 'area to pass'; the mean then held is "
        f"'area then held'.{yields}",
        f"{len(estimate.purchases)} simulated purchases, seed {estimate.seed}, planned with {estimate.planner}.",
        *estimate.kind.words,
    ]


def _area(mm2: float, units: str) -> str:
    from nestplan.geometry.units import show_area

    return show_area(mm2, "ft2" if units == "in" else "dm2", decimals=1)


def _to_pass(mm2: float | None, units: str) -> str:
    if mm2 is None:
        return "not known"
    return "any one hide" if mm2 == 0.0 else _area(mm2, units)


def _between(span: tuple[float, float | None], units: str) -> str:
    low, high = span
    if high is not None and high == low:
        return _to_pass(low, units)
    return f"{_to_pass(low, units)} and {_open(high, units)}"


def _hides_between(span: tuple[int, int | None]) -> str:
    low, high = span
    if high is None:
        return f"{low} or more"
    return str(low) if low == high else f"{low} to {high}"


def _open(mm2: float | None, units: str) -> str:
    return "more than seen" if mm2 is None else _area(mm2, units)


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]


def _json(value: Any) -> str:
    import msgspec

    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
