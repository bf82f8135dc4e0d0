"""A job with one of its pieces or strips replaced."""

from __future__ import annotations

import msgspec

from nestplan.model.job import Job
from nestplan.model.piece import Piece, Strip

__all__ = ["with_piece"]


def with_piece(job: Job, name: str, new: Piece | Strip) -> Job:
    """The job with the piece or strip of that name replaced by `new`, which may have another name."""
    return msgspec.structs.replace(
        job,
        articles=tuple(
            msgspec.structs.replace(
                article,
                pieces=tuple(
                    new if isinstance(new, Piece) and piece.name == name else piece
                    for piece in article.pieces
                ),
                strips=tuple(
                    new if isinstance(new, Strip) and strip.name == name else strip
                    for strip in article.strips
                ),
            )
            for article in job.articles
        ),
    )
