"""The first layout: strips and pieces placed one after another, hardest first."""

from __future__ import annotations

__all__: list[str] = []
