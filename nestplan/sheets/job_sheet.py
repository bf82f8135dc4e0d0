"""The job sheet: what to make, from what, with which supplies, in which order, at what cost, on plain pages.

It only sets out what it is given; supplies are counted elsewhere (`shopping` says in what shape they come).
"""

from __future__ import annotations

from nestplan.drawing.booklet_builder import TITLE_SIZE, BookletBuilder, Column
from nestplan.drawing.pages import Booklet, paper_named
from nestplan.model import Article, Job, Piece, Plan
from nestplan.sheets import cautions
from nestplan.sheets.lacing_blocks import add_lacing
from nestplan.sheets.shopping import ShoppingLines, SupplyLine
from nestplan.sheets.size_words import fits_words
from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter, money
from nestplan.sheets.work_steps import work_steps
from nestplan.sheets.work_words import piece_work_lines

__all__ = ["add_pieces", "add_stacks", "add_strips", "job_sheet_booklet"]


def job_sheet_booklet(
    job: Job,
    shopping: ShoppingLines,
    *,
    plan: Plan | None = None,
    units: LengthUnit = "mm",
    paper: str = "a4",
) -> Booklet:
    """The pages of the job sheet; with a plan, its leather cost and whole sets are told too."""
    formatter, sheet = UnitFormatter(units), paper_named(paper)
    booklet = BookletBuilder(
        paper_named("a4") if sheet.roll else sheet,
        f"Job sheet: {job.name}",
        note="Amounts are for the sets asked.",
    )
    booklet.heading(job.name, size=TITLE_SIZE)
    if job.note:
        booklet.paragraph(job.note)
    _add_articles(booklet, job, plan, formatter)
    booklet.heading("Pieces to cut")
    add_pieces(booklet, job, formatter)
    add_strips(booklet, job, formatter)
    add_stacks(booklet, shopping, formatter)
    _add_supplies(booklet, shopping, plan, formatter)
    if shopping.warnings:
        booklet.heading("Look at again")
        booklet.bullets(tuple(shopping.warnings))
    booklet.heading("Order of work")
    for step in work_steps(job, formatter):
        booklet.bullets([f"{step.name}. {step.what}"], box=True)
        booklet.bullets(step.details, indent=6.0)
    if shopping.waits:
        booklet.bullets(tuple(shopping.waits))
    add_lacing(booklet, job, formatter)
    _add_costs(booklet, shopping, plan)
    booklet.heading("Cautions")
    booklet.bullets((*cautions.CUTTING, *cautions.PUNCHING, *cautions.GLUING, *cautions.DUST))
    booklet.paragraph(cautions.ABOVE_ALL, bold=True)
    return booklet.finish()


def _add_articles(booklet: BookletBuilder, job: Job, plan: Plan | None, formatter: UnitFormatter) -> None:
    whole = {sets.article: sets.whole for sets in plan.figures.sets} if plan and plan.figures else {}
    rows = [
        [
            article.name,
            str(article.sets),
            str(whole[article.name]) if article.name in whole else "–",
            str(sum(piece.copies_in_set * len(piece.cuts) for piece in article.pieces)),
            str(sum(strip.count for strip in article.strips)),
            "\n".join(filter(None, (fits_words(article, formatter), article.note))),
        ]
        for article in job.articles
    ]
    columns = (
        Column("article", 50.0),
        Column("sets asked", 20.0, "right"),
        Column("whole in the plan", 24.0, "right"),
        Column("pieces a set", 22.0, "right"),
        Column("strips a set", 22.0, "right"),
        Column("note", 52.0),
    )
    booklet.table(columns, rows)


def add_pieces(booklet: BookletBuilder, job: Job, formatter: UnitFormatter) -> None:
    """Every piece with its size, layers, how many of each hand, overcut, and what is done at its marks."""
    rows = []
    for article in job.articles:
        if len(job.articles) > 1 and article.pieces:
            rows.append([article.name])
        rows.extend(_piece_row(article, piece, formatter) for piece in article.pieces)
    if not rows:
        booklet.paragraph("No pieces, only strips.")
        return
    columns = (
        Column("piece", 30.0),
        Column("finished size", 33.0),
        Column("cut in all", 62.0),
        Column("holes, slits, marks", 50.0),
        Column("done", 10.0, "middle"),
    )
    booklet.table(columns, rows)


def _piece_row(article: Article, piece: Piece, formatter: UnitFormatter) -> list[str]:
    size = piece.ring.max(axis=0) - piece.ring.min(axis=0)
    cuts = []
    for cut in piece.cuts:
        many = piece.count * article.sets
        count = f"{many} left + {many} right" if piece.pair else str(many)
        wide = ""
        if cut.overcut is not None:
            wide = f", {formatter.length(cut.overcut.least)}"
            if cut.overcut.wished > cut.overcut.least:
                wide += f" to {formatter.length(cut.overcut.wished)}"
            wide += " overcut"
        cuts.append(f"{cut.layer}: {count}{wide}")
    return [
        piece.name,
        formatter.size(float(size[0]), float(size[1])),
        "\n".join(cuts),
        "\n".join(piece_work_lines(piece, formatter)),
        "☐",
    ]


def add_strips(booklet: BookletBuilder, job: Job, formatter: UnitFormatter) -> None:
    """Straps and lace with sizes and counts."""
    rows = [
        [
            strip.name,
            strip.use,
            formatter.length(strip.width),
            formatter.length(strip.length),
            str(strip.count * article.sets),
            formatter.long(strip.length * strip.count * article.sets),
            f"up to {strip.joins}" if strip.joins else "none",
            "☐",
        ]
        for article in job.articles
        for strip in article.strips
    ]
    if not rows:
        return
    columns = (
        Column("strip", 42.0),
        Column("use", 18.0),
        Column("width", 22.0, "right"),
        Column("length", 25.0, "right"),
        Column("in all", 16.0, "right"),
        Column("together", 24.0, "right"),
        Column("joins allowed", 26.0, "right"),
        Column("done", 12.0, "middle"),
    )
    booklet.table(columns, rows)


def add_stacks(booklet: BookletBuilder, shopping: ShoppingLines, formatter: UnitFormatter) -> None:
    """How thick each piece is when its layers are glued together; one layer only where it asks for a look."""
    told = [stack for stack in shopping.stacks if len(stack.stack.layers) > 1 or stack.warnings]
    if not told:
        return
    booklet.heading("Thickness when glued")
    alike: dict[tuple[str, str], list[str]] = {}
    for stack in told:
        words = stack.stack.in_words(formatter.unit), " ".join(stack.warnings)
        alike.setdefault(words, []).append(stack.piece)
    rows = [[", ".join(pieces), *words] for words, pieces in alike.items()]
    booklet.table((Column("piece", 60.0), Column("thickness", 50.0), Column("look at", 80.0)), rows)


def _add_supplies(
    booklet: BookletBuilder, shopping: ShoppingLines, plan: Plan | None, formatter: UnitFormatter
) -> None:
    currency = plan.figures.currency if plan and plan.figures else ""
    _add_leather(booklet, shopping, plan, formatter)
    booklet.heading("Supplies")
    rows = [
        [
            supply.what,
            formatter.amount(supply.amount, supply.unit),
            "from the job’s leather" if supply.cut else "to buy or take from stock",
            "" if supply.cut else _price(supply, currency, formatter),
            "" if supply.cut else money(supply.cost, currency),
            "☐",
        ]
        for supply in shopping.totals
    ]
    columns = (
        Column("what", 50.0),
        Column("amount", 28.0, "right"),
        Column("", 46.0),
        Column("price for one", 26.0, "right"),
        Column("cost", 28.0, "right"),
        Column("there", 12.0, "middle"),
    )
    if rows:
        booklet.table(columns, rows)
    else:
        booklet.paragraph("Nothing besides leather.")
    for article in shopping.articles:
        if article.seam > 0.0 or article.glued > 0.0:
            booklet.paragraph(
                f"{article.article}, one set: {formatter.long(article.seam)} sewn, "
                f"{formatter.area(article.glued)} of joint to glue (each joint has two faces to coat)."
            )
    _add_tools(booklet, shopping)


def _add_leather(
    booklet: BookletBuilder, shopping: ShoppingLines, plan: Plan | None, formatter: UnitFormatter
) -> None:
    """What is cut from each leather; with a plan, from which hides, and how large these are."""
    booklet.heading("Leather")
    rows = []
    for need in shopping.leather:
        hides = dict.fromkeys(p.hide for p in plan.placements if p.layer == need.layer) if plan else {}
        thick = formatter.thickness(*need.thickness) if need.thickness else "–"
        rows.append(
            [
                need.layer,
                ", ".join(need.leather) or "–",
                thick,
                formatter.area(need.net),
                formatter.area(need.cut),
                "\n".join(hides) or "–",
            ]
        )
    columns = (
        Column("layer", 26.0),
        Column("leather", 38.0),
        Column("thickness", 24.0),
        Column("finished", 22.0, "right"),
        Column("cut shapes, strips", 30.0, "right"),
        Column("from", 50.0),
    )
    booklet.table(columns, rows)
    booklet.paragraph(
        "Cut shapes are at their least overcut. Hides have waste besides: more is bought than is cut."
    )


def _add_tools(booklet: BookletBuilder, shopping: ShoppingLines) -> None:
    if shopping.tools:
        rows = [[need.tool, str(need.number), need.what_for, "☐"] for need in shopping.tools]
        columns = (
            Column("tool, for one bench", 80.0),
            Column("number", 18.0, "right"),
            Column("for", 80.0),
            Column("there", 12.0, "middle"),
        )
        booklet.table(columns, rows)


def _price(supply: SupplyLine, currency: str, formatter: UnitFormatter) -> str:
    """The price of one piece, one metre or foot, one litre or quart."""
    if supply.price is None:
        return money(None, currency)
    price, unit = formatter.unit_price(supply.price, supply.unit)
    return money(price, currency) + (f" a {unit}" if unit else "")


def _add_costs(booklet: BookletBuilder, shopping: ShoppingLines, plan: Plan | None) -> None:
    figures = plan.figures if plan else None
    currency = figures.currency if figures else ""
    booklet.heading("Costs", keep_with_next=45.0)
    rows = [["whole hides bought", money(figures.cost if figures else None, currency)]]
    for article in shopping.articles:
        name = f"{article.sets} × {article.article}"
        priced = any(supply.cost is not None for supply in article.per_set)
        supplies = article.sets * (article.cost - article.labour) if priced else None
        rows.append([f"supplies for {name}", money(supplies, currency)])
        if article.labour:
            rows.append([f"labour for {name}", money(article.sets * article.labour, currency)])
    together = figures is not None and figures.cost is not None
    if figures is not None and figures.cost is not None:
        rows.append(["together", money(figures.cost + shopping.cost, currency)])
    bold = frozenset({len(rows) - 1}) if together else frozenset()
    if figures is not None and figures.leather_cost is not None:
        rows.append(["of the hides, for the leather used", money(figures.leather_cost, currency)])
        rows.append(
            ["together with the leather used alone", money(figures.leather_cost + shopping.cost, currency)]
        )
    booklet.table(
        (Column("what", 80.0), Column("money", 30.0, "right")),
        rows,
        width=130.0,
        bold_rows=bold,
    )
    if shopping.unpriced:
        booklet.paragraph(f"Without a price, and so not in the costs: {', '.join(shopping.unpriced)}.")
