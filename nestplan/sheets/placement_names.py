"""What placed things are called on sheets, in the maker's words."""

from __future__ import annotations

from nestplan.model import Job, Placement

__all__ = ["placed_name"]


def placed_name(job: Job, placed: Placement) -> str:
    """What a placed thing is called in the maker's words: `front, lining, right`, or the strip's name."""
    if placed.strip:
        part = f", part {placed.part}" if placed.part else ""
        return placed.strip + part
    piece = job.piece(placed.piece)
    words = [piece.name]
    if len(piece.cuts) > 1:
        words.append(placed.layer)
    if piece.pair:
        words.append(_hand_of(job, placed))
    return ", ".join(words)


def _hand_of(job: Job, placed: Placement) -> str:
    """`left` or `right` for a piece of a pair, "" for others; left is the piece as drawn."""
    piece = job.piece(placed.piece)
    if not piece.pair:
        return ""
    cut = piece.cut_in(placed.layer)
    return "right" if placed.mirrored != cut.reversed else "left"
