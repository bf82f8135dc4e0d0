"""A hide from what was found in a photograph: the outline brought to its own corner, openings, chosen flaws,
origin.

Not here: the finding (outline, flaws). Only what the caller hands over is taken.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.flaws import FlawSuggestion
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.rectification import RectifiedPhoto, scale_error_over
from nestplan.model.flaw_kinds import GRAIN, THROUGH
from nestplan.model.hide import Flaw, Hide, Origin

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from nestplan.model.values import Points

    Floats = NDArray[np.float64]

__all__ = ["MARGIN", "hide_from_photo"]

MARGIN = 3.0
"""How far a finished outline keeps from a flaw found in a photograph unless the user says otherwise, mm
[common]."""


def hide_from_photo(
    rectified: RectifiedPhoto,
    outline: Outline,
    *,
    name: str,
    leather: str,
    flaws: Iterable[FlawSuggestion] = (),
    margin: float = MARGIN,
    date: str = "",
    file: str = "",
    note: str = "",
) -> Hide:
    """The hide: its outline's lower left bounds at (0, 0), the floor seen through it as through-flaws.

    `flaws` are the suggestions the user takes; all but holes spoil the grain, which is what a photograph
    shows. The origin says the photo, the date, the relative error of lengths over this hide and the edge's
    tolerance in mm.
    """
    shift = outline.exterior.min(axis=0)
    spoiled = [
        Flaw(spoils=THROUGH.name, name="hole", outline=_points(hole - shift), margin=margin)
        for hole in outline.holes
    ]
    spoiled += [
        Flaw(
            spoils=GRAIN.name,
            name=flaw.appearance,
            outline=_points(flaw.ring - shift),
            margin=margin,
            strength=flaw.strength,
            note="suggested from the photo",
        )
        for flaw in flaws
        if flaw.appearance != "hole"
    ]
    return Hide(
        name=name,
        leather=leather,
        outline=_points(outline.exterior - shift),
        flaws=tuple(spoiled),
        origin=Origin(
            how="photo",
            file=file or rectified.name,
            date=date,
            scale_error=round(scale_error_over(rectified, outline.exterior), 5),
            tolerance=outline.tolerance,
            note=note,
        ),
    )


def _points(ring: Floats) -> Points:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in ring)
