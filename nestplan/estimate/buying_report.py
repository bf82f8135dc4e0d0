"""An estimate of leather to buy put into words: the advice first, the same for the command line and the window.

How an area is shown is the caller's, as is the unit of its job.
"""

from __future__ import annotations

from collections.abc import Callable

from nestplan.estimate.buy import MOST_HIDES, BuyAdvice, BuyEstimate, BuyFigure, least_trials
from nestplan.estimate.comparison_report import money_words
from nestplan.model.anatomy import ANATOMY

__all__ = ["advice_words", "area_to_pass", "buying_notes", "buying_table", "mark_words", "wanted_words"]

ShowArea = Callable[[float], str]
"""Puts an area, mm2, into words."""
ShowMoney = Callable[[float, str], str]
"""Puts an amount of a currency into words."""


def advice_words(estimate: BuyEstimate, show: ShowArea, show_money: ShowMoney = money_words) -> str:
    """What to buy and how often it is enough, in one line; what few trials cannot say is said."""
    advice, kind = estimate.advice, estimate.kind
    one = show(advice.area / advice.hides)
    hides = f"{advice.hides} {ANATOMY[kind.kind].noun(advice.hides)}"
    size = f"about {one}" if advice.hides == 1 else f"about {one} each, {show(advice.area)} together"
    price = "" if advice.money is None else f", for about {show_money(advice.money, kind.currency)}"
    told = f"Buy {hides} of {size}{price}: enough in {advice.enough} of {advice.trials} trials"
    if advice.sure >= advice.share:
        return f"{told}, so in {_of_many(advice.share)} purchases or more (95 % sure)."
    return f"{told}. {_too_unsure(advice)}"


def wanted_words(estimate: BuyEstimate, show: ShowArea) -> str:
    """What the leather is for, and how much of it is in the finished pieces."""
    wanted = "; ".join(f"{number} × {name}" for name, number in estimate.sets)
    return f"For {wanted}; finished pieces of {show(estimate.net)} in all."


def buying_table(
    estimate: BuyEstimate, show: ShowArea, show_money: ShowMoney = money_words
) -> list[list[str]]:
    """Rows for other degrees of safety, headings first; each figure on the safe side of what the trials say."""
    rows = [["enough in", "buy more than", "hides", "leather you then have", "price"]]
    for each in estimate.figures:
        share = f"{_of_many(each.share)} purchases"
        if each.area is None or each.hides is None or each.bought is None:
            rows.append([share, _unknown(each, estimate), "", "", ""])
            continue
        money = "" if each.money is None else show_money(each.money, estimate.kind.currency)
        rows.append([share, area_to_pass(each, show), str(each.hides), f"about {show(each.bought)}", money])
    return rows


def buying_notes(estimate: BuyEstimate, show: ShowArea, *, table: bool = True) -> list[str]:
    """How to buy by the `table` where one is shown, how sure it is, and everything it rests on."""
    last = estimate.figures[-1]
    fewer = "" if last.area is None else f" for the last line perhaps to {show(last.least_area)}"
    how = [
        "By the table: buy hides as they come until the areas marked on them come to more than 'buy more than'; "
        "'hides' is the number that is enough as often, whatever their areas."
    ]
    return [
        *(how if table else ()),
        "The figures are on the safe side: 95 of 100 such estimates are enough as often as they say or more often. "
        f"More trials may bring them down{',' * bool(fewer)}{fewer}.",
        f"{len(estimate.purchases)} trials on simulated hides, seed {estimate.seed}, planned with {estimate.planner}. "
        "Simulated hides are not yours: the figures they were made with follow.",
        *estimate.kind.words,
    ]


def mark_words(figure: BuyFigure, show: ShowArea) -> str:
    """What a mark on the plot of an estimate says."""
    return f"enough in {_of_many(figure.share)} purchases: {area_to_pass(figure, show)}"


def area_to_pass(figure: BuyFigure, show: ShowArea) -> str:
    """The area that hides are bought up to, in words: any one hide passes an area of nothing."""
    if figure.area is None:
        return "not known"
    return show(figure.area) if figure.area > 0.0 else "1 hide, whichever it is"


def _too_unsure(advice: BuyAdvice) -> str:
    """Why no number of hides is advised for the share that was asked."""
    if advice.enough < advice.trials:
        return (
            f"In the others nothing up to {MOST_HIDES} hides was, so no number is surely enough in "
            f"{_of_many(advice.share)} purchases."
        )
    sure = int(100.0 * advice.sure)
    return (
        f"So few trials make that sure for {_of_many(sure / 100.0)} purchases only; for {_of_many(advice.share)} it "
        f"takes {least_trials(advice.share)} trials or more."
    )


def _unknown(figure: BuyFigure, estimate: BuyEstimate) -> str:
    trials = least_trials(figure.share)
    if len(estimate.purchases) < trials:
        return f"takes {trials} trials or more to say"
    return "no number was enough so often"


def _of_many(share: float) -> str:
    """`9 of 10`, `95 of 100`."""
    tenths = 10.0 * share
    if abs(tenths - round(tenths)) < 1e-9:
        return f"{round(tenths)} of 10"
    return f"{round(100.0 * share, 1):g} of 100"
