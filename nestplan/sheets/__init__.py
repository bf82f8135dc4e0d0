"""From the model to the bench: cut sheets, full-size sheets, drawing files, projector view, pictures."""

from __future__ import annotations

import importlib
from typing import Any

_HOME = {
    "Calibration": "projector",
    "FullSize": "fullsize",
    "ProjectedLine": "projector",
    "ProjectorStep": "projector",
    "calibrate": "projector",
    "check_square": "projector",
    "cut_sheet": "cutsheet",
    "cutting_order": "cutting_order",
    "draw_planned_hide": "hide_pages",
    "full_size_sheets": "fullsize",
    "hide_lines": "exports",
    "hide_on_table": "projector",
    "job_sheet": "jobsheet",
    "lesson_sheet": "lesson",
    "piece_lines": "exports",
    "plan_lines": "exports",
    "plan_picture": "pictures",
    "projected_lines": "projector",
    "projector_steps": "projector",
    "write_cut_sheet": "cutsheet",
    "write_drawing": "exports",
    "write_full_size": "fullsize",
    "write_job_sheet": "jobsheet",
    "write_lesson_sheet": "lesson",
    "write_plan_png": "pictures",
    "write_plan_svg": "pictures",
    "write_sheets": "folder",
}

__all__ = [
    "Calibration",
    "FullSize",
    "ProjectedLine",
    "ProjectorStep",
    "calibrate",
    "check_square",
    "cut_sheet",
    "cutting_order",
    "draw_planned_hide",
    "full_size_sheets",
    "hide_lines",
    "hide_on_table",
    "job_sheet",
    "lesson_sheet",
    "piece_lines",
    "plan_lines",
    "plan_picture",
    "projected_lines",
    "projector_steps",
    "write_cut_sheet",
    "write_drawing",
    "write_full_size",
    "write_job_sheet",
    "write_lesson_sheet",
    "write_plan_png",
    "write_plan_svg",
    "write_sheets",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
