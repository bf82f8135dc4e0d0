"""nestplan for Python users: read, plan, check, compare, count, draw.

Each function is reached as `nestplan.NAME`. What is read or planned here is known by its content hash for as long as
the program runs, so that a plan, which names its job and hides by that hash, can be drawn by itself.
"""

from __future__ import annotations

import html
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

from nestplan.errors import InputError
from nestplan.estimate.combine import Combination
from nestplan.estimate.compare import HideAnswer
from nestplan.estimate.count import Count
from nestplan.geometry.units import show_area
from nestplan.model import Article, Hide, Job, Plan, Strip
from nestplan.model.audit import Fault
from nestplan.model.files import (
    content_hash,
    write_hide,
    write_job,
    write_plan,
)
from nestplan.model.files import read_hide as _read_hide
from nestplan.model.files import read_hides as _read_hides
from nestplan.model.files import read_job as _read_job
from nestplan.model.files import read_plan as _read_plan
from nestplan.model.goals import COMPLETE
from nestplan.model.notebook import register_views
from nestplan.model.plan import Source
from nestplan.sheets.unit_formatting import LengthUnit
from nestplan.tasks.opening import hide_files
from nestplan.tasks.settling import settle_hides

__all__ = [
    "Comparison",
    "check",
    "compare",
    "count",
    "draw",
    "plan",
    "read_hide",
    "read_hides",
    "read_job",
    "read_plan",
    "write",
]

AnyPath = str | os.PathLike[str]
Known = TypeVar("Known", Hide, Job)

_jobs: dict[str, Job] = {}
_hides: dict[str, Hide] = {}


def read_hide(path: AnyPath) -> Hide:
    """The hide in a `*.hide.json` file. Raises InputError with file, place and mend."""
    settle_hides([Path(path)])
    return _remembered(_read_hide(path), _hides)


def read_hides(*paths: AnyPath) -> tuple[Hide, ...]:
    """The hides in these files, and in each folder among `paths` all its `*.hide.json` files by name.

    Raises InputError where a folder holds none, a file is spoiled or given twice, or two hides have one name.
    """
    files = hide_files(map(Path, paths), used_too=True)
    return tuple(_remembered(hide, _hides) for hide in _read_hides(files))


def read_job(path: AnyPath) -> Job:
    """The job in a `*.job.json` file. Raises InputError with file, place and mend."""
    return _remembered(_read_job(path), _jobs)


def read_plan(path: AnyPath) -> Plan:
    """The plan in a `plan.json` file. Raises InputError with file, place and mend.

    To draw it, read its job and hides too.
    """
    return _read_plan(path)


def write(record: Hide | Job | Plan, path: AnyPath) -> None:
    """Write a hide, job or plan to a file, whole or not at all. Raises InputError where that cannot be."""
    if isinstance(record, Hide):
        write_hide(path, record)
    elif isinstance(record, Job):
        write_job(path, record)
    else:
        write_plan(path, record)


def plan(
    job: Job,
    hides: Sequence[Hide],
    *,
    goal: str = COMPLETE.name,
    seconds: float | None = None,
    passes: int | None = None,
    seed: int = 0,
) -> Plan:
    """A plan of `job` on `hides`, checked a second time before it is handed out; its figures are in `plan.figures`.

    `goal` is one of `nestplan plan --help`: place all on few hides, make as many sets as fit, or leave one large
    offcut. The search lasts `seconds`, or `passes` of improvement (then one seed gives one plan); with neither it
    ends with the first answer. Raises InputError where there is nothing to plan on or no such goal.
    """
    from nestplan.nesting.nest import nest

    _remembered(job, _jobs)
    for hide in hides:
        _remembered(hide, _hides)
    return nest(job, tuple(hides), goal=goal, seconds=seconds, passes=passes, seed=seed)


def check(plan: Plan, job: Job | None = None, hides: Sequence[Hide] | None = None) -> tuple[Fault, ...]:
    """Every fault of a plan, found anew from its polygons; none if it is right.

    Job and hides are those read in this program unless given. Raises InputError where they are not known.
    """
    from nestplan.model.audit import check as check_plan

    return check_plan(plan, *_job_and_hides(plan, job, hides))


@dataclass(frozen=True)
class Comparison:
    """What each hide gives of a job by itself, best first, and the cheapest hides that together do it (or None)."""

    job: Job
    hides: tuple[Hide, ...]
    answers: tuple[HideAnswer, ...]
    together: Combination | None
    units: LengthUnit = "mm"

    def __iter__(self) -> Iterator[HideAnswer]:
        return iter(self.answers)

    def __len__(self) -> int:
        return len(self.answers)

    def _repr_html_(self) -> str:
        from nestplan.estimate.comparison_report import combination_words, money_words

        head = (
            "",
            "hide",
            "sets",
            "placed",
            "area",
            "in pieces",
            "largest offcut",
            "whole hide",
            "leather used",
        )
        rows = [
            (
                str(place),
                each.hide,
                f"{each.whole} of {each.asked}",
                f"{each.placed} of {each.pieces}",
                show_area(each.area, _area_unit(self.units)),
                f"{each.net_yield:.1%}",
                show_area(each.offcut, _area_unit(self.units)),
                money_words(each.cost, each.currency),
                money_words(each.leather_cost, each.currency),
            )
            for place, each in enumerate(self.answers, start=1)
        ]
        foot = "" if self.together is None else combination_words(self.together, self.units)
        return _table(head, rows) + (f"<p>{html.escape(foot)}</p>" if foot else "")


def compare(
    job: Job, hides: Sequence[Hide], *, passes: int = 0, seed: int = 0, together: bool = False
) -> Comparison:
    """What each of `hides` gives of `job` by itself, ranked by whole sets; with `together` also the cheapest hides
    that do all of it. Each plan is looked for in `passes` of improvement. Raises InputError where there are no hides.
    """
    from nestplan.estimate.combine import cheapest
    from nestplan.estimate.compare import compare as compare_hides
    from nestplan.estimate.planner import EnginePlanner

    effort = EnginePlanner(passes=passes, seed=seed)
    answers = compare_hides(job, hides, planner=effort)
    combination = cheapest(job, hides, planner=effort) if together else None
    return Comparison(job, tuple(hides), answers, combination)


def count(job: Job, hides: Sequence[Hide], *, passes: int = 0, seed: int = 0) -> tuple[Count, ...]:
    """How many whole sets each hide, and all together, surely give and can give at most.

    Raises InputError where there are no hides.
    """
    from nestplan.estimate.count import count as count_sets
    from nestplan.estimate.planner import EnginePlanner

    return tuple(count_sets(job, hides, planner=EnginePlanner(passes=passes, seed=seed)))


def draw(
    shown: Plan | Hide,
    path: AnyPath | None = None,
    *,
    job: Job | None = None,
    hides: Sequence[Hide] | None = None,
    units: LengthUnit = "mm",
    look: str = "light",
) -> str:
    """The picture of a plan or a hide as SVG; written to `path` too, as SVG, PNG or PDF by its ending.

    A plan is drawn with its job and hides: those read in this program unless given. Raises InputError where they are
    not known, for another ending, or for an unknown look (light, dark, print).
    """
    from nestplan.drawing.pages import Booklet
    from nestplan.drawing.pdf import write_pdf
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import svg_text, write_svg
    from nestplan.sheets.plan_pictures import plan_picture

    drawn, job, hides = (
        _bare_plan(shown) if isinstance(shown, Hide) else (shown, *_job_and_hides(shown, job, hides))
    )
    page = plan_picture(drawn, job, hides, units=units, look=look)
    if path is not None:
        path = Path(path)
        ending = path.suffix.lower()
        if ending == ".svg":
            write_svg(page, path, title=shown.name)
        elif ending == ".png":
            write_png(page, path)
        elif ending == ".pdf":
            write_pdf(Booklet(shown.name, (page,)), path)
        else:
            raise InputError(
                f"A picture cannot be written as '{ending}'.", file=str(path), mend="Use .svg, .png or .pdf."
            )
    return svg_text(page, title=shown.name)


def _remembered(record: Known, known: dict[str, Known]) -> Known:
    known[content_hash(record)] = record
    return record


def _job_and_hides(plan: Plan, job: Job | None, hides: Sequence[Hide] | None) -> tuple[Job, tuple[Hide, ...]]:
    """Those given, or those that the plan names, if they were read or planned with in this program."""
    job = job or _jobs.get(plan.job.hash)
    found = (
        tuple(hides) if hides is not None else tuple(_hides[s.hash] for s in plan.hides if s.hash in _hides)
    )
    if job is None or (hides is None and len(found) < len(plan.hides)):
        missing = "job" if job is None else "hides"
        raise InputError(
            f"The {missing} of the plan '{plan.name}' have not been read here, or have changed since.",
            place=missing,
            mend="Read them with read_job and read_hides, or hand them over.",
        )
    return job, found


def _bare_plan(hide: Hide) -> tuple[Plan, Job, tuple[Hide, ...]]:
    """A plan with nothing on it, whose picture is that of the hide."""
    source = Source(name=hide.name, hash=content_hash(hide))
    article = Article(name=hide.name, sets=1, strips=(Strip(name=hide.name, width=10.0, length=100.0),))
    return (
        Plan(name=hide.name, job=source, hides=(source,)),
        Job(name=hide.name, articles=(article,)),
        (hide,),
    )


def _area_unit(units: LengthUnit) -> Literal["dm2", "ft2"]:
    return "ft2" if units == "in" else "dm2"


def _plan_svg(plan: Plan) -> str | None:
    try:
        return draw(plan)
    except InputError:
        return None


def _plan_html(plan: Plan) -> str | None:
    """The figures of a plan as a table; None where it has none."""
    figures = plan.figures
    if figures is None:
        return None
    rows = [(each.article, f"{each.whole} of {each.asked}") for each in figures.sets]
    rows += [
        ("placed", str(len(plan.placements))),
        ("without a place", str(sum(each.count for each in plan.unplaced))),
        ("in finished pieces", f"{figures.net_yield:.1%}"),
        ("in cut shapes", f"{figures.cut_yield:.1%}"),
    ]
    return _table((plan.name, ""), rows)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    def line(tag: str, cells: Sequence[str]) -> str:
        return "<tr>" + "".join(f"<{tag}>{html.escape(cell)}</{tag}>" for cell in cells) + "</tr>"

    return "<table>" + line("th", head) + "".join(line("td", row) for row in rows) + "</table>"


register_views(Hide, svg=draw)
register_views(Plan, svg=_plan_svg, html=_plan_html)
