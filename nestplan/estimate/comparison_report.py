"""A comparison of hides put into words, rows, CSV and JSON, the same for the command line and the window."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

import msgspec

from nestplan.estimate.combine import Combination
from nestplan.estimate.compare import HideAnswer
from nestplan.estimate.job_variants import job_for_hides
from nestplan.geometry.units import show_area
from nestplan.model import Hide, Job, Plan

__all__ = [
    "answer_captions",
    "combination_words",
    "comparison_csv",
    "comparison_json",
    "money_words",
    "pictured_answers",
]

_COLUMNS = (
    "rank", "hide", "layers", "sets", "asked_sets", "placed", "asked", "done", "area_mm2", "net_yield",
    "cut_yield", "largest_offcut_mm2", "cost", "cost_per_set", "leather_cost",
    "leather_cost_per_set", "currency", "seconds",
)  # fmt: skip


def answer_captions(answer: HideAnswer, units: str) -> tuple[str, ...]:
    """The lines under a hide's picture: sets; leather and yield; money of the whole hide, and of what is used of it."""
    if not answer.layers:
        return ("No layer of the job takes this leather.",)
    bought = _with_a_set(answer.cost, answer.cost_per_set, answer.currency)
    used = _with_a_set(answer.leather_cost, answer.leather_cost_per_set, answer.currency)
    lines = (
        f"{answer.whole} of {answer.asked} sets, {answer.placed} of {answer.pieces} placed",
        f"{_area(answer.area, units)}, {answer.net_yield:.1%} in finished pieces, "
        f"largest offcut {_area(answer.offcut, units)}",
    )
    money = (f"whole hide {bought}" if bought else "", f"leather used {used}" if used else "")
    return (*lines, *(words for words in money if words))


def pictured_answers(
    answers: Sequence[HideAnswer], job: Job, hides: Sequence[Hide], units: str
) -> list[tuple[Hide, Job, Plan | None, str, tuple[str, ...]]]:
    """What a page of pictures shows, in the order of `answers`: hide, its part of the job, plan, title, captions."""
    named = {hide.name: hide for hide in hides}
    return [
        (
            named[each.hide],
            job_for_hides(job, named[each.hide]) or job,
            each.plan,
            f"{place}. {each.hide}",
            answer_captions(each, units),
        )
        for place, each in enumerate(answers, start=1)
    ]


def combination_words(together: Combination, units: str) -> str:
    """Which hides together do the whole job for the least money (or leather), and how sure that is."""

    def worth(amount: float) -> str:
        return _area(amount, units) if together.by_area else money_words(amount, together.currency)

    names = " + ".join(f"'{name}'" for name in together.hides)
    if together.cheaper_failed == 0:
        sure = "nothing cheaper is large enough"
    elif together.cheaper_failed == 1:
        sure = f"one cheaper combination was planned and did not hold it; none under {worth(together.floor)} "
        sure += "is large enough"
    else:
        sure = f"{together.cheaper_failed} cheaper combinations were planned and did not hold it; "
        sure += f"none under {worth(together.floor)} is large enough"
    kind = "Least leather" if together.by_area else "Cheapest"
    money = "" if together.by_area else " of whole hides"
    figures = together.plan.figures
    used = figures.leather_cost if figures is not None and not together.by_area else None
    of_it = "" if used is None else f", {money_words(used, together.currency)} of it for the leather used"
    return f"{kind} for the whole job: {names}, {worth(together.cost)}{money}{of_it} ({sure})."


def comparison_csv(answers: Sequence[HideAnswer]) -> str:
    """The ranking as CSV (RFC 4180) with a line of headings; areas in mm2."""
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(_COLUMNS)
    for place, each in enumerate(answers, start=1):
        row = _row(place, each)
        table.writerow(["" if row[name] is None else row[name] for name in _COLUMNS])
    return text.getvalue()


def comparison_json(answers: Sequence[HideAnswer], together: Combination | None) -> str:
    """The ranking and the cheapest combination as JSON, without the plans' polygons."""
    found: dict[str, Any] = {"hides": [_row(place, each) for place, each in enumerate(answers, start=1)]}
    if together is not None:
        found["cheapest"] = {
            "hides": together.hides,
            "cost": together.cost,
            "by_area": together.by_area,
            "currency": together.currency,
            "floor": together.floor,
            "tried": together.tried,
            "cheaper_failed": together.cheaper_failed,
        }
    return msgspec.json.format(msgspec.json.encode(found), indent=2).decode()


def money_words(amount: float | None, currency: str) -> str:
    """An amount with its currency; nothing where it is not known."""
    return "" if amount is None else f"{amount:.2f} {currency}".strip()


def _with_a_set(amount: float | None, a_set: float | None, currency: str) -> str:
    """An amount, and that of one set where there is one; nothing where it is not known."""
    if amount is None:
        return ""
    return money_words(amount, currency) + ("" if a_set is None else f", {a_set:.2f} a set")


def _row(place: int, each: HideAnswer) -> dict[str, Any]:
    return {
        "rank": place,
        "hide": each.hide,
        "layers": " + ".join(each.layers),
        "sets": each.whole,
        "asked_sets": each.asked,
        "placed": each.placed,
        "asked": each.pieces,
        "done": each.done,
        "area_mm2": round(each.area, 1),
        "net_yield": round(each.net_yield, 5),
        "cut_yield": round(each.cut_yield, 5),
        "largest_offcut_mm2": round(each.offcut, 1),
        "cost": each.cost,
        "cost_per_set": None if each.cost_per_set is None else round(each.cost_per_set, 4),
        "leather_cost": None if each.leather_cost is None else round(each.leather_cost, 2),
        "leather_cost_per_set": (
            None if each.leather_cost_per_set is None else round(each.leather_cost_per_set, 4)
        ),
        "currency": each.currency,
        "seconds": round(each.seconds, 3),
    }


def _area(mm2: float, units: str) -> str:
    return show_area(mm2, "ft2" if units == "in" else "dm2", decimals=1)
