"""What a search has found so far, against time: whole sets, area laid, hides used. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.geometry.ring import signed_area
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement
from nestplan.nesting.progress import Progress
from nestplan.yields.bounds import area_bounds

__all__ = ["HistoryPoint", "SearchHistory", "most_by_area"]


@dataclass(frozen=True)
class HistoryPoint:
    """Where the best candidate stood after so many seconds: whole sets, pieces placed, area (mm²) and hides."""

    seconds: float
    sets: int
    placed: int
    area: float = 0.0
    hides: int = 0


class SearchHistory:
    """The points at which the search found something better; `asked` sets are as many as it was asked for.

    `most` is how many sets and how much area (mm²) there can be at most, where the search may go beyond what is asked.
    """

    def __init__(self, most: tuple[int, float] | None = None) -> None:
        self.points: list[HistoryPoint] = []
        self.asked = 0
        self.most = most
        self._area, self._hides = 0.0, 0

    def note_candidate(self, placements: Sequence[Placement]) -> None:
        """A better candidate was shown: its area and its hides belong to the next progress."""
        self._area = sum(abs(signed_area(placement.cut_ring)) for placement in placements)
        self._hides = len({placement.hide for placement in placements})

    def note_progress(self, progress: Progress, seconds: float) -> None:
        """Progress was told, `seconds` of work after the start."""
        self.asked = progress.sets_asked or self.asked
        last = self.points[-1] if self.points else None
        now = HistoryPoint(seconds, progress.sets, progress.placed, self._area, self._hides)
        if last is None or _found(now) != _found(last):
            self.points.append(now)

    def seconds_without_gain(self, seconds: float) -> float:
        """How long nothing better was found, after so many seconds of work."""
        return seconds - self.points[-1].seconds if self.points else 0.0


def most_by_area(job: Job, hides: Sequence[Hide]) -> tuple[int, float] | None:
    """How many whole sets, of all articles together, the area of the leather allows, and that area (mm²).

    Proven: what is cut takes at least its finished area, and the most sets come of the article that needs least. None
    where nothing is asked for.
    """
    bounds = area_bounds(job, hides)
    return (max(bound.sets for bound in bounds), sum(hide.gross_area for hide in hides)) if bounds else None


def _found(point: HistoryPoint) -> tuple[int, int, int, int]:
    """What counts as a gain; of the area whole square centimetres."""
    return point.sets, point.placed, round(point.area / 100.0), point.hides
