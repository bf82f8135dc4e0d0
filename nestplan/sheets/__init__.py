"""From the model to the bench: cut sheets, full-size sheets, drawing files, projector view, pictures."""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "FullSizeSheets": "full_size",
    "ProjectedLine": "projector",
    "ProjectorStep": "projector",
    "cut_sheet_booklet": "cut_sheet",
    "cutting_steps": "cutting_order",
    "draw_planned_hide": "hide_pages",
    "full_size_sheets": "full_size",
    "hide_lines": "drawing_files",
    "hide_on_table": "projector",
    "job_sheet_booklet": "job_sheet",
    "lesson_sheet_booklet": "lesson_sheet",
    "piece_lines": "drawing_files",
    "plan_lines": "drawing_files",
    "plan_picture": "plan_pictures",
    "projected_lines": "projector",
    "projector_steps": "projector",
    "write_cut_sheet": "cut_sheet",
    "write_drawing_file": "drawing_files",
    "write_plan_png": "plan_pictures",
    "write_plan_svg": "plan_pictures",
    "write_sheets": "catalogue",
}

__all__ = [
    "FullSizeSheets",
    "ProjectedLine",
    "ProjectorStep",
    "cut_sheet_booklet",
    "cutting_steps",
    "draw_planned_hide",
    "full_size_sheets",
    "hide_lines",
    "hide_on_table",
    "job_sheet_booklet",
    "lesson_sheet_booklet",
    "piece_lines",
    "plan_lines",
    "plan_picture",
    "projected_lines",
    "projector_steps",
    "write_cut_sheet",
    "write_drawing_file",
    "write_plan_png",
    "write_plan_svg",
    "write_sheets",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
