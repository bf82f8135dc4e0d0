"""A picture as lines, fills and texts in mm, and the papers it is put on: PDF, SVG, PNG, DXF. It knows no leather."""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "Booklet": "pages",
    "BookletBuilder": "booklet_builder",
    "Circle": "primitives",
    "Fill": "primitives",
    "Hatch": "primitives",
    "LineStyle": "primitives",
    "Outline": "primitives",
    "Page": "pages",
    "Paper": "pages",
    "Picture": "primitives",
    "Text": "primitives",
    "paper_named": "pages",
    "write_dxf": "dxf",
    "write_pdf": "pdf",
    "write_png": "png",
    "write_svg": "svg",
}

__all__ = [
    "Booklet",
    "BookletBuilder",
    "Circle",
    "Fill",
    "Hatch",
    "LineStyle",
    "Outline",
    "Page",
    "Paper",
    "Picture",
    "Text",
    "paper_named",
    "write_dxf",
    "write_pdf",
    "write_png",
    "write_svg",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
