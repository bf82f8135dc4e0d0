"""Estimates as lines and tables: what `compare`, `count` and `buy` print."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestplan.estimate.buy import BuyEstimate, BuyFigure
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer
    from nestplan.estimate.count import Count

__all__ = ["buy_lines", "buy_notes", "comparison_lines", "count_lines", "mark_words", "strap_places_words"]


def comparison_lines(answers: Sequence[HideAnswer], together: Combination | None, units: str) -> list[str]:
    """The ranking as a table, and the cheapest combination below it."""
    from nestplan.estimate.comparison_report import combination_words, money_words

    rows = [
        [
            "",
            "hide",
            "sets",
            "placed",
            "area",
            "in pieces",
            "offcut",
            "whole hide",
            "a set",
            "leather used",
            "a set",
        ]
    ]
    for place, each in enumerate(answers, start=1):
        if not each.layers:
            rows.append([str(place), each.hide, "-", "no layer takes this leather", *[""] * 7])
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
                money_words(each.leather_cost, each.currency),
                money_words(each.leather_cost_per_set, each.currency),
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


def count_lines(counts: Sequence[Count]) -> list[str]:
    """A line for each hide and one for all together."""
    rows = [["hide", "surely", "at most", "of each", "time"]]
    for each in counts:
        if not each.layers:
            rows.append([each.hide, "-", "-", "no layer takes this leather", ""])
            continue
        parts = "; ".join(f"{number} × {name}" for name, number in each.sets) if len(each.sets) > 1 else ""
        rows.append(
            [each.hide, str(each.proven), str(each.bound), each.why or parts, f"{each.seconds:.1f} s"]
        )
    lines = _aligned(rows)
    lines.append("Surely: a plan that was checked lays so many. At most: no plan can lay more.")
    if len({each.layers for each in counts if each.layers}) > 1:
        lines.append(
            "Each hide is counted for the layers it can serve: sets of one layer are not whole articles."
        )
    return lines


def strap_places_words(off: Sequence[str], firmness: int) -> str:
    """Where straps were counted."""
    words = f"off the {' and the '.join(off)}" if off else "on every region"
    firm = f", where the firmness is {firmness} or more" if firmness > 1 else ""
    more = " (--anywhere counts there too)" if off else ""
    return f"Straps {words}{firm}{more}."


def buy_lines(estimate: BuyEstimate, units: str) -> list[str]:
    """The advice, what is enough how often, what it costs, and everything it rests on."""
    from nestplan.estimate.buying_report import advice_words, buying_table, wanted_words

    def show(mm2: float) -> str:
        return _area(mm2, units)

    return [
        advice_words(estimate, show),
        wanted_words(estimate, show),
        *_aligned(buying_table(estimate, show)),
        *buy_notes(estimate, units),
    ]


def mark_words(figure: BuyFigure, units: str) -> str:
    """What a mark on the plot of a purchase says."""
    from nestplan.estimate.buying_report import mark_words as words

    return words(figure, lambda mm2: _area(mm2, units))


def buy_notes(estimate: BuyEstimate, units: str) -> list[str]:
    """How to buy by the estimate, and everything it rests on."""
    from nestplan.estimate.buying_report import buying_notes

    return buying_notes(estimate, lambda mm2: _area(mm2, units))


def _area(mm2: float, units: str) -> str:
    from nestplan.geometry.units import show_area

    return show_area(mm2, "ft2" if units == "in" else "dm2", decimals=1)


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]
