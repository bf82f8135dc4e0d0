"""Photographs in: reference, camera, segmentation, outline and flaws of a hide."""

from __future__ import annotations

import importlib
from typing import Any

# Loaded when first asked for: photographs bring scikit-image and SciPy with them.
_HOME = {
    "PAPER_SIZES": "sheet_sizes",
    "FlawSuggestion": "flaws",
    "Outline": "outline",
    "Photo": "reading",
    "RectifiedPhoto": "rectification",
    "ReferenceCorners": "reference_corners",
    "find_outline": "outline",
    "find_reference": "reference",
    "hide_from_photo": "to_model",
    "read_photo": "reading",
    "rectify": "rectification",
    "rectify_by_markers": "markers",
    "suggest_flaws": "flaws",
    "write_trace_picture": "preview",
}

__all__ = [
    "PAPER_SIZES",
    "FlawSuggestion",
    "Outline",
    "Photo",
    "RectifiedPhoto",
    "ReferenceCorners",
    "find_outline",
    "find_reference",
    "hide_from_photo",
    "read_photo",
    "rectify",
    "rectify_by_markers",
    "suggest_flaws",
    "write_trace_picture",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
