"""From a candidate to a published plan: built, checked independently, handed out."""

from __future__ import annotations

__all__: list[str] = []
