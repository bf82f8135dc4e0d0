"""Drawing files in: DXF, SVG, CSV and JSON rings as hides and pieces."""

from __future__ import annotations

__all__: list[str] = []
