"""A job with one of its pieces or strips replaced, and an article of it by its name."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from nestplan.errors import InputError
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece, Strip
from nestplan.model.sizes import Edge, Seam

__all__ = ["article_named", "renamed_references", "with_thing"]


def with_thing(job: Job, name: str, thing: Piece | Strip) -> Job:
    """The job with the piece or strip of that name replaced by `thing`, which may have another name."""
    return msgspec.structs.replace(
        job,
        articles=tuple(
            renamed_references(
                msgspec.structs.replace(
                    article,
                    pieces=tuple(
                        thing if isinstance(thing, Piece) and piece.name == name else piece
                        for piece in article.pieces
                    ),
                    strips=tuple(
                        thing if isinstance(thing, Strip) and strip.name == name else strip
                        for strip in article.strips
                    ),
                ),
                {name: thing.name},
            )
            for article in job.articles
        ),
    )


def article_named(job: Job, name: str) -> Article:
    """The article of that name; "" is the only one there is.

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


def renamed_references(article: Article, names: Mapping[str, str]) -> Article:
    """The article with its pieces and strips called otherwise wherever it speaks of them; not the things themselves."""
    if all(old == new for old, new in names.items()):
        return article

    def edges(each: tuple[Edge, ...]) -> tuple[Edge, ...]:
        return tuple(msgspec.structs.replace(edge, piece=names.get(edge.piece, edge.piece)) for edge in each)

    sizes = article.sizes
    if sizes is not None:
        measures = tuple(
            msgspec.structs.replace(
                measure,
                pieces=tuple(
                    msgspec.structs.replace(growth, name=names.get(growth.name, growth.name))
                    for growth in measure.pieces
                ),
            )
            for measure in sizes.measures
        )
        sizes = msgspec.structs.replace(sizes, measures=measures)
    return msgspec.structs.replace(
        article,
        seams=tuple(Seam(first=edges(seam.first), second=edges(seam.second)) for seam in article.seams),
        sizes=sizes,
    )
