"""The cut sheet: everything to carry to the table for one plan, as a booklet of pages to print.

It is put together here from the drawing, the order table and the plan's own figures; nothing is computed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from nestplan.drawing.booklet_builder import SMALL_SIZE, TITLE_SIZE, BookletBuilder, Column
from nestplan.drawing.pages import Booklet, paper_named
from nestplan.model import Figures, Hide, Job, Plan
from nestplan.model.layer_work import work_at_table, work_drawn_for_later
from nestplan.sheets import cautions
from nestplan.sheets.cutting_order import CuttingStep, cutting_steps
from nestplan.sheets.cutting_table import add_cutting_table
from nestplan.sheets.definitions import FIGURE_DEFINITIONS, TAPE_DEFINITIONS, definition_lines
from nestplan.sheets.hide_pages import add_hide
from nestplan.sheets.mate_words import far_mate_warnings, mates_sentence
from nestplan.sheets.tape_positions import tape_frame
from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter, money, share
from nestplan.sheets.unplaced_words import UnplacedRow, unplaced_rows
from nestplan.sheets.work_words import lines_of_work

__all__ = [
    "add_figures",
    "add_sets",
    "add_unplaced",
    "cut_sheet_booklet",
    "write_cut_sheet",
]


def write_cut_sheet(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    path: str | Path,
    *,
    units: LengthUnit = "mm",
    paper: str = "a4",
) -> None:
    """Write the cut sheet as PDF, on A4, Letter or A3 lying on its long side."""
    from nestplan.drawing.pdf import write_pdf

    write_pdf(cut_sheet_booklet(plan, job, hides, units=units, paper=paper), path)


def cut_sheet_booklet(
    plan: Plan, job: Job, hides: Sequence[Hide], *, units: LengthUnit = "mm", paper: str = "a4"
) -> Booklet:
    """The pages: overview, then for each hide its drawing, its order of cutting and what is left; small print."""
    formatter = UnitFormatter(units)
    sheet = paper_named(paper)
    # A roll is for full-size sheets: text and tables go on a plain sheet in any case.
    booklet = BookletBuilder(
        (paper_named("a4") if sheet.roll else sheet).turned(),
        f"Cut sheet: {plan.name}",
        note=f"Lengths in {'inches' if units == 'in' else 'mm'} unless said otherwise. {cautions.ABOVE_ALL}",
    )
    used = [hide for hide in hides if any(placed.hide == hide.name for placed in plan.placements)]
    _overview(booklet, plan, job, used, formatter)
    for hide in used:
        steps = cutting_steps(plan, job, hide)
        booklet.open_page()
        booklet.heading(_hide_title(hide, formatter))
        add_hide(booklet, plan, job, hide, steps, formatter)
        booklet.ensure_room(90.0)
        booklet.heading(f"{hide.name}: order of cutting")
        _add_marked_points(booklet, hide, formatter)
        if steps:
            add_cutting_table(booklet, plan, job, hide, steps, formatter)
        _add_inner_work(booklet, plan, job, hide, formatter)
        _add_offcuts(booklet, plan, hide, steps, formatter)
    _small_print(booklet)
    return booklet.finish()


def _overview(
    booklet: BookletBuilder, plan: Plan, job: Job, used: Sequence[Hide], formatter: UnitFormatter
) -> None:
    booklet.heading(plan.name, size=TITLE_SIZE)
    made = f", made {plan.made}" if plan.made else ""
    booklet.paragraph(f"Job “{plan.job.name}”, goal {plan.goal}, seed {plan.seed}{made}.")
    if plan.figures is not None:
        add_sets(booklet, plan.figures)
        add_figures(booklet, plan.figures, formatter)
    mates = mates_sentence(plan, job, formatter)
    if mates:
        booklet.paragraph(mates)
    booklet.bullets(far_mate_warnings(plan, job, formatter))
    if plan.unplaced:
        add_unplaced(booklet, unplaced_rows(plan.unplaced, job))
    booklet.heading("Before the first cut")
    booklet.bullets(
        (
            "Hides: " + "; ".join(f"{hide.name} ({hide.leather})" for hide in used) + ".",
            "Look at both faces in good light and feel for loose or thin places. A flaw that is not on the drawing: "
            "mark it on the hide in the program and plan again before cutting.",
            "Lay the hide grain side up and flat, without pulling it; mark A, B and the rear edge; check that the "
            "distance from A to B is as said.",
            "Count lefts and rights of the templates: a left and a right are mirror images, and a missing one is found "
            "most cheaply now.",
            "Set out the first few pieces by tape before cutting any; they must lie clear of flaws and of each other.",
        ),
        box=True,
    )
    booklet.heading("Cautions")
    booklet.bullets((*cautions.CUTTING, *cautions.PUNCHING, *cautions.GLUING, *cautions.DUST))
    booklet.paragraph(cautions.ABOVE_ALL, bold=True)


def add_sets(booklet: BookletBuilder, figures: Figures) -> None:
    """Whole sets of each article: asked, in this plan, and the bound no plan can pass."""
    if not figures.sets:
        return
    rows = [
        [
            sets.article,
            str(sets.asked),
            str(sets.whole),
            "all" if sets.bound >= sets.asked else str(sets.bound),
        ]
        for sets in figures.sets
    ]
    columns = (
        Column("article", 90.0),
        Column("sets asked", 25.0, "right"),
        Column("whole in this plan", 35.0, "right"),
        Column("at most", 25.0, "right"),
    )
    booklet.table(columns, rows, width=min(booklet.width, 180.0))


def add_figures(booklet: BookletBuilder, figures: Figures, formatter: UnitFormatter) -> None:
    """The plan's figures hide by hide and together; a dash where something is not known."""
    columns = (
        Column("leather", 52.0),
        Column("whole hide", 21.0, "right"),
        Column("seller’s", 21.0, "right"),
        Column("usable", 21.0, "right"),
        Column("finished", 20.0, "right"),
        Column("cut shapes", 20.0, "right"),
        Column("in pieces", 18.0, "right"),
        Column("in shapes", 18.0, "right"),
        Column("flaws", 17.0, "right"),
        Column("overcut", 17.0, "right"),
        Column("gaps", 15.0, "right"),
        Column("too small", 19.0, "right"),
        Column("pieces", 15.0, "right"),
        Column("strips", 14.0, "right"),
        Column("hide bought", 23.0, "right"),
        Column("leather used", 23.0, "right"),
    )
    rows = []
    for hide in figures.hides:
        losses = (hide.flaws, hide.overcut, hide.gaps, hide.small_offcuts)
        rows.append([
            hide.hide,
            *(formatter.area(hide.gross), formatter.area(hide.stated) if hide.stated else "–"),
            *(formatter.area(area) for area in (hide.usable, hide.net, hide.cut)),
            *(share(hide.net_yield), share(hide.cut_yield)),
            *(formatter.area(loss) for loss in losses),
            *(str(hide.pieces), str(hide.strips)),
            *(money(hide.cost, figures.currency), money(hide.leather_cost, figures.currency)),
        ])  # fmt: skip
    losses = (
        figures.lost_to_flaws, figures.lost_to_overcut, figures.lost_to_gaps, figures.lost_to_small_offcuts,
    )  # fmt: skip
    rows.append([
        "together",
        *(formatter.area(figures.gross), formatter.area(figures.stated) if figures.stated else "–"),
        *(formatter.area(area) for area in (figures.usable, figures.net, figures.cut)),
        *(share(figures.net_yield), share(figures.cut_yield)),
        *(share(loss) for loss in losses),
        *(str(sum(hide.pieces for hide in figures.hides)), str(sum(hide.strips for hide in figures.hides))),
        *(money(figures.cost, figures.currency), money(figures.leather_cost, figures.currency)),
    ])  # fmt: skip
    booklet.table(columns, rows, size=SMALL_SIZE, bold_rows=frozenset({len(rows) - 1}))
    words = f"{figures.placed} of {figures.asked} placed on {figures.hides_used} hides."
    if figures.cost_per_set is not None and figures.leather_cost_per_set is not None:
        words += (
            f" For one set: {money(figures.cost_per_set, figures.currency)} of whole hides bought, of which "
            f"{money(figures.leather_cost_per_set, figures.currency)} for the leather used."
        )
    if figures.value_left is not None:
        words += f" Value of the offcuts to keep: {money(figures.value_left, figures.currency)}."
    booklet.paragraph(words)


def add_unplaced(booklet: BookletBuilder, unplaced: Sequence[UnplacedRow]) -> None:
    """What has no place, why, and the least change that would let it in."""
    booklet.heading("Not placed")
    rows = [[row.what, row.why, row.change or "–"] for row in unplaced]
    columns = (
        Column("what", 76.0),
        Column("why", 90.0),
        Column("what would let it in", 80.0),
    )
    booklet.table(columns, rows)


def _hide_title(hide: Hide, formatter: UnitFormatter) -> str:
    thick = f", {formatter.thickness(*hide.thickness)}" if hide.thickness else ""
    return f"{hide.name}: {hide.leather}{thick}, {formatter.area(hide.gross_area)}"


def _add_marked_points(booklet: BookletBuilder, hide: Hide, formatter: UnitFormatter) -> None:
    frame = tape_frame(hide)
    line = "the backbone’s ends at tail and neck" if frame.has_backbone else "where the drawing has them"
    rear = "through A" if frame.rear < 0.5 else f"{formatter.length(frame.rear)} before A"
    booklet.paragraph(
        f"Mark A and B: {line}; from A to B {formatter.length(frame.span)}. The rear edge runs {rear}. "
        "What the columns mean is said on the last page."
    )


def _add_inner_work(
    booklet: BookletBuilder, plan: Plan, job: Job, hide: Hide, formatter: UnitFormatter
) -> None:
    """What is done inside the outlines on this hide: a row for each piece and layer that has some."""
    rows = []
    here = Counter(
        (placed.piece, placed.layer)
        for placed in plan.placements
        if placed.hide == hide.name and placed.piece
    )
    for (name, layer), count in here.items():
        piece = job.piece(name)
        now = lines_of_work(work_at_table(piece, layer), formatter)
        later = lines_of_work(work_drawn_for_later(piece, layer), formatter)
        if now or later:
            several = len(piece.cuts) > 1
            rows.append(
                [f"{name}, {layer}" if several else name, str(count), "\n".join(now), "\n".join(later)]
            )
    if not rows:
        return
    booklet.heading(f"{hide.name}: inside the outlines")
    columns = (
        Column("piece", 60.0),
        Column("cut here", 16.0, "right"),
        Column("done now, each", 90.0),
        Column("marked now, done after gluing and trimming, each", 90.0),
    )
    booklet.table(columns, rows)


def _add_offcuts(
    booklet: BookletBuilder, plan: Plan, hide: Hide, steps: Sequence[CuttingStep], formatter: UnitFormatter
) -> None:
    booklet.heading(f"{hide.name}: what is left")
    mine = [offcut for offcut in plan.figures.offcuts if offcut.hide == hide.name] if plan.figures else []
    if not mine:
        booklet.paragraph("No offcut wide enough to keep.")
        return
    rows = [
        [
            f"keep {number}",
            formatter.area(offcut.area),
            formatter.size(offcut.rectangle_width, offcut.rectangle_height)
            if offcut.rectangle_width
            else "–",
            formatter.length(2.0 * offcut.disc[2]) if offcut.disc else "–",
            formatter.long(offcut.lace) if offcut.lace else "–",
            "",
        ]
        for number, offcut in enumerate(mine, start=1)
    ]
    columns = (
        Column("offcut", 20.0),
        Column("area", 24.0, "right"),
        Column("largest rectangle", 44.0, "right"),
        Column("largest disc across", 34.0, "right"),
        Column("lace", 24.0, "right"),
        Column("label, place on the shelf", 80.0),
    )
    booklet.table(columns, rows)


def _small_print(booklet: BookletBuilder) -> None:
    booklet.ensure_room(60.0)
    booklet.heading("How to read the table")
    booklet.bullets(definition_lines(TAPE_DEFINITIONS), size=SMALL_SIZE + 0.2)
    booklet.heading("What the figures mean")
    booklet.bullets(definition_lines(FIGURE_DEFINITIONS), size=SMALL_SIZE + 0.2)
