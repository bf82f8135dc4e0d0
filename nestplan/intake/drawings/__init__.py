"""Drawing files in: DXF, SVG, CSV and JSON rings as shapes, and those as hides and pieces."""

from __future__ import annotations

import importlib
from typing import Any

# Loaded when first asked for: DXF brings ezdxf with it.
_HOME = {
    "Drawing": "reader",
    "hide_from_drawing": "to_model",
    "layer_table_text": "layers",
    "layers_of": "reader",
    "pieces_from_drawing": "to_model",
    "read_drawing": "reader",
    "read_hide_drawing": "to_model",
    "read_layer_table": "layers",
    "read_piece_drawing": "to_model",
}

__all__ = [
    "Drawing",
    "hide_from_drawing",
    "layer_table_text",
    "layers_of",
    "pieces_from_drawing",
    "read_drawing",
    "read_hide_drawing",
    "read_layer_table",
    "read_piece_drawing",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
