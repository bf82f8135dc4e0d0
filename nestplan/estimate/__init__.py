"""How much, which hide, what else: estimates before anything is cut, and the shopping list of a job.

`compare`, `count` and `buy` are modules, each with the function of its name.
"""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "BeltBlank": "fit",
    "BuyEstimate": "buy",
    "Combination": "combine",
    "Count": "count",
    "EnginePlanner": "planner",
    "HideAnswer": "compare",
    "HideKind": "simulate",
    "RegularJoin": "lacing",
    "ShoppingList": "supplies",
    "SizeChange": "grading",
    "apportion": "job_variants",
    "belt_blank": "fit",
    "cheapest": "combine",
    "cost_per_set": "supplies",
    "edge_lacing_length": "lacing",
    "grade_piece": "grading",
    "grade_points": "grading",
    "grade_ring": "grading",
    "split_lace": "lacing",
    "job_for_hides": "job_variants",
    "join_length": "lacing",
    "kind_from_hides": "simulate",
    "open_workers": "workers",
    "panel_widths": "fit",
    "rank": "compare",
    "shopping_list": "supplies",
    "simulate_hide": "simulate",
    "simulate_hides": "simulate",
    "sizes_for": "fit",
    "spacing_warnings": "lacing",
    "stack_of": "thickness",
    "strap_job": "job_variants",
    "usual_kind": "simulate",
    "waist_of": "fit",
    "waist_range": "fit",
    "with_sets": "job_variants",
}

__all__ = [
    "BeltBlank",
    "BuyEstimate",
    "Combination",
    "Count",
    "EnginePlanner",
    "HideAnswer",
    "HideKind",
    "RegularJoin",
    "ShoppingList",
    "SizeChange",
    "apportion",
    "belt_blank",
    "cheapest",
    "cost_per_set",
    "edge_lacing_length",
    "grade_piece",
    "grade_points",
    "grade_ring",
    "job_for_hides",
    "join_length",
    "kind_from_hides",
    "open_workers",
    "panel_widths",
    "rank",
    "shopping_list",
    "simulate_hide",
    "simulate_hides",
    "sizes_for",
    "spacing_warnings",
    "split_lace",
    "stack_of",
    "strap_job",
    "usual_kind",
    "waist_of",
    "waist_range",
    "with_sets",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
