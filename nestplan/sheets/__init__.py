"""From the model to the bench: cut sheets, full-size sheets, drawing files, projector view, pictures."""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "write_cut_sheet": "cutsheet",
    "write_plan_png": "pictures",
    "write_plan_svg": "pictures",
}

__all__ = ["write_cut_sheet", "write_plan_png", "write_plan_svg"]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
