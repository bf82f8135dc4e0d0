"""A job with one of its pieces or strips replaced."""

from __future__ import annotations

import msgspec

from nestplan.model.job import Job
from nestplan.model.piece import Piece, Strip

__all__ = ["with_thing"]


def with_thing(job: Job, name: str, thing: Piece | Strip) -> Job:
    """The job with the piece or strip of that name replaced by `thing`, which may have another name."""
    return msgspec.structs.replace(
        job,
        articles=tuple(
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
            )
            for article in job.articles
        ),
    )
