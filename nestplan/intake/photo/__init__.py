"""Photographs in: reference, camera, segmentation, outline and flaws of a hide."""

from __future__ import annotations

__all__: list[str] = []
