"""Strips that are joined from parts: which copies are whole, and what the others lack."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from nestplan.model.piece import Strip
from nestplan.model.plan import Placement

__all__ = ["parts_of_copies", "uncovered_length", "whole_copies"]

TOLERANCE = 0.01
"""mm by which the parts of a strip may fall short; files round to 0.0001 mm."""


def parts_of_copies(strip: Strip, placements: Iterable[Placement]) -> list[list[Placement]]:
    """The parts of each copy of a strip, copy by copy; a strip in one part is a copy of one.

    Where several plans are put together, so that copies share their numbers, the same part comes again: it belongs to
    another copy.
    """
    copies: dict[tuple[int, int], list[Placement]] = {}
    seen: Counter[tuple[int, int]] = Counter()
    for placement in placements:
        if placement.strip == strip.name and placement.layer == strip.layer:
            part = (placement.copy, placement.part)
            copies.setdefault((placement.copy, seen[part]), []).append(placement)
            seen[part] += 1
    return list(copies.values())


def uncovered_length(strip: Strip, parts: Iterable[Placement]) -> float:
    """mm of a strip that its parts, lapping by the strip's lap, do not make up; 0 if they make up all of it."""
    lengths = [strip.length if part.length is None else float(part.length) for part in parts]
    covered = sum(lengths) - max(len(lengths) - 1, 0) * strip.lap
    missing = strip.length - covered
    return missing if missing > TOLERANCE else 0.0


def whole_copies(strip: Strip, placements: Iterable[Placement]) -> list[list[Placement]]:
    """The parts of each copy of a strip whose parts make up all of it."""
    return [parts for parts in parts_of_copies(strip, placements) if uncovered_length(strip, parts) == 0.0]
