"""What is laced in a job, as blocks of a page: the wearer's range, each join and edge with its lace, drawn and told."""

from __future__ import annotations

from nestplan.drawing.booklet_builder import BODY_SIZE, BookletBuilder
from nestplan.drawing.pages import MARGIN
from nestplan.drawing.primitives import Picture, moved
from nestplan.model import Article, Job
from nestplan.model.laced_joins import WorkedEdge, WorkedJoin
from nestplan.model.lacing import LACE_PATHS
from nestplan.sheets.lacing_diagram import draw_edge, draw_join, route_words
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["add_lacing", "edge_words", "join_words", "range_words"]

_THICKNESS_NOT_STATED = "The thickness of a layer is not stated: what the lace passes through is not counted."
_DRAWING = (84.0, 82.0)
"""Width and height of the drawing of a join, mm."""
_AROUND = 4.5
"""Room above and below a drawing, for the words at its ends, mm."""


def add_lacing(booklet: BookletBuilder, job: Job, formatter: UnitFormatter) -> None:
    """The range of every article that is laced, and its joins and edges; nothing where nothing is laced."""
    laced = [article for article in job.articles if article.laced_joins or article.laced_edges]
    if not laced:
        return
    booklet.heading("Lacing", keep_with_next=60.0)
    booklet.paragraph(
        "Seen from the grain side: solid lace in front, dashed behind the leather; of two ends the second is hollow. "
        "The numbers are those of the holes in their row."
    )
    for article in laced:
        # The name of an article stays with the first thing that is laced in it.
        booklet.ensure_room(_DRAWING[1] + 40.0 if article.laced_joins else 52.0)
        booklet.paragraph(article.name, bold=True, size=BODY_SIZE + 0.3)
        told = range_words(article, formatter)
        if told:
            booklet.paragraph(f"{_capital(told)}.", indent=5.0)
        for join in job.worked_joins(article):
            _add_join(booklet, article, join, formatter)
        for edge in job.worked_edges(article):
            _add_edge(booklet, article, edge, formatter)


def range_words(article: Article, formatter: UnitFormatter) -> str:
    """What an article measures round its wearer, from closed to widest, and which of its laced pieces are not counted;
    empty where it is not known."""
    found = article.wearer_range
    if found is None:
        return ""
    least, worn, most = (formatter.length(each) for each in (found.closed, found.worn, found.widest))
    named = dict.fromkeys(row.piece for join in article.laced_joins for row in join.rows)
    silent = [piece.name for piece in article.pieces if piece.name in named and not piece.around]
    without = f", without {', '.join(silent)}" if silent else ""
    return f"{least} round with its joins closed to {most} at their widest, {worn} as worn{without}"


def join_words(article: Article, worked: WorkedJoin, formatter: UnitFormatter) -> list[str]:
    """A laced join in sentences: what is laced how, the lace it takes, and what is left of it when it is closed."""
    join = worked.join
    one, other = (piece.name for piece in worked.pieces)
    between = f"{one} to its mate" if len(join.rows) == 1 else f"{one} to {other}"
    times = f", {join.count} times in a set" if join.count > 1 else ""
    if join.rows[-1].backward != join.rows[0].backward:
        between += " (its last hole first)"
    gaps = [f"{formatter.length(join.closed)} closed"] if join.closed < join.gap else []
    gaps.append(f"{formatter.length(join.gap)} as worn")
    if join.widest_gap > join.gap:
        gaps.append(f"{formatter.length(join.widest_gap)} at the widest")
    spread = f"; {formatter.length(join.spread)} wider at the last pair" if join.spread else ""
    tails = "tied in a bow" if join.finish == "bow" else "hidden"
    spare = float(round(worked.spare(join.closed)))
    lace = f"{formatter.length(worked.cut_length)}{_lace_name(article, join.name)}"
    lines = [
        f"{join.name}: {between}{times}, {join.path}, {worked.pairs} pairs of holes.",
        f"{_capital(LACE_PATHS[join.path].words)}. Between the edges {', '.join(gaps)}{spread}.",
        f"Lace {lace}, with {formatter.length(join.tail_length)} at each end, {tails}"
        + (f"; closed, {formatter.length(spare)} more hangs out." if spare > 0.5 else "."),
    ]
    if None in worked.thickness:
        lines.append(_THICKNESS_NOT_STATED)
    return lines


def edge_words(article: Article, worked: WorkedEdge, formatter: UnitFormatter) -> list[str]:
    """A laced edge in sentences."""
    edge = worked.edge
    times = f", {edge.count} times in a set" if edge.count > 1 else ""
    round_all = ", all the way round" if worked.closed else ""
    lines = [
        f"{edge.name}: {worked.piece.name}, {edge.stitch} along '{edge.row}'{times}, {worked.holes} holes{round_all}.",
        f"Lace {formatter.length(worked.cut_length)}{_lace_name(article, edge.name)}, with "
        f"{formatter.length(edge.tail_length)} at each end.",
    ]
    if worked.thickness is None:
        lines.append(_THICKNESS_NOT_STATED)
    return lines


def _lace_name(article: Article, laced: str) -> str:
    """The strip that is cut for it, if the article has one."""
    names = [strip.name for strip in article.strips if strip.laces == laced]
    return f" ({', '.join(names)})" if names else " (to buy: no strip of the job is for it)"


def _add_join(
    booklet: BookletBuilder, article: Article, worked: WorkedJoin, formatter: UnitFormatter
) -> None:
    width, height = _DRAWING
    picture = draw_join(worked, width, height)
    booklet.ensure_room(height + 22.0)
    for line in join_words(article, worked, formatter):
        booklet.paragraph(line, indent=5.0, gap=0.4)
    _place(booklet, picture)
    for line in route_words(worked):
        booklet.paragraph(_capital(line), indent=5.0, gap=0.4)
    booklet.skip(3.0)


def _add_edge(
    booklet: BookletBuilder, article: Article, worked: WorkedEdge, formatter: UnitFormatter
) -> None:
    booklet.ensure_room(40.0)
    for line in edge_words(article, worked, formatter):
        booklet.paragraph(line, indent=5.0, gap=0.4)
    picture = draw_edge(worked, booklet.width - 25.0)
    if picture is not None:
        _place(booklet, picture)
    booklet.skip(3.0)


def _place(booklet: BookletBuilder, picture: Picture) -> None:
    """A drawing at the left below what was written last."""
    _, low, _, high = picture.bounds()
    _, bottom, _, _ = booklet.reserve(high - low + 2 * _AROUND)
    booklet.page.picture.add(moved(picture, MARGIN + 5.0, bottom + _AROUND - low))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
