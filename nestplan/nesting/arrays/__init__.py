"""Packed arrays of a problem and of a search, and every compiled kernel that works on them."""

from __future__ import annotations

__all__: list[str] = []
