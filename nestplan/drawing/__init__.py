"""A picture as lines, fills, marks and texts in mm, and the papers it is put on: PDF, SVG, PNG, DXF."""

from __future__ import annotations

__all__: list[str] = []
