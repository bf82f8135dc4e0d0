"""The lesson sheet: the job's steps with their reasons and room for notes, for someone who teaches it; no prices."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nestplan.drawing.booklet_builder import BODY_SIZE, TITLE_SIZE, BookletBuilder, Column
from nestplan.drawing.pages import MARGIN, Booklet, paper_named
from nestplan.drawing.primitives import LineStyle
from nestplan.model import Article, Hide, Job, Plan
from nestplan.sheets import cautions
from nestplan.sheets.cutting_order import GROUP_REASONS, cutting_steps, pair_mates
from nestplan.sheets.cutting_table import step_words
from nestplan.sheets.job_sheet import add_pieces, add_strips
from nestplan.sheets.lacing_blocks import add_lacing
from nestplan.sheets.placement_names import placed_name
from nestplan.sheets.placement_reasons import placement_reasons, strip_reasons
from nestplan.sheets.size_words import fits_words
from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter
from nestplan.sheets.work_steps import Tool, WorkStep, work_steps

__all__ = ["lesson_sheet_booklet"]

_EXAMPLES = 12
"""So many different pieces of a hide are explained at most: further ones repeat the same reasons."""


def lesson_sheet_booklet(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    *,
    units: LengthUnit = "mm",
    paper: str = "a4",
    class_size: int = 1,
) -> Booklet:
    """The pages: what is made, the tools for a class of that size, each step with its reason, what goes wrong in it and
    lines for notes, and why the pieces lie as they do."""
    formatter, sheet = UnitFormatter(units), paper_named(paper)
    booklet = BookletBuilder(
        paper_named("a4") if sheet.roll else sheet,
        f"Lesson sheet: {job.name}",
        note="Use it beside the cut sheet, whose numbers it names.",
    )
    booklet.heading(job.name, size=TITLE_SIZE)
    booklet.paragraph("Name: ____________________________     Date: ________________")
    booklet.paragraph(
        "We make " + ", ".join(_made_words(article, formatter) for article in job.articles) + "."
    )
    booklet.heading("Before we start")
    booklet.bullets((*cautions.CUTTING, *cautions.PUNCHING, *cautions.GLUING, *cautions.DUST))
    booklet.paragraph(cautions.ABOVE_ALL, bold=True)
    booklet.heading("What we cut")
    add_pieces(booklet, job, formatter)
    add_strips(booklet, job, formatter)
    steps = work_steps(job, formatter)
    _add_tools(booklet, steps, class_size)
    booklet.heading("Step by step")
    for number, step in enumerate(steps, start=1):
        _add_step(booklet, number, step)
    add_lacing(booklet, job, formatter)
    for hide in hides:
        if any(placed.hide == hide.name for placed in plan.placements):
            _add_places(booklet, plan, job, hide, formatter)
    _add_questions(booklet)
    return booklet.finish()


def _made_words(article: Article, formatter: UnitFormatter) -> str:
    fits = fits_words(article, formatter)
    return f"{article.sets} × {article.name}{f' ({fits})' if fits else ''}"


def _add_tools(booklet: BookletBuilder, steps: Sequence[WorkStep], class_size: int) -> None:
    """Every tool once, with how many a class of that size needs and the steps it is for."""
    needed: dict[str, tuple[Tool, list[int]]] = {}
    for number, step in enumerate(steps, start=1):
        for tool in step.tools:
            needed.setdefault(tool.name, (tool, []))[1].append(number)
    rows = [
        [
            tool.name,
            str(math.ceil(class_size / tool.shared_by)),
            "each their own" if tool.shared_by == 1 else f"one for {tool.shared_by}",
            ", ".join(map(str, numbers)),
            "☐",
        ]
        for tool, numbers in needed.values()
    ]
    people = "one person" if class_size == 1 else f"a class of {class_size}"
    booklet.heading(f"Tools for {people}")
    columns = (
        Column("tool", 60.0),
        Column("how many", 20.0, "right"),
        Column("shared", 30.0),
        Column("for steps", 50.0),
        Column("there", 14.0, "middle"),
    )
    booklet.table(columns, rows)


def _add_step(booklet: BookletBuilder, number: int, step: WorkStep) -> None:
    booklet.ensure_room(40.0)
    booklet.paragraph(f"{number}. {step.name}", bold=True, size=BODY_SIZE + 0.3, gap=0.4)
    booklet.paragraph(step.what, indent=5.0, gap=0.4)
    booklet.bullets(step.details, indent=5.0)
    booklet.paragraph(f"Why: {step.why}", indent=5.0, gap=0.4)
    if step.tools:
        booklet.paragraph(f"With: {', '.join(tool.name for tool in step.tools)}.", indent=5.0, gap=0.4)
    if step.wrong:
        booklet.paragraph(f"What goes wrong: {step.wrong}", indent=5.0, gap=0.4)
    for care in step.care:
        booklet.paragraph(f"Take care: {care}", indent=5.0, gap=0.4)
    booklet.paragraph("Time planned: ________ min     Time taken: ________ min", indent=5.0, gap=0.4)
    _notes(booklet, 2)


def _add_places(booklet: BookletBuilder, plan: Plan, job: Job, hide: Hide, formatter: UnitFormatter) -> None:
    """Why this place, why this way round: one example of every different piece on the hide."""
    booklet.heading(f"Why each piece is here: {hide.name}")
    partners = pair_mates(plan, job, [n for n, placed in enumerate(plan.placements) if placed.piece])
    told: set[str] = set()
    group = ""
    for step in cutting_steps(plan, job, hide):
        member = step.members[0]
        name = placed_name(job, plan.placements[member])
        if name in told or len(told) >= _EXAMPLES:
            continue
        told.add(name)
        if step.group != group:
            group = step.group
            booklet.ensure_room(30.0)
            booklet.paragraph(GROUP_REASONS[step.group], bold=True, gap=0.6)
        booklet.ensure_room(16.0)
        booklet.paragraph(f"No. {step.label}: {step_words(plan, job, step, formatter)}", gap=0.3)
        if plan.placements[member].piece:
            sentences = placement_reasons(plan, job, hide, member, partners.get(member), formatter)
        else:
            sentences = strip_reasons(plan, job, hide, step.members)
        booklet.paragraph(" ".join(sentences), indent=5.0)
    _notes(booklet, 3)


def _add_questions(booklet: BookletBuilder) -> None:
    booklet.heading("Talk about it")
    booklet.bullets(
        (
            "Which piece would you have laid elsewhere, and what would have had to move for it?",
            "Where would a flaw be worst on these pieces, and where would nobody ever see it?",
            "What could be made from the offcuts that are kept?",
        )
    )
    _notes(booklet, 4)


def _notes(booklet: BookletBuilder, count: int) -> None:
    """Empty lines to write on."""
    for _ in range(count):
        booklet.ensure_room(8.0)
        booklet.skip(7.5)
        line = [(MARGIN + 5.0, booklet.y), (MARGIN + booklet.width, booklet.y)]
        booklet.page.picture.line(line, LineStyle(0.1, "#777777", (0.4, 1.2)), layer="notes")
    booklet.skip(3.0)
