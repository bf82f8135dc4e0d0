"""How much an unknown drawing file may ask of the machine, counted while it is read."""

from __future__ import annotations

import time
from dataclasses import dataclass

from nestplan.errors import InputError

__all__ = ["ReadCounter", "ReadLimits"]


@dataclass(frozen=True)
class ReadLimits:
    """How much an unknown file may ask of the machine before it is refused."""

    bytes: int = 16 * 1024 * 1024
    entities: int = 100_000
    points: int = 500_000
    depth: int = 32
    seconds: float = 8.0
    extent: float = 100_000.0
    """Largest coordinate in mm (100 m)."""


class ReadCounter:
    """Counts what a reader spends against `ReadLimits`; raises InputError when it is used up."""

    def __init__(self, limits: ReadLimits) -> None:
        self.limits = limits
        self.entities = 0
        self.points = 0
        self._end = time.monotonic() + limits.seconds

    def count_entities(self, count: int = 1) -> None:
        self.entities += count
        if self.entities > self.limits.entities:
            raise InputError(
                f"The drawing holds more than {self.limits.entities} lines and shapes.",
                mend="Save only the outlines to a file of their own.",
            )
        self.check_time()

    def count_points(self, count: int) -> None:
        self.points += count
        if self.points > self.limits.points:
            raise InputError(
                f"The drawing needs more than {self.limits.points} points.",
                mend="Simplify its curves, or raise the flattening tolerance.",
            )
        self.check_time()

    def check_numbers(self, count: int) -> None:
        """Figures still to be read: a path of too many is refused before it is taken apart."""
        if count > self.limits.points:
            self.count_points(count)
        self.check_time()

    def check_time(self) -> None:
        if time.monotonic() > self._end:
            raise InputError(
                f"Reading took longer than {self.limits.seconds:g} s and was given up.",
                mend="Save only the outlines to a file of their own.",
            )

    def check_size(self, count: int) -> None:
        if count > self.limits.bytes:
            raise InputError(
                f"The file holds {count / 1e6:.1f} MB; drawings up to {self.limits.bytes / 1e6:.0f} MB are read.",
                mend="Save only the outlines to a file of their own.",
            )

    def check_depth(self, depth: int, place: str) -> None:
        if depth > self.limits.depth:
            raise InputError(
                f"Blocks or groups are nested more than {self.limits.depth} deep.",
                mend="Explode the blocks or ungroup the drawing, and save it again.",
                place=place,
            )
