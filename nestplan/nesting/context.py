"""What a step of the search works with: the watch, the threads, the seed, and whom to tell of a better draft."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Literal

from nestplan.nesting.budget import SearchBudget

__all__ = ["SearchContext", "Toward"]

Toward = Literal["neck", "tail", "belly", "backbone"]


@dataclass(frozen=True, eq=False)
class SearchContext:
    """`offer` is called with every better draft, which may then be made into a plan."""

    watch: SearchBudget
    pool: ThreadPoolExecutor
    seed: int
    toward: Toward | None = None
    offer: Callable[[Any], None] = lambda draft: None
