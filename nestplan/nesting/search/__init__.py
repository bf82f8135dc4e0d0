"""Improving a layout: separation, insertion, chains of moves, fewer hides, gathering."""

from __future__ import annotations

__all__: list[str] = []
