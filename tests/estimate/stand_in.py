"""A planner that counts by area alone, so that estimates can be tested without waiting for plans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.estimate.compare import HideAnswer
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Figures, Plan, SetFigures, Source, Unplaced


@dataclass(frozen=True)
class ByArea:
    """Lays sets, article by article, as long as `share` of the hides' area holds them. Draws nothing."""

    share: float = 0.6
    words: str = "by area"

    def plan(self, job: Job, hides: Sequence[Hide], goal: str) -> Plan:
        left = self.share * sum(hide.gross_area for hide in hides)
        gross, net = left / self.share, 0.0
        sets = []
        for article in job.articles:
            size = sum(
                piece.net_area * piece.count * (2 if piece.pair else 1) * len(piece.cuts)
                for piece in article.pieces
            ) + sum(strip.count * strip.length * strip.width for strip in article.strips)
            whole = min(article.sets, int(left / size + 1e-9))
            left, net = left - whole * size, net + whole * size
            sets.append(SetFigures(article=article.name, asked=article.sets, whole=whole, bound=article.sets))
        asked, whole = sum(each.asked for each in sets), sum(each.whole for each in sets)
        figures = Figures(
            gross=gross,
            usable=gross,
            net=net,
            cut=net,
            net_yield=net / gross,
            cut_yield=net / gross,
            lost_to_flaws=0.0,
            lost_to_overcut=0.0,
            lost_to_gaps=0.0,
            lost_to_small_offcuts=0.0,
            offcut_area=gross - net,
            placed=whole,
            asked=asked,
            hides_used=len(hides),
            sets=tuple(sets),
        )
        missing = tuple(
            Unplaced(piece=each.article, count=each.asked - each.whole, reason="no room", why="area")
            for each in sets
            if each.whole < each.asked
        )
        return Plan(
            name=job.name,
            job=Source(name=job.name),
            hides=tuple(Source(name=hide.name) for hide in hides),
            unplaced=missing,
            figures=figures,
        )


def without_time(answer: HideAnswer) -> tuple[object, ...]:
    """All of an answer but the time it took, to compare two runs by."""
    return tuple(getattr(answer, name) for name in answer.__dataclass_fields__ if name != "seconds")
