"""The figures of a plan and the reasons of what has no place as sentences, and numbers with their nouns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from nestplan.geometry.units import show_area, show_length
from nestplan.model import Job, Plan
from nestplan.model.plan import Figures
from nestplan.sheets.unplaced_words import unplaced_rows
from nestplan.yields.offcuts import largest_of_each_hide

__all__ = ["counted", "figures_in_words", "money_in_words", "unplaced_in_words"]


def counted(number: int, what: str) -> str:
    """`1 flaw`, `2 flaws`."""
    return f"{number} {what}{'s' * (number != 1)}"


def figures_in_words(plan: Plan, job: Job) -> Iterator[str]:
    """The figures of a plan, a line each, in the job's units."""
    figures = plan.figures
    if figures is None:
        return
    area: Literal["dm2", "ft2"] = "ft2" if job.units == "in" else "dm2"
    for sets in figures.sets:
        bound = "" if sets.bound >= sets.asked else f"; no plan can give more than {sets.bound}"
        yield f"{sets.article}: {sets.whole} of {counted(sets.asked, 'set')}{bound}"
    hides = f"{figures.hides_used} of {counted(len(plan.hides), 'hide')}"
    fewest = f" (all of it needs at least {figures.hides_bound})" if figures.hides_bound > 1 else ""
    yield (
        f"{figures.placed} of {figures.asked} placed on {hides}{fewest}; "
        f"{figures.net_yield:.1%} of the leather used in finished pieces, {figures.cut_yield:.1%} in cut shapes"
    )
    yield (
        f"Leather used {show_area(figures.gross, area)}: finished pieces {show_area(figures.net, area)}, "
        f"flaws {figures.lost_to_flaws:.1%}, overcut {figures.lost_to_overcut:.1%}, gaps {figures.lost_to_gaps:.1%}, "
        f"too small to keep {figures.lost_to_small_offcuts:.1%}"
    )
    if figures.offcuts:
        best = max(figures.offcuts, key=lambda offcut: offcut.area)
        sides = f"{show_length(best.rectangle_width, job.units)} × {show_length(best.rectangle_height, job.units)}"
        # A plan handed out in a hurry has its offcuts' areas alone.
        holds = f", holds a rectangle of {sides}" if best.rectangle_width > 0.0 else ""
        yield (
            f"{counted(len(figures.offcuts), 'offcut')} worth keeping, {show_area(figures.offcut_area, area)} "
            f"together; the largest, {show_area(best.area, area)} of '{best.hide}'{holds}"
        )
        largest = largest_of_each_hide(figures.offcuts)
        if len(largest) > 1:
            yield f"The largest offcuts of {len(largest)} hides: {show_area(sum(largest.values()), area)} together"
    yield from money_in_words(figures)


def money_in_words(figures: Figures) -> Iterator[str]:
    """What the whole hides bought cost and what the leather used does, each said as what it is; nothing without a
    price."""
    if figures.cost is not None:
        yield f"Whole hides bought: {_money(figures.cost, figures.cost_per_set, figures.currency)}"
    if figures.leather_cost is not None:
        used = _money(figures.leather_cost, figures.leather_cost_per_set, figures.currency)
        yield f"Leather used, its waste with it but not the offcuts worth keeping: {used}"


def _money(amount: float, a_set: float | None, currency: str) -> str:
    """So much in all, and so much a set where there is one."""
    each = "" if a_set is None else f", {a_set:.2f} a set"
    return f"{f'{amount:.2f} {currency}'.rstrip()}{each}"


def unplaced_in_words(plan: Plan, job: Job) -> Iterator[str]:
    """What has no place and why, a line for each reason."""
    for row in unplaced_rows(plan.unplaced, job):
        yield f"Not placed: {row.what}: {row.why} {row.change}".rstrip()
