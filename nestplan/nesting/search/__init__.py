"""Improving a layout: separation, insertion, consolidation over hides, gathering."""

from __future__ import annotations

__all__: list[str] = []
