"""From the bench to the model: photographs, drawing files, tape figures and measures as hides and pieces."""

from __future__ import annotations

import importlib
from typing import Any

# Loaded when first asked for: drawings bring ezdxf with them, photographs scikit-image.
_HOME = {
    "HIDE_KINDS": "measured",
    "PANELS": "panels",
    "Drawing": "drawings",
    "find_outline": "photo",
    "find_reference": "photo",
    "hide_from_drawing": "drawings",
    "hide_from_photo": "photo",
    "layer_table_text": "drawings",
    "layers_of": "drawings",
    "measured_hide": "measured",
    "pieces_from_drawing": "drawings",
    "read_drawing": "drawings",
    "read_hide_drawing": "drawings",
    "read_layer_table": "drawings",
    "read_photo": "photo",
    "read_piece_drawing": "drawings",
    "rectify_by_markers": "photo",
    "suggest_flaws": "photo",
}

__all__ = [
    "HIDE_KINDS",
    "PANELS",
    "Drawing",
    "find_outline",
    "find_reference",
    "hide_from_drawing",
    "hide_from_photo",
    "layer_table_text",
    "layers_of",
    "measured_hide",
    "pieces_from_drawing",
    "read_drawing",
    "read_hide_drawing",
    "read_layer_table",
    "read_photo",
    "read_piece_drawing",
    "rectify_by_markers",
    "suggest_flaws",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
