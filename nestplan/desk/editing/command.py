"""What can be done with what is under the pointer or selected, as entries of a menu."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Command"]


@dataclass(frozen=True)
class Command:
    """One entry: its words, what it does, its icon, and its key, which is shown and heard elsewhere."""

    words: str
    action: Callable[[], object]
    icon: str = ""
    key: str = ""
    enabled: bool = True
