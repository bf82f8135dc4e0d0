"""What a job needs: leather, hardware, thread, glue, lace, tools, waiting times, and what a set costs.

Everything follows from the pieces and the job's own settings (`model.supplies`, which carries the sources of
the defaults). Leather and tools are listed by `leather_and_tools`; lace paths by `lacing`; stacks by `thickness`.
Amounts are for finished pieces; lengths come in mm and are listed in metres, glue in litres.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from nestplan.estimate.lacing import WORKING_LENGTH, split_lace
from nestplan.estimate.leather_and_tools import LeatherNeed, ToolNeed, leather_needs, tool_needs
from nestplan.estimate.thickness import Stack, StackLayer, stack_of
from nestplan.geometry.ring import area, joint_area, offset_inward, perimeter
from nestplan.geometry.units import MM_PER_INCH, show_length
from nestplan.model.job import Article, Job
from nestplan.model.layer_work import layers_of, time_of
from nestplan.model.marks import Mark
from nestplan.model.piece import Piece, cut_ring
from nestplan.model.plan import Figures, Plan

__all__ = [
    "ArticleSupplies",
    "CostPerSet",
    "PieceStack",
    "ShoppingList",
    "Supply",
    "cost_per_set",
    "glue_area",
    "hand_thread_length",
    "leather_shares",
    "seam_length",
    "shopping_list",
    "stack_of_piece",
    "thread_length",
]

PLAIN_RATIO = 2.5
"""Thread for each length of lockstitch seam where the thickness is unknown (melgeecrafts.com): too little for
thick belts."""


@dataclass(frozen=True)
class Supply:
    """So much of something: `amount` in `unit` (`each`, `m`, `l`), `price` for one unit or None.

    `cut` tells straps and lace, which come from the job's own leather, from what is bought.
    """

    what: str
    amount: float
    unit: str
    price: float | None = None
    cut: bool = False

    @property
    def cost(self) -> float | None:
        """Money for all of it, None without a price."""
        return None if self.price is None else self.amount * self.price


@dataclass(frozen=True)
class PieceStack:
    """The layers of a piece glued together, and what to look at again in them."""

    piece: str
    stack: Stack
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class ArticleSupplies:
    """What one set of an article needs. `seam` and `glued` are its sewn length, mm, and glued joint, mm2."""

    article: str
    sets: int
    per_set: tuple[Supply, ...]
    seam: float
    glued: float
    labour: float

    @property
    def cost(self) -> float:
        """Money for the priced supplies of one set and its labour; leather is not in it."""
        return self.labour + sum(supply.cost or 0.0 for supply in self.per_set)


@dataclass(frozen=True)
class ShoppingList:
    """The whole job's supplies: leather, by article, all together, tools, stacks, waiting times, things to look at."""

    articles: tuple[ArticleSupplies, ...]
    totals: tuple[Supply, ...]
    stacks: tuple[PieceStack, ...]
    waits: tuple[str, ...]
    warnings: tuple[str, ...]
    leather: tuple[LeatherNeed, ...] = ()
    tools: tuple[ToolNeed, ...] = ()

    @property
    def cost(self) -> float:
        """Money for all sets' priced supplies and labour; leather is not in it."""
        return sum(article.sets * article.cost for article in self.articles)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """What has to be bought but has no price, and so is not in the cost."""
        return tuple(supply.what for supply in self.totals if supply.price is None and not supply.cut)


@dataclass(frozen=True)
class CostPerSet:
    """What one set of an article costs: its share of the whole hides bought (`hides`), of that for the leather used
    (`leather`), its supplies, its labour. Leather is None where a hide has no price."""

    article: str
    hides: float | None
    leather: float | None
    supplies: float
    labour: float

    @property
    def with_hides(self) -> float | None:
        """Money with the whole hides bought: what has to come in, if the offcuts serve for nothing."""
        return None if self.hides is None else self.hides + self.supplies + self.labour

    @property
    def with_leather(self) -> float | None:
        """Money with the leather used: what it costs, if the offcuts are cut up another time."""
        return None if self.leather is None else self.leather + self.supplies + self.labour


def shopping_list(job: Job) -> ShoppingList:
    """Everything the job needs, with warnings on stacks, holes and unused prices."""
    articles = tuple(_article_supplies(job, article) for article in job.articles)
    amounts: dict[tuple[str, bool], Supply] = {}
    for each in articles:
        for supply in each.per_set:
            key = (supply.what, supply.cut)
            before = amounts[key].amount if key in amounts else 0.0
            amounts[key] = replace(supply, amount=before + each.sets * supply.amount)
    totals = tuple(amounts.values())
    pieces = [piece for article in job.articles for piece in article.pieces]
    stacks = tuple(_piece_stack(job, piece) for piece in pieces if stack_of_piece(job, piece) is not None)
    known = {supply.what for supply in totals}
    warnings = [
        *_stack_warnings(stacks),
        *_unknown_stacks(job, pieces),
        *(warning for piece in pieces for warning in piece.warnings(job.units)),
        *(warning for piece in pieces for warning in _holes_that_touch(piece, job.units)),
        *(
            f"There is a price for '{name}', but the job needs nothing of that name."
            for name in job.supplies.prices
            if name not in known
        ),
        *_lace_warnings(job),
    ]
    return ShoppingList(
        articles, totals, stacks, _waits(job, articles), tuple(warnings), leather_needs(job), tool_needs(job)
    )


def _unknown_stacks(job: Job, pieces: Sequence[Piece]) -> list[str]:
    """One warning that names the pieces of which a layer's thickness is not stated; none where there are none."""
    names = [piece.name for piece in pieces if len(piece.cuts) > 1 and stack_of_piece(job, piece) is None]
    if not names:
        return []
    thread = (
        f" and the thread is calculated with the plain ratio of {PLAIN_RATIO:g}, too little for thick leather"
    )
    if job.supplies.stitch == "saddle":
        thread = ""  # Sewn by hand it goes by the seam alone.
    return [f"{', '.join(names)}: a layer's thickness is not stated, so the stack is not checked{thread}."]


def cost_per_set(job: Job, figures: Figures | None, shares: Sequence[float]) -> tuple[CostPerSet, ...]:
    """What a set of each article costs, with the `shares` of all leather that a set takes (`leather_shares`).

    Split leather by what each set takes, not by a hand-picked good skin: cost the conditions of the bulk (an
    old trade textbook's warning).
    """
    return tuple(
        CostPerSet(
            each.article,
            _share_of(figures.cost if figures else None, share),
            _share_of(figures.leather_cost if figures else None, share),
            each.cost - each.labour,
            each.labour,
        )
        for each, share in zip(shopping_list(job).articles, shares, strict=True)
    )


def leather_shares(job: Job, plan: Plan) -> tuple[float, ...]:
    """The share, 0 to 1, of a plan's leather that one set of each article takes: by the net area of what is placed for
    it, over the sets that are whole in the plan, or those asked where none is."""
    whole = {each.article: each.whole for each in plan.figures.sets} if plan.figures is not None else {}
    used = [0.0] * len(job.articles)
    owner = {piece.name: number for number, each in enumerate(job.articles) for piece in each.pieces}
    owner |= {strip.name: number for number, each in enumerate(job.articles) for strip in each.strips}
    for placed in plan.placements:
        used[owner[placed.name]] += area(placed.finished_ring)
    total = sum(used)
    if total == 0.0:
        return (0.0,) * len(job.articles)
    return tuple(
        share / total / (whole.get(article.name) or article.sets)
        for share, article in zip(used, job.articles, strict=True)
    )


def _share_of(amount: float | None, share: float) -> float | None:
    return None if amount is None else amount * share


def thread_length(seam: float, thickness: float | None, stitches_per_inch: float, waste: float) -> float:
    """Thread for `seam` mm of lockstitch through `thickness` mm of leather, mm, both threads together.

    2 + 2 * T * S inches for each inch of seam, T inches thick at S stitches to the inch (lockstitch 301,
    textileblog.com, textilecalculations.com), and `waste` as a share on top. Without a thickness the plain
    ratio of 2.5 serves, which is too little for thick belts.
    """
    ratio = PLAIN_RATIO if thickness is None else 2.0 + 2.0 * thickness / MM_PER_INCH * stitches_per_inch
    return seam * ratio * (1.0 + waste)


def hand_thread_length(seam: float, threads: int) -> float:
    """Thread for `seam` mm of saddle stitch with two needles, mm: four times the seam, and a foot for each of so many
    threads to work with (nayscustomleather.blogspot.com 2014, hand sewing)."""
    return 4.0 * seam + 12.0 * MM_PER_INCH * threads


def seam_length(piece: Piece) -> float:
    """Length sewn on one piece, mm: its `seams`, else the whole edge if it has two layers or more, else 0."""
    if piece.seams is not None:
        return piece.seams
    return perimeter(piece.ring) if len(piece.cuts) > 1 else 0.0


def glue_area(piece: Piece, band: float | None) -> float:
    """Area of one joint between two layers of a piece, mm2; 0 for a single layer.

    Glue reaches past the finished edge to that of the smallest cut shape, which is trimmed through. `band`
    None glues the whole of it less the piece's openings; else only from that edge to `band` mm inside the
    finished one.
    """
    if len(piece.cuts) < 2:
        return 0.0
    overcut = min(cut.overcut.least if cut.overcut else 0.0 for cut in piece.cuts)
    glued = area(cut_ring(piece.ring, overcut))
    if band is None:
        return glued - joint_area(piece.hole_rings)
    return glued - sum(area(ring) for ring in offset_inward(piece.ring, band))


def stack_of_piece(job: Job, piece: Piece) -> Stack | None:
    """The piece's layers glued together; None where a layer's thickness is not known."""
    layers = [job.layer(cut.layer) for cut in piece.cuts]
    if any(layer.thickness is None for layer in layers):
        return None
    return stack_of(
        [StackLayer(layer.name, *layer.thickness) for layer in layers if layer.thickness is not None]
    )


def _article_supplies(job: Job, article: Article) -> ArticleSupplies:
    settings = job.supplies
    hardware: Counter[str] = Counter()
    seam = thread = glued = 0.0
    for piece in article.pieces:
        copies = piece.copies_in_set
        for name, number in _hardware(piece).items():
            hardware[name] += copies * number
        stack = stack_of_piece(job, piece)
        sewn = copies * seam_length(piece)
        seam += sewn
        if settings.stitch == "saddle":
            thread += hand_thread_length(sewn, copies if sewn > 0.0 else 0)
        else:
            thread += thread_length(
                sewn, stack.middle if stack else None, settings.stitches_per_inch, settings.thread_waste
            )
        glued += copies * (len(piece.cuts) - 1) * glue_area(piece, settings.glue_band)
    supplies = [Supply(name, float(number), "each") for name, number in hardware.items()]
    if thread > 0.0:
        supplies.append(Supply("thread", thread / 1000.0, "m"))
    if glued > 0.0:
        faces = 2.0 * settings.glue_coats * glued / 1e6
        supplies.append(Supply("glue", faces / settings.glue_cover, "l"))
    supplies += [
        Supply(strip.name, strip.count * strip.length / 1000.0, "m", cut=True) for strip in article.strips
    ]
    supplies += _lace_to_buy(job, article)
    priced = tuple(replace(supply, price=settings.prices.get(supply.what)) for supply in supplies)
    return ArticleSupplies(article.name, article.sets, priced, seam, glued, settings.labour)


def _hardware(piece: Piece) -> Counter[str]:
    """What is set at holes and spots, by the maker's own name for it; nothing is set in a slit. What is done to several
    layers before they are glued is set in each of them."""
    found: Counter[str] = Counter()
    for mark in piece.all_marks:
        times = len(layers_of(piece, mark)) if time_of(piece, mark) == "before gluing" else 1
        if mark.what and mark.kind.takes_hardware:
            found[mark.what] += times
    return found


def _lace_to_buy(job: Job, article: Article) -> list[Supply]:
    """Lace for one set for the joins and edges that no strip of the article is cut for."""
    cut = {strip.laces for strip in article.strips}
    wanted = [(each.join.name, each.join.count, each.cut_length) for each in job.worked_joins(article)]
    wanted += [(each.edge.name, each.edge.count, each.cut_length) for each in job.worked_edges(article)]
    return [
        Supply(f"lace for {name}", count * length / 1000.0, "m")
        for name, count, length in wanted
        if name not in cut
    ]


def _piece_stack(job: Job, piece: Piece) -> PieceStack:
    stack = stack_of_piece(job, piece)
    assert stack is not None
    return PieceStack(piece.name, stack, tuple(stack.warnings(job.machine_limit, units=job.units)))


def _stack_warnings(stacks: Sequence[PieceStack]) -> list[str]:
    """What to look at again in stacks, the same of several pieces once."""
    pieces: dict[str, list[str]] = {}
    for stack in stacks:
        for warning in stack.warnings:
            pieces.setdefault(warning, []).append(stack.piece)
    return [f"{', '.join(names)}: {warning}" for warning, names in pieces.items()]


def _holes_that_touch(piece: Piece, units: Literal["mm", "in"]) -> list[str]:
    """Punched holes of a piece whose edges run into each other, those that stand by themselves told of once; of a row
    with itself the piece's own warnings tell."""
    rows = list(zip(piece.rows, piece.marks_of_rows, strict=True))
    found = [
        f"{piece.name}: the row '{row.name}' and the row '{other.name}' run into each other."
        for number, (row, marks) in enumerate(rows)
        for other, others in rows[number + 1 :]
        if any(_touch(mark, against) for mark in marks for against in others)
    ]
    found += [
        f"{piece.name}: the hole at {_place(mark, units)} and the row '{row.name}' run into each other."
        for row, marks in rows
        for mark in [next((one for one in piece.marks if any(_touch(one, each) for each in marks)), None)]
        if mark is not None
    ]
    pairs = [pair for pair in itertools.combinations(piece.marks, 2) if _touch(*pair)]
    if pairs:
        one, other = (_place(mark, units) for mark in pairs[0])
        more = f", and so do {len(pairs) - 1} more of its holes with another" if len(pairs) > 1 else ""
        found.append(f"{piece.name}: the holes at {one} and {other} run into each other{more}.")
    return found


def _place(mark: Mark, units: Literal["mm", "in"]) -> str:
    """Where a mark is, such as `(16, 184) mm`."""
    decimals = 2 if units == "in" else 1
    x, y = (show_length(value, units, decimals=decimals).rsplit(" ", 1)[0] for value in mark.at)
    return f"({x}, {y}) {units}"


def _touch(one: Mark, other: Mark) -> bool:
    """Whether two marks are punched holes that run into each other."""
    if one.kind.symbol != "circle" or other.kind.symbol != "circle":
        return False
    apart = math.hypot(one.at[0] - other.at[0], one.at[1] - other.at[1])
    return apart <= 0.5 * ((one.diameter or 0.0) + (other.diameter or 0.0))


def _lace_warnings(job: Job) -> list[str]:
    found = []
    for article in job.articles:
        for strip in article.strips:
            if strip.use == "lace" and strip.length > WORKING_LENGTH:
                pieces = split_lace(strip.length)
                found.append(
                    f"{strip.name}: a lace of {_long(strip.length, job.units)} wears when it is pulled through whole; "
                    f"{pieces.count} pieces of {_long(pieces.each, job.units)} make "
                    f"{pieces.splices} splice{'s' * (pieces.splices != 1)}."
                )
    return found


def _long(mm: float, units: Literal["mm", "in"]) -> str:
    return f"{mm / 304.8:.1f} ft" if units == "in" else f"{mm / 1000:.2f} m"


def _waits(job: Job, articles: Sequence[ArticleSupplies]) -> tuple[str, ...]:
    if not any(each.glued > 0.0 for each in articles):
        return ()
    settings = job.supplies
    told = [
        f"Leave {what} about {minutes:g} minutes before {then}, as this job says."
        for what, minutes, then in (
            ("the glue", settings.minutes_before_joining, "joining"),
            ("the joint", settings.minutes_before_trimming, "trimming"),
        )
        if minutes is not None
    ]
    return (
        *told,
        "How long glue and joint must wait, the label on the can says. Ventilate; keep flames and sparks away from "
        "solvent glue.",
    )
