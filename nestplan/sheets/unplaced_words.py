"""What of a job has no place, in rows: left and right of a pair together where the same keeps them out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.model import Job, Unplaced

__all__ = ["UnplacedRow", "unplaced_rows"]


@dataclass(frozen=True)
class UnplacedRow:
    """What has no place: the name of the piece or strip, its layer, how many of which hand (`2 × left, 1 × right`),
    why, and the change that would let it in."""

    name: str
    layer: str
    count: str
    why: str
    change: str


def unplaced_rows(unplaced: Sequence[Unplaced], job: Job) -> tuple[UnplacedRow, ...]:
    """Everything without a place, in order; left and right of one pair are one row where the same keeps them out."""
    rows: dict[tuple[str, str, str, str], list[Unplaced]] = {}
    for entry in unplaced:
        # How much leather would do follows from the number, and differs though the reason is the same.
        change = "" if entry.reason == "no room" else entry.change
        rows.setdefault((entry.piece or entry.strip, entry.layer, entry.why, change), []).append(entry)
    return tuple(_row(entries, job) for entries in rows.values())


def _row(entries: Sequence[Unplaced], job: Job) -> UnplacedRow:
    most = max(entries, key=lambda entry: entry.count)
    change = most.change
    if len(entries) > 1 and most.reason == "no room" and change:
        change += " So much for each hand."
    count = ", ".join(_counted(entry, job) for entry in entries)
    return UnplacedRow(most.piece or most.strip, most.layer, count, most.why, change)


def _counted(entry: Unplaced, job: Job) -> str:
    hand = _hand(entry, job)
    return f"{entry.count} ×" + (f" {hand}" if hand else "")


def _hand(entry: Unplaced, job: Job) -> str:
    """`left` or `right` of a pair; nothing for what is no pair or may be turned over, or is not in the job any more."""
    pieces = {piece.name: piece for article in job.articles for piece in article.pieces}
    piece = pieces.get(entry.piece)
    if piece is None or not piece.pair or piece.turn_over:
        return ""
    cut = next((cut for cut in piece.cuts if cut.layer == entry.layer), None)
    return "right" if cut is not None and entry.mirrored != cut.reversed else "left"
