"""A hide from a photograph: the scale read, the outline followed, flaws suggested, the hide made."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestplan.intake.photo.flaws import FlawSuggestion
    from nestplan.intake.photo.outline import Outline
    from nestplan.intake.photo.reading import Photo
    from nestplan.intake.photo.rectify import RectifiedPhoto
    from nestplan.model.hide import Hide

__all__ = [
    "ClickedSheet",
    "FoundSheet",
    "PrintedMarks",
    "Scale",
    "TracedPhoto",
    "TwoPoints",
    "hide_of_photo",
    "require_other_file",
    "suggest_flaws_of",
    "trace_photo",
    "write_picture_of_trace",
]

Pixel = tuple[float, float]
"""A place in a photograph's file: pixels to the right and down from the upper left corner of the upright photo."""
