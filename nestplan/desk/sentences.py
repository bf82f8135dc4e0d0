"""What a hide, a job or a plan comes to, as sentences for the window.

The figures are those of `nestplan.yields`; here they are only put into words, in the units that are set.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from nestplan.desk.document.plan_edits import pieces_waiting
from nestplan.desk.locale_format import in_form, show_money, show_whole
from nestplan.desk.settings import Settings
from nestplan.model.goals import GOALS
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.plan import Figures, Plan
from nestplan.nesting.progress import Progress
from nestplan.sheets.size_words import fits_words
from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter
from nestplan.tasks.article_sizes import sizes_astray
from nestplan.yields.offcuts import largest_of_each_hide

if TYPE_CHECKING:
    from nestplan.estimate.buy import BuyEstimate
    from nestplan.estimate.count import Count
    from nestplan.model.cut_journal import RackRepair
    from nestplan.tasks.opening import OpenedFiles
    from nestplan.tasks.saving import SavedContents

__all__ = [
    "buy_notes",
    "buy_words",
    "count",
    "count_words",
    "cut_words",
    "figures_words",
    "hide_area_words",
    "job_words",
    "left_words",
    "opened_words",
    "plan_words",
    "repair_words",
    "saved_words",
    "search_words",
    "size_words",
]


def count(number: int, word: str, many: str = "") -> str:
    """`1 hide`, `2 hides`."""
    return f"{show_whole(number)} {word if number == 1 else many or word + 's'}"


def hide_area_words(hide: Hide, settings: Settings) -> str:
    """The area of a hide's outline, beside the seller's figure where there is one."""
    words = f"Measured {settings.area(hide.gross_area)}"
    if hide.stated_area is None:
        return words + "."
    off = hide.gross_area - hide.stated_area
    share = off / hide.stated_area if hide.stated_area else 0.0
    if abs(share) < 0.005:
        return f"{words}, as the seller states."
    more = "more" if off > 0 else "less"
    difference = in_form(f"{abs(share):.1%}")
    return f"{words}: {difference} {more} than the {settings.area(hide.stated_area)} the seller states."


def opened_words(opened: OpenedFiles) -> str:
    """What there is to tell of files that were opened: what is not as the plan had it, what was left out."""
    notes = []
    if opened.job_missing:
        notes.append("The job this plan was made from was not found: open it together with the plan.")
    if opened.hides_missing:
        names = ", ".join(opened.hides_missing)
        notes.append(f"The plan needs {names}: open that hide's file together with the plan.")
    changed = [*opened.changed, *(["the job"] if opened.job_changed else [])]
    if changed:
        notes.append(f"Changed since the plan was made: {', '.join(changed)}. The plan was checked again.")
    if opened.not_in_job:
        count = opened.not_in_job
        notes.append(
            f"{count} placement{'s' * (count != 1)} of pieces that the job does not cut so any more "
            f"{'were' if count != 1 else 'was'} left out."
        )
    if opened.used_up:
        notes.append(f"Used up and left out: {', '.join(opened.used_up)}.")
    if opened.job is not None:
        notes += sizes_astray(opened.job)
    return " ".join(notes)


def repair_words(repair: RackRepair) -> str:
    """What was put right in a rack."""
    what = f"{repair.plan}, {repair.date[:10]}"
    if repair.was == "cut":
        return f"A cut ({what}) had broken off; its files were put back. Book it again."
    return f"Taking back a cut ({what}) had broken off; it was finished."


def saved_words(done: SavedContents) -> list[str]:
    """What there is to tell of a saving besides where it went."""
    words = [repair_words(repair) for repair in done.repairs]
    now = {hide.name: hide.used for hide in done.contents.hides}
    for name in done.used_changed:
        state = (
            f"was cut up meanwhile for {now[name]}" if now[name] else "is whole again: its cut was taken back"
        )
        words.append(f"{name} {state}.")
    for name, error in done.pictures_not_kept:
        words.append(f"The picture of {name} is not kept: {error.what} {error.mend}")
    return words


def left_words(left: Collection[str]) -> list[str]:
    """What there is to tell of files that someone else alone changed meanwhile."""
    names = [{"": "the job", "plan": "the plan"}.get(name, name) for name in left]
    if not names:
        return []
    return [f"Changed meanwhile by someone else and left so: {', '.join(names)}. Open it again to see it."]


def job_words(job: Job | None) -> str:
    """What a job asks for."""
    if job is None:
        return "nothing asked yet"
    pieces = sum(piece.piece.count * job.articles[piece.article].sets for piece in job.cut_pieces)
    strips = sum(strip.strip.count * job.articles[strip.article].sets for strip in job.wanted_strips)
    parts = [count(sum(article.sets for article in job.articles), "set")]
    if pieces:
        parts.append(count(pieces, "piece"))
    if strips:
        parts.append(count(strips, "strip"))
    return ", ".join(parts)


def size_words(article: Article, unit: LengthUnit) -> str:
    """Which size an article is, what it is made from, and what it fits."""
    formatter = UnitFormatter(unit)
    parts = [f"size {article.size}"] if article.size else []
    if article.graded_from:
        parts.append(f"made from {article.graded_from}")
    if article.sizes:
        parts.append(f"also in {', '.join(size.name for size in article.sizes.others)}")
    parts += filter(None, [fits_words(article, formatter)])
    words = "; ".join(parts)
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def plan_words(plan: Plan | None, job: Job | None, figures: Figures | None, faults: int = 0) -> str:
    """How far a plan is, in one short line; with `faults` in it no set is whole."""
    if job is None:
        return "no job yet"
    if plan is None:
        return "not planned yet"
    waiting = sum(entry.count for entry in pieces_waiting(plan, job))
    laid = count(len({(p.name, p.layer, p.copy) for p in plan.placements}), "piece") + " placed"
    if faults:
        laid = f"{laid}, {count(faults, 'fault')} to mend"
    elif figures is not None and figures.sets:
        whole, asked = sum(s.whole for s in figures.sets), sum(s.asked for s in figures.sets)
        laid = f"{whole} of {count(asked, 'set')} whole"
    return f"{laid}, {waiting} waiting" if waiting else laid


def cut_words(plan: Plan | None) -> str:
    """How much is cut."""
    if plan is None or not plan.placements:
        return "nothing to cut yet"
    return f"{sum(p.done for p in plan.placements)} of {len(plan.placements)} cut"


def figures_words(figures: Figures, settings: Settings, hide: str = "", *, faults: int = 0) -> Sequence[str]:
    """What a plan comes to, a sentence each; the sets first, unless `faults` in the plan spoil them."""
    words = []
    for sets in figures.sets if not faults else ():
        line = f"{sets.article}: {sets.whole} of {count(sets.asked, 'set')}"
        if sets.whole < sets.asked and sets.bound < sets.asked:
            line += f" (no plan on these hides can give more than {sets.bound})"
        words.append(line + ".")
    on = count(figures.hides_used, "hide")
    words.append(
        f"{figures.net_yield:.0%} of the leather on {on} becomes pieces and strips; {figures.lost_to_flaws:.0%} is "
        f"lost to flaws, {figures.lost_to_overcut:.0%} to overcut, {figures.lost_to_gaps:.0%} to the gaps, "
        f"{figures.lost_to_small_offcuts:.0%} to bits too small to keep."
    )
    here = [offcut for offcut in figures.offcuts if not hide or offcut.hide == hide]
    if here:
        largest = max(here, key=lambda offcut: offcut.area)
        size = settings.size(largest.rectangle_width, largest.rectangle_height)
        area = settings.area(sum(offcut.area for offcut in here))
        # A plan handed out in a hurry has its offcuts' areas alone.
        free = f" with {size} free of flaws" if largest.rectangle_width > 0.0 else ""
        as_one = (
            "as one offcut" if len(here) == 1 else f"as {len(here)} offcuts" + ", the largest" * bool(free)
        )
        where = " on this hide" if hide else ""
        words.append(f"{area} left{where} {as_one}{free}.")
        of_each = largest_of_each_hide(here)
        if len(of_each) > 1:
            together = settings.area(sum(of_each.values()))
            words.append(f"The largest offcuts of {count(len(of_each), 'hide')} come to {together}.")
    if figures.cost is not None:
        words.append(
            f"Whole hides bought: {_money_words(figures.cost, figures.cost_per_set, figures.currency, settings)}."
        )
    if figures.leather_cost is not None:
        used = _money_words(figures.leather_cost, figures.leather_cost_per_set, figures.currency, settings)
        words.append(f"Leather used, with its waste but without the offcuts to keep: {used}.")
    return words


def _money_words(amount: float, a_set: float | None, currency: str, settings: Settings) -> str:
    """So much in all, and so much a set where there is one."""
    money = settings.money(amount, currency)
    return money if a_set is None else f"{money}, {show_money(a_set)} a set"


def count_words(counts: Sequence[Count], what: str = "set") -> list[str]:
    """How many sets (or straps) each hide gives: surely, and at most."""
    lines = []
    for each in counts:
        if not each.layers:
            lines.append(f"{each.hide}: no layer of this job may be cut from it.")
            continue
        mixed = "; ".join(f"{number} × {name}" for name, number in each.sets) if len(each.sets) > 1 else ""
        sets = count(each.proven, what) + (f" ({mixed})" if mixed else "")
        if each.closed:
            why = f" ({each.why})" if each.why else ""
            lines.append(f"{each.hide}: {sets}; no plan can give more{why}.")
        else:
            lines.append(f"{each.hide}: {sets} surely, at most {each.bound}.")
    if len({each.layers for each in counts if each.layers}) > 1:
        lines.append(
            "Each hide is counted for the layers it can serve: sets of one layer are not whole articles."
        )
    return lines


def buy_words(estimate: BuyEstimate, settings: Settings) -> list[str]:
    """What to buy: the advice, and what is enough how often."""
    from nestplan.estimate.buying_report import advice_words, buying_table, wanted_words

    lines = [advice_words(estimate, settings.area, settings.money), wanted_words(estimate, settings.area)]
    for share, area, hides, held, price in buying_table(estimate, settings.area, settings.money)[1:]:
        if not hides:
            lines.append(f"Enough in {share}: {area}.")
            continue
        money = f" for about {price}" if price else ""
        number = f"{hides} hide{'s' * (hides != '1')}"
        more = (
            "" if area.startswith("1 hide") else f", or hides as they come until they have more than {area}"
        )
        lines.append(f"Enough in {share}: {number}{more}; you then have {held}{money}.")
    return lines


def buy_notes(estimate: BuyEstimate, settings: Settings) -> list[str]:
    """What an estimate of leather to buy rests on."""
    from nestplan.estimate.buying_report import buying_notes

    return buying_notes(estimate, settings.area, table=False)


def search_words(progress: Progress | None) -> str:
    """How far a search is, as a sentence."""
    if progress is None:
        return "Reading the hides and the job …"
    stages = {
        "start": "Reading",
        "strips": "Placing straps and laces",
        "lay": "Placing the largest first",
        **{step.stage: step.words for goal in GOALS for step in goal.steps},
        "check": "Checking the plan",
    }
    words = stages.get(progress.stage, progress.stage)
    if not progress.asked:
        return f"{words} …"
    sets = ""
    if progress.sets > progress.sets_asked:
        sets = f", {progress.sets} sets"
    elif progress.sets_asked:
        sets = f", {progress.sets} of {progress.sets_asked} sets"
    # A search for more sets than are asked goes beyond what is asked.
    placed = (
        f"{progress.placed} pieces"
        if progress.placed > progress.asked
        else (f"{progress.placed} of {progress.asked}")
    )
    return f"{words}: {placed} have a place{sets}."
