"""What each placed piece is called on the table, and its tint: made once for a job."""

from __future__ import annotations

from nestplan.desk.table.items import ShownPlacement
from nestplan.model.job import Job
from nestplan.model.plan import Placement

__all__ = ["PlacementLabels"]


class PlacementLabels:
    """The tint and the words of each piece of a job; made once for a job."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._known: dict[tuple[str, str, bool], tuple[int, str, str]] = {}
        for piece in job.cut_pieces:
            wanted = piece.piece
            for mirrored in (False, True):
                side = ""
                if wanted.pair:
                    side = "R " if mirrored != piece.cut.reversed else "L "
                layer = f" {piece.cut.layer}" if piece.cut is not wanted.cuts[0] else ""
                known = (piece.article, f"{wanted.name}{layer}", side)
                self._known[wanted.name, piece.cut.layer, mirrored] = known
        for strip in job.wanted_strips:
            self._known[strip.strip.name, strip.strip.layer, False] = (strip.article, strip.strip.name, "")

    def shown(
        self,
        placement: Placement,
        *,
        selected: bool = False,
        wrong: bool = False,
        ghost: bool = False,
        overlaps: bool = False,
        number: str = "",
    ) -> ShownPlacement:
        """A placement as it is to be shown, with its side (left or right) and set.

        `number` is its number in the order of cutting.
        """
        key = (placement.name, placement.layer, placement.mirrored)
        tint, words, side = self._known.get(key, (0, placement.name, ""))
        number_of_set = "" if ghost else placement.set
        words = f"{words}\n{side}{number_of_set}".strip()
        if number:
            words = f"{number}. {words}"
        short = number or f"{side}{number_of_set}".replace(" ", "")
        return ShownPlacement(placement, tint, words, short, selected, wrong, ghost, overlaps)
