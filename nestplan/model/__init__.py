"""What the trade talks about: hides, pieces, jobs, plans, the rules between them, and their files.

Names are loaded when they are first asked for, so that a module of this folder that needs little stays quick to import.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestplan.model.hide import Disc, Flaw, Hide, Line, Origin, Region
    from nestplan.model.job import Article, CutPiece, Job, Layer, Permissions, WantedStrip
    from nestplan.model.laced_joins import LacedEdge, LacedJoin, LacedRow
    from nestplan.model.mark_rows import Row
    from nestplan.model.marks import Mark, Opening
    from nestplan.model.piece import LayerCut, Overcut, Part, Piece, StretchRule, Strip
    from nestplan.model.plan import Figures, Offcut, Placement, Plan, Source, Unplaced
    from nestplan.model.supplies import Supplies

__all__ = [
    "Article",
    "CutPiece",
    "Disc",
    "Figures",
    "Flaw",
    "Hide",
    "Job",
    "LacedEdge",
    "LacedJoin",
    "LacedRow",
    "Layer",
    "LayerCut",
    "Line",
    "Mark",
    "Offcut",
    "Opening",
    "Origin",
    "Overcut",
    "Part",
    "Permissions",
    "Piece",
    "Placement",
    "Plan",
    "Region",
    "Row",
    "Source",
    "StretchRule",
    "Strip",
    "Supplies",
    "Unplaced",
    "WantedStrip",
]

_MODULES = ("hide", "job", "laced_joins", "mark_rows", "marks", "piece", "plan", "supplies")


def __getattr__(name: str) -> object:
    """A public name, from the module that has it. Raises AttributeError if none has."""
    if name in __all__:
        for module in _MODULES:
            found = importlib.import_module(f"nestplan.model.{module}")
            if name in found.__all__:
                globals()[name] = getattr(found, name)
                return globals()[name]
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
