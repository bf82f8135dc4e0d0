"""A job with one of its pieces, strips, rows or articles replaced, and with it what names them; what a plan keeps."""

from __future__ import annotations

import msgspec

from nestplan.errors import InputError
from nestplan.model.article_edits import with_pieces
from nestplan.model.job import Article, Job
from nestplan.model.mark_rows import Row
from nestplan.model.piece import Piece, Strip
from nestplan.model.plan import Plan

__all__ = [
    "article_named",
    "article_of_piece",
    "with_article",
    "with_piece",
    "with_row",
    "without_other_pieces",
]


def with_piece(job: Job, name: str, new: Piece | Strip) -> Job:
    """The job with the piece or strip of that name replaced by `new`, which may have another name.

    Laced joins, seams and sizes keep to the piece and its rows under their new names. Raises InputError where the job
    cannot be with it.
    """
    articles = tuple(with_pieces(article, {name: new}) for article in job.articles)
    return msgspec.structs.replace(job, articles=articles)


def with_article(job: Job, name: str, article: Article) -> Job:
    """The job with an article replaced, found by its name. Raises InputError where the job cannot be with it."""
    return msgspec.structs.replace(
        job, articles=tuple(article if each.name == name else each for each in job.articles)
    )


def with_row(job: Job, piece: str, name: str, row: Row | None) -> tuple[Job, tuple[tuple[str, str], ...]]:
    """The job with the row `name` of a piece replaced by `row`, added if it has none of that name, or taken away where
    `row` is None; and the rows (piece, row) that changed with it: a row that is laced to this one gets as many holes.

    Raises InputError where the job cannot be with it, and for a row to be taken away that is laced or not there.
    """
    article = article_of_piece(job, piece)
    old = job.piece(piece)
    if row is None:
        _need_unlaced(article, old, name)
        rows = tuple(each for each in old.rows if each.name != name)
    elif any(each.name == name for each in old.rows):
        rows = tuple(row if each.name == name else each for each in old.rows)
    else:
        rows = (*old.rows, row)
    changed = {piece: msgspec.structs.replace(old, rows=rows)}
    followed = _follow(article, changed, (piece, name), row) if row is not None else ()
    return with_article(job, article.name, with_pieces(article, changed)), followed


def article_named(job: Job, name: str) -> Article:
    """The article of that name; "" is the only one that is drawn, if there is but one.

    Raises InputError if there is none, or it is not said which.
    """
    names = [article.name for article in job.articles if not article.graded_from]
    if not name and len(names) == 1:
        name = names[0]
    found = next((article for article in job.articles if article.name == name), None)
    if found is None:
        raise InputError(
            f"No article is called '{name}'." if name else "It is not said which article.",
            mend="Take one of: " + ", ".join(f"'{each}'" for each in names) + ".",
        )
    return found


def article_of_piece(job: Job, piece: str) -> Article:
    """The article that has the piece. Raises InputError if none has."""
    found = next((each for each in job.articles if any(one.name == piece for one in each.pieces)), None)
    if found is None:
        names = [one.name for each in job.articles for one in each.pieces]
        raise InputError(
            f"No piece is called '{piece}'.",
            mend="Take one of: " + ", ".join(f"'{name}'" for name in names) + "."
            if names
            else "Add it first.",
        )
    return found


def _need_unlaced(article: Article, piece: Piece, name: str) -> None:
    if all(row.name != name for row in piece.rows):
        names = ", ".join(f"'{row.name}'" for row in piece.rows)
        raise InputError(
            f"'{piece.name}' has no row '{name}'.", mend=f"Take one of: {names}." if names else "It has none."
        )
    laced = [
        join.name
        for join in article.laced_joins
        if any((row.piece, row.row) == (piece.name, name) for row in join.rows)
    ]
    laced += [edge.name for edge in article.laced_edges if (edge.piece, edge.row) == (piece.name, name)]
    if laced:
        raise InputError(
            f"The row '{name}' of '{piece.name}' is laced: {', '.join(laced)}.",
            mend="Remove the laced join first.",
        )


def _follow(
    article: Article, changed: dict[str, Piece], laced: tuple[str, str], row: Row
) -> tuple[tuple[str, str], ...]:
    """Give the rows that are laced to a changed row as many holes as it has, in `changed`; returns which."""
    pieces = {piece.name: piece for piece in article.pieces}
    followed = []
    for join in article.laced_joins:
        named = [(each.piece, each.row) for each in join.rows]
        if len(named) < 2 or laced not in named or named[0] == named[1]:
            continue
        mine, other = (join.rows[place] for place in (named.index(laced), 1 - named.index(laced)))
        piece = changed.get(other.piece, pieces[other.piece])
        holes = len(_marks(changed[laced[0]], row.name)) - len(set(mine.skip)) + len(set(other.skip))
        if len(_marks(piece, other.row)) == holes:
            continue
        rows = tuple(
            msgspec.structs.replace(each, pitch=None, number=holes) if each.name == other.row else each
            for each in piece.rows
        )
        changed[other.piece] = msgspec.structs.replace(piece, rows=rows)
        followed.append((other.piece, other.row))
    return tuple(followed)


def _marks(piece: Piece, row: str) -> tuple[object, ...]:
    """The marks of one of its rows."""
    return piece.marks_of_rows[[each.name for each in piece.rows].index(row)]


def without_other_pieces(plan: Plan, job: Job) -> Plan:
    """The plan with nothing in it but pieces and strips that the job cuts from that layer; the plan itself where there
    is nothing else."""
    cuts = {(piece.name, cut.layer) for each in job.articles for piece in each.pieces for cut in piece.cuts}
    cuts |= {(strip.name, strip.layer) for each in job.articles for strip in each.strips}
    placements = tuple(p for p in plan.placements if (p.name, p.layer) in cuts)
    unplaced = tuple(u for u in plan.unplaced if (u.piece or u.strip, u.layer) in cuts)
    if len(placements) == len(plan.placements) and len(unplaced) == len(plan.unplaced):
        return plan
    return msgspec.structs.replace(plan, placements=placements, unplaced=unplaced, figures=None)
