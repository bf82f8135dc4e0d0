"""Sizes of an article in a job: made from the drawn one, kept after its changes, and written to a file.

The sizes are written out as articles, which whoever plans, prints or counts them takes like any other; the record they
were made by stays with the drawn one, so that they can be made anew. A size that is changed by hand follows no longer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import msgspec
import numpy as np

from nestplan.errors import InputError, NestplanError
from nestplan.estimate.article_sizes import (
    SizedArticle,
    joined_pieces,
    meeting_edges,
    seam_lengths,
    sized_article,
    sized_name,
)
from nestplan.geometry.sides import line_across
from nestplan.model.article_edits import with_pieces
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece, Strip
from nestplan.model.sizes import Seam, Sizes
from nestplan.model.values import as_points
from nestplan.tasks.job_edits import article_named

__all__ = [
    "Followed",
    "SizedJob",
    "SizesWish",
    "followed",
    "sizes_astray",
    "sizes_let_go",
    "with_sizes",
    "write_sizes",
]


_SAME_ONCE_WRITTEN = 0.02
"""mm: files hold points to 0.1 µm, or to a ten-thousandth of an inch."""


@dataclass(frozen=True)
class SizesWish:
    """What sizes of an article are wanted.

    `drawn` is the name of the size it is drawn in ("": as it is), `sets` says how many of each size; one not named
    there keeps its number, or is made once; `drawn_sets` is how many of the drawn one, where that is told anew. So is
    what it `fits`. `seams` are added to those recorded, or put in their place. `round_at` is the share of their length,
    from below, at which the panels go round the wearer: for the range of a laced article, which is measured at half
    their length where no piece says it. Pieces are called as they are in the job now.
    """

    article: str
    sizes: Sizes
    drawn: str = ""
    sets: Mapping[str, int] = field(default_factory=dict)
    fits: Mapping[str, tuple[float, float]] | None = None
    seams: tuple[Seam, ...] = ()
    only_these_seams: bool = False
    drawn_sets: int | None = None
    round_at: float | None = None


@dataclass(frozen=True)
class Followed:
    """A job whose sizes follow its drawings, what is to be told of those that do not, and the pieces and strips of
    other sizes that are called otherwise with their drawing, each with its old name."""

    job: Job | None
    told: tuple[str, ...] = ()
    renamed: tuple[tuple[str, Piece | Strip], ...] = ()


@dataclass(frozen=True)
class SizedJob:
    """A job with its sizes made, the drawn article in it, and each other size as it was made; `renamed` says what the
    pieces and strips of the drawn one are called now, by their old names; `by_hand` are the sizes that were left as
    they are, since they were changed by hand."""

    job: Job
    drawn: Article
    made: tuple[SizedArticle, ...]
    renamed: Mapping[str, str]
    by_hand: tuple[str, ...] = ()

    @property
    def widest_seam_gap(self) -> float | None:
        """By how much the edges of a seam differ at most in any size, mm; None where no seam is recorded."""
        gaps = [
            abs(first - second)
            for article in (self.drawn, *(each.article for each in self.made))
            for seam in meeting_edges(article)
            for first, second in (seam_lengths(article, seam),)
        ]
        return max(gaps, default=None)


def with_sizes(job: Job, wish: SizesWish) -> SizedJob:
    """The job with the article in all its sizes; sizes of it that are no longer wanted are taken out. One that was
    changed by hand, and follows it no longer, stays as it is.

    Raises InputError where the job has no such article, or what is asked names something it does not have; RuleError
    where a size cannot be made.
    """
    old = article_named(job, wish.article)
    if old.graded_from:
        raise InputError(
            f"'{old.name}' is itself a size of '{old.graded_from}'.",
            mend=f"Ask for the sizes of '{old.graded_from}'.",
        )
    told = msgspec.structs.replace(
        old,
        sizes=wish.sizes,
        fits=old.fits if wish.fits is None else dict(wish.fits),
        seams=tuple(dict.fromkeys(wish.seams if wish.only_these_seams else (*old.seams, *wish.seams))),
        sets=old.sets if wish.drawn_sets is None else wish.drawn_sets,
    )
    drawn = _in_drawn_size(_measured_round(told, wish.round_at), wish.drawn or old.size)
    if drawn.size in {size.name for size in wish.sizes.others}:
        raise InputError(
            f"'{drawn.size}' is the size that is drawn.",
            place="sizes",
            mend="Give the other size another name.",
        )
    made, by_hand = [], []
    own = {each.name for each in job.articles if each.graded_from != old.name}
    for size in wish.sizes.others:
        name = sized_name(drawn.name, drawn.size, size.name)
        if name in own:
            by_hand.append(name)
            continue
        sized = sized_article(drawn, size)
        before = _made_before(job, old.name, size.name)
        article = (
            _kept_of(before, sized.article) if before else msgspec.structs.replace(sized.article, sets=1)
        )
        if size.name in wish.sets:
            article = msgspec.structs.replace(article, sets=wish.sets[size.name])
        made.append(SizedArticle(article, sized.changes))
    renamed = {before.name: now.name for before, now in zip(old.pieces, drawn.pieces, strict=True)}
    renamed |= {before.name: now.name for before, now in zip(old.strips, drawn.strips, strict=True)}
    articles = (drawn, *(each.article for each in made))
    return SizedJob(_put_in(job, old.name, articles), drawn, tuple(made), renamed, tuple(by_hand))


def followed(before: Job | None, after: Job | None) -> Followed:
    """The job after a change, with the sizes made anew of every article whose drawing or sizes changed. A size that was
    itself changed by hand follows no longer; one that can no longer be made stays as it was."""
    if (
        before is None
        or after is None
        or not any(article.sizes or article.graded_from for article in after.articles)
    ):
        return Followed(after)
    after = _renamed_drawings(before, after)
    known = {article.name: article for article in before.articles}
    changed = {
        article.name
        for article in after.articles
        if article.name in known and _shapes(article) != _shapes(known[article.name])
    }
    told: list[str] = []
    articles = []
    names = {article.name for article in after.articles}
    for article in after.articles:
        if article.graded_from and article.graded_from not in names:
            article = msgspec.structs.replace(article, graded_from="")
        elif article.graded_from and article.name in changed and article.graded_from not in changed:
            told.append(f"{article.name} was changed by hand and follows {article.graded_from} no longer.")
            article = msgspec.structs.replace(article, graded_from="")
        articles.append(article)
    settled = msgspec.structs.replace(after, articles=tuple(articles))
    made = settled
    for article in settled.articles:
        if article.sizes is not None and article.name in changed:
            try:
                made = _made_anew(made, article)
            except NestplanError as error:
                told.append(f"The sizes of {article.name} stay as they were: {error}")
    return Followed(made, tuple(told), _renamed_things(settled, made))


def sizes_astray(job: Job) -> tuple[str, ...]:
    """The articles that are no longer what their drawing and their size make of them, in words to be told."""
    told = []
    for article in job.articles:
        drawn = next((each for each in job.articles if each.name == article.graded_from and each.sizes), None)
        size = (
            next((each for each in drawn.sizes.others if each.name == article.size), None)
            if drawn and drawn.sizes
            else None
        )
        if drawn is None or size is None:
            continue
        try:
            same = _alike(_shapes(sized_article(drawn, size).article), _shapes(article))
        except NestplanError as error:
            told.append(f"{article.name} cannot be made from {drawn.name} any more: {error}")
            continue
        if not same:
            told.append(
                f"{article.name} is not what {drawn.name} gives in size {size.name}: one of them was changed. "
                "Make the sizes anew, or take its graded_from out to keep it."
            )
    return tuple(told)


def sizes_let_go(before: Job, after: Job) -> tuple[str, ...]:
    """What is to be told of the sizes of a job after a change: those that follow their drawing no longer, and those
    that could not follow it."""
    drawings = {article.name: article.graded_from for article in before.articles if article.graded_from}
    let_go = tuple(
        f"{article.name} was changed by hand and follows {drawings[article.name]} no longer."
        for article in after.articles
        if article.name in drawings and not article.graded_from
    )
    return (*let_go, *sizes_astray(after))


def write_sizes(file: Path, out: Path, wish: SizesWish) -> SizedJob:
    """Write the job in `file` to `out` with the article in all its sizes.

    Raises InputError or RuleError as `with_sizes` does, with the file, or if a file cannot be read or written.
    """
    job = read_job(file)
    try:
        sized = with_sizes(job, wish)
    except NestplanError as error:
        raise error.within(file=str(file)) from error
    write_job(out, sized.job)
    return sized


def _renamed_things(before: Job, after: Job) -> tuple[tuple[str, Piece | Strip], ...]:
    """The pieces and strips that are called otherwise in the same place of the same article, each with its old name."""
    renamed: list[tuple[str, Piece | Strip]] = []
    for old, now in zip(before.articles, after.articles, strict=True):
        if (len(old.pieces), len(old.strips)) != (len(now.pieces), len(now.strips)):
            continue
        had: list[Piece | Strip] = [*old.pieces, *old.strips]
        has: list[Piece | Strip] = [*now.pieces, *now.strips]
        names, left = {thing.name for thing in had}, {thing.name for thing in has}
        renamed += [
            (had[place].name, other)
            for place, other in enumerate(has)
            if had[place].name not in left and other.name not in names
        ]
    return tuple(renamed)


def _renamed_drawings(before: Job, after: Job) -> Job:
    """The job with its sizes following the drawn articles under their new names."""
    names = {article.name for article in after.articles}
    known = {article.name for article in before.articles}
    renamed = {
        old.name: new.name
        for old in before.articles
        if old.sizes is not None and old.name not in names
        for new in after.articles
        if new.name not in known and _shapes(new) == _shapes(old)
    }
    if not renamed:
        return after
    articles = tuple(
        msgspec.structs.replace(article, graded_from=renamed.get(article.graded_from, article.graded_from))
        for article in after.articles
    )
    return msgspec.structs.replace(after, articles=articles)


def _in_drawn_size(article: Article, size: str) -> Article:
    """The drawn article, it and its pieces named after the size it is drawn in."""
    if size == article.size:
        return article
    things: dict[str, Piece | Strip] = {piece.name: piece for piece in article.pieces}
    things |= {strip.name: strip for strip in article.strips}
    renamed = with_pieces(
        article,
        {
            name: msgspec.structs.replace(thing, name=sized_name(name, article.size, size))
            for name, thing in things.items()
        },
    )
    return msgspec.structs.replace(renamed, name=sized_name(article.name, article.size, size), size=size)


def _measured_round(article: Article, share: float | None) -> Article:
    """The article with the line along which each panel goes round the wearer: at that share of their length, or, of a
    laced article of which no piece says it, at half of it."""
    if share is None and (not article.laced_joins or any(piece.around for piece in article.pieces)):
        return article
    joined = joined_pieces(article)
    things: dict[str, Piece | Strip] = {
        piece.name: msgspec.structs.replace(
            piece, around=as_points(np.round(line_across(piece.ring, 0.5 if share is None else share), 4))
        )
        for piece in article.pieces
        if piece.name in joined
    }
    return with_pieces(article, things)


def _made_before(job: Job, drawn: str, size: str) -> Article | None:
    return next((each for each in job.articles if each.graded_from == drawn and each.size == size), None)


def _put_in(job: Job, drawn: str, sized: Sequence[Article]) -> Job:
    """The job with the sizes where the drawn article was."""
    articles: list[Article] = []
    for article in job.articles:
        if article.name == drawn:
            articles += sized
        elif article.graded_from != drawn:
            articles.append(article)
    return msgspec.structs.replace(job, articles=tuple(articles))


def _made_anew(job: Job, drawn: Article) -> Job:
    """The job with those sizes made anew that follow the drawing."""
    sizes = {size.name: size for size in drawn.sizes.others} if drawn.sizes else {}
    articles = []
    for article in job.articles:
        if article.graded_from == drawn.name and article.size in sizes:
            article = _kept_of(article, sized_article(drawn, sizes[article.size]).article)
        articles.append(article)
    return msgspec.structs.replace(job, articles=tuple(articles))


def _alike(one: object, other: object) -> bool:
    """Whether two records say the same, numbers to what writing and reading them may change."""
    if isinstance(one, msgspec.Struct) and isinstance(other, msgspec.Struct):
        return type(one) is type(other) and _alike(
            msgspec.structs.astuple(one), msgspec.structs.astuple(other)
        )
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(_alike, one, other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_alike(one[key], other[key]) for key in one)
    if isinstance(one, float | int) and isinstance(other, float | int):
        return abs(one - other) <= _SAME_ONCE_WRITTEN
    return one == other


def _kept_of(before: Article, made: Article) -> Article:
    """A size made anew, with what was said of it as an article."""
    return msgspec.structs.replace(made, sets=before.sets, value=before.value, note=before.note)


def _shapes(article: Article) -> tuple[object, ...]:
    """All of an article that grading makes, or makes use of; in a job a lace is as long as its join asks."""
    strips = tuple(
        msgspec.structs.replace(strip, length=0.0, count=1, use="lace") if strip.laces else strip
        for strip in article.strips
    )
    return (
        article.pieces,
        strips,
        article.laced_joins,
        article.laced_edges,
        article.seams,
        article.fits,
        article.size,
        article.sizes,
    )
