"""What of a job has no place, in rows: left and right of a pair together where the same keeps them out, and all for
which there is merely no room left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.model import Job, Piece, Strip, Unplaced
from nestplan.yields.missing_leather import leather_to_add_in_words

__all__ = ["UnplacedRow", "unplaced_rows"]


@dataclass(frozen=True)
class UnplacedRow:
    """What has no place for one reason: how many of which hand of which piece or strip (`2 × left, 1 × right front`),
    its layer, why, and the change that would let it in."""

    things: tuple[str, ...]
    layer: str
    why: str
    change: str

    @property
    def what(self) -> str:
        """The things with their layer."""
        return f"{'; '.join(self.things)} ({self.layer})"


def unplaced_rows(unplaced: Sequence[Unplaced], job: Job) -> tuple[UnplacedRow, ...]:
    """Everything without a place, in order; what the same keeps out is one row: left and right of one pair, and of one
    layer all for which there is no room left."""
    named: dict[str, Piece | Strip] = {}
    for article in job.articles:
        named |= {piece.name: piece for piece in article.pieces}
        named |= {strip.name: strip for strip in article.strips}
    rows: dict[tuple[str, ...], list[Unplaced]] = {}
    for entry in unplaced:
        name = entry.piece or entry.strip
        # How much leather would do follows from the number, and differs though the reason is the same.
        key = ("no room",) if entry.reason == "no room" and name in named else (name, entry.change)
        rows.setdefault((entry.layer, entry.why, *key), []).append(entry)
    return tuple(_row(entries, named, job) for entries in rows.values())


def _row(entries: Sequence[Unplaced], named: dict[str, Piece | Strip], job: Job) -> UnplacedRow:
    by_name: dict[str, list[str]] = {}
    for entry in entries:
        name = entry.piece or entry.strip
        by_name.setdefault(name, []).append(_counted(entry, named))
    things = tuple(f"{', '.join(counts)} {name}" for name, counts in by_name.items())
    return UnplacedRow(things, entries[0].layer, entries[0].why, _change(entries, named, job))


def _change(entries: Sequence[Unplaced], named: dict[str, Piece | Strip], job: Job) -> str:
    """The change that would let them in: of several for which there is no room left, the leather for all of them."""
    if len(entries) == 1 or entries[0].reason != "no room" or not entries[0].change:
        return entries[0].change
    area, count = 0.0, sum(entry.count for entry in entries)
    for entry in entries:
        thing = named[entry.piece or entry.strip]
        area += entry.count * (thing.net_area if isinstance(thing, Piece) else thing.width * thing.length)
    return leather_to_add_in_words(area, count, job.units)


def _counted(entry: Unplaced, named: dict[str, Piece | Strip]) -> str:
    hand = _hand(entry, named.get(entry.piece))
    return f"{entry.count} ×" + (f" {hand}" if hand else "")


def _hand(entry: Unplaced, piece: Piece | Strip | None) -> str:
    """`left` or `right` of a pair; nothing for what is no pair or may be turned over, or is not in the job any more."""
    if not isinstance(piece, Piece) or not piece.pair or piece.turn_over:
        return ""
    cut = next((cut for cut in piece.cuts if cut.layer == entry.layer), None)
    return "right" if cut is not None and entry.mirrored != cut.reversed else "left"
