"""What can be printed or handed on from what lies open, and the one call that writes each; sheets of a plan's file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec

from nestplan.errors import InputError
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.tasks.checking import figures_of
from nestplan.tasks.opening import OpenedPlan
from nestplan.tasks.workspace import Workspace

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet
    from nestplan.sheets.measures import LengthUnit
    from nestplan.sheets.shopping import ShoppingLines

__all__ = [
    "EXPORTS",
    "PRINTS",
    "Export",
    "Needs",
    "export",
    "lacking",
    "pages_to_print",
    "write_picture",
    "write_sheet_folder",
]
