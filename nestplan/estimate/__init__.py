"""How much, which hide, what else: estimates before anything is cut, and the shopping list of a job."""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "BeltBlank": "fit",
    "LacedJoin": "lacing",
    "ShoppingList": "supplies",
    "Stretch": "grading",
    "belt_blank": "fit",
    "cost_per_set": "supplies",
    "edge_lacing_length": "lacing",
    "grade_points": "grading",
    "grade_ring": "grading",
    "in_pieces": "lacing",
    "join_length": "lacing",
    "panel_widths": "fit",
    "shopping_list": "supplies",
    "sizes_for": "fit",
    "spacing_warnings": "lacing",
    "stack_of": "thickness",
    "waist_of": "fit",
    "waist_range": "fit",
}

__all__ = [
    "BeltBlank",
    "LacedJoin",
    "ShoppingList",
    "Stretch",
    "belt_blank",
    "cost_per_set",
    "edge_lacing_length",
    "grade_points",
    "grade_ring",
    "in_pieces",
    "join_length",
    "panel_widths",
    "shopping_list",
    "sizes_for",
    "spacing_warnings",
    "stack_of",
    "waist_of",
    "waist_range",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
