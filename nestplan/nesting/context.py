"""What a step of the search works with: the budget, the threads, the seed, and where candidates are published."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from nestplan.model.goals import HideEdge
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.candidate import Candidate

__all__ = ["SearchContext"]


def _to_nobody(candidate: Candidate) -> None:
    """Where nobody makes plans of candidates."""


@dataclass(frozen=True, eq=False)
class SearchContext:
    """`publish` takes every better candidate; `toward` is the edge of the hides that pieces are drawn to, None: any."""

    budget: SearchBudget
    pool: ThreadPoolExecutor
    seed: int
    toward: HideEdge | None = None
    publish: Callable[[Candidate], None] = _to_nobody

    def publish_improvement(self, candidate: Candidate) -> None:
        """Report a better candidate, its counts and what lies where, and hand it to whoever makes plans of them."""
        self.budget.report_best(candidate.progress_counts, lambda: candidate.placements)
        self.publish(candidate)
