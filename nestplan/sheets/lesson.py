"""The lesson sheet: the job's steps with their reasons and room for notes, for someone who teaches it; no prices."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nestplan.drawing.flow import BODY, TITLE, Flow
from nestplan.drawing.pages import MARGIN, Booklet, paper_named
from nestplan.drawing.primitives import Stroke
from nestplan.model import Hide, Job, Plan
from nestplan.sheets import cautions
from nestplan.sheets.cutting_order import GROUP_WORDS, cutting_order, mates
from nestplan.sheets.jobsheet import set_pieces, set_strips
from nestplan.sheets.measures import LengthUnit, Measures
from nestplan.sheets.naming import placement_label
from nestplan.sheets.order_table import what_words
from nestplan.sheets.place_reasons import place_reasons, strip_reasons
from nestplan.sheets.work_steps import work_steps

__all__ = ["lesson_sheet", "write_lesson_sheet"]

_EXAMPLES = 12
"""So many different pieces of a hide are explained at most: further ones repeat the same reasons."""


def write_lesson_sheet(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    path: str | Path,
    *,
    units: LengthUnit = "mm",
    paper: str = "a4",
) -> None:
    """Write the lesson sheet as PDF on A4, Letter or A3."""
    from nestplan.drawing.pdf import write_pdf

    write_pdf(lesson_sheet(plan, job, hides, units=units, paper=paper), path)


def lesson_sheet(
    plan: Plan, job: Job, hides: Sequence[Hide], *, units: LengthUnit = "mm", paper: str = "a4"
) -> Booklet:
    """The pages: what is made, each step with its reason and lines for notes, and why the pieces lie as they do."""
    measures, sheet = Measures(units), paper_named(paper)
    flow = Flow(
        paper_named("a4") if sheet.roll else sheet,
        f"Lesson sheet: {job.name}",
        note="Use it beside the cut sheet, whose numbers it names.",
    )
    flow.heading(job.name, size=TITLE)
    flow.paragraph("Name: ____________________________     Date: ________________")
    flow.paragraph(
        "We make " + ", ".join(f"{article.sets} × {article.name}" for article in job.articles) + "."
    )
    flow.heading("Before we start")
    flow.bullets((*cautions.CUTTING, *cautions.PUNCHING, *cautions.GLUING, *cautions.DUST))
    flow.paragraph(cautions.ABOVE_ALL, bold=True)
    flow.heading("What we cut")
    set_pieces(flow, job, measures)
    set_strips(flow, job, measures)
    flow.heading("Step by step")
    for number, step in enumerate(work_steps(job), start=1):
        flow.need(34.0)
        flow.paragraph(f"{number}. {step.name}", bold=True, size=BODY + 0.3, gap=0.4)
        flow.paragraph(step.what, indent=5.0, gap=0.4)
        flow.paragraph(f"Why: {step.why}", indent=5.0, gap=0.4)
        for care in step.care:
            flow.paragraph(f"Take care: {care}", indent=5.0, gap=0.4)
        _notes(flow, 2)
    for hide in hides:
        if any(placed.hide == hide.name for placed in plan.placements):
            _set_places(flow, plan, job, hide, measures)
    _set_questions(flow)
    return flow.booklet()


def _set_places(flow: Flow, plan: Plan, job: Job, hide: Hide, measures: Measures) -> None:
    """Why this place, why this way round: one example of every different piece on the hide."""
    flow.heading(f"Why they lie so: {hide.name}")
    partners = mates(plan, job, [n for n, placed in enumerate(plan.placements) if placed.piece])
    told: set[str] = set()
    group = ""
    for cut in cutting_order(plan, job, hide):
        member = cut.members[0]
        name = placement_label(job, plan, member)
        if name in told or len(told) >= _EXAMPLES:
            continue
        told.add(name)
        if cut.group != group:
            group = cut.group
            flow.need(30.0)
            flow.paragraph(GROUP_WORDS[cut.group], bold=True, gap=0.6)
        flow.need(16.0)
        flow.paragraph(f"No. {cut.label}: {what_words(plan, job, cut, measures)}", gap=0.3)
        if plan.placements[member].piece:
            sentences = place_reasons(plan, job, hide, member, partners.get(member), measures)
        else:
            sentences = strip_reasons(plan, job, hide, cut.members)
        flow.paragraph(" ".join(sentences), indent=5.0)
    _notes(flow, 3)


def _set_questions(flow: Flow) -> None:
    flow.heading("Talk about it")
    flow.bullets(
        (
            "Which piece would you have laid elsewhere, and what would have had to move for it?",
            "Where would a flaw be worst on these pieces, and where would nobody ever see it?",
            "What could be made from the offcuts that are kept?",
        )
    )
    _notes(flow, 4)


def _notes(flow: Flow, count: int) -> None:
    """Empty lines to write on."""
    for _ in range(count):
        flow.need(8.0)
        flow.space(7.5)
        line = [(MARGIN + 5.0, flow.y), (MARGIN + flow.width, flow.y)]
        flow.page.sketch.line(line, Stroke(0.1, "#777777", (0.4, 1.2)), layer="notes")
    flow.space(3.0)
