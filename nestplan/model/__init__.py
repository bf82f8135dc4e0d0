"""What the trade talks about: hides, pieces, jobs, plans, the rules between them, and their files."""

from __future__ import annotations

from nestplan.model.hide import Disc, Flaw, Hide, Line, Origin, Region
from nestplan.model.job import Article, CutPiece, Job, Layer, Permissions, WantedStrip
from nestplan.model.piece import LayerCut, Mark, Overcut, Part, Piece, StretchRule, Strip
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
    "Layer",
    "LayerCut",
    "Line",
    "Mark",
    "Offcut",
    "Origin",
    "Overcut",
    "Part",
    "Permissions",
    "Piece",
    "Placement",
    "Plan",
    "Region",
    "Source",
    "StretchRule",
    "Strip",
    "Supplies",
    "Unplaced",
    "WantedStrip",
]
