"""The straightened photograph with what was found drawn over it, as a picture to look at before anything is
taken.

Outline magenta, openings cyan, suggestions yellow with their number, places warned of red. Not here: what is found.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.flaws import FlawSuggestion
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

__all__ = ["write_trace_picture"]

_OUTLINE, _HOLE, _FLAW, _WARNED = (230, 0, 230), (0, 220, 230), (255, 220, 0), (255, 40, 20)


def write_trace_picture(
    path: str | Path, rectified: RectifiedPhoto, outline: Outline, flaws: Sequence[FlawSuggestion] = ()
) -> None:
    """Write the picture; its format follows the file's ending (PNG, JPEG).

    Raises InputError."""
    from PIL import Image, ImageDraw

    from nestplan.errors import InputError

    picture = Image.fromarray(rectified.image)
    pen = ImageDraw.Draw(picture)
    width = max(2, round(picture.width / 700))
    _ring(pen, rectified, outline.exterior, _OUTLINE, width)
    for warning in outline.warnings:
        for ring in warning.places:
            _ring(pen, rectified, ring, _WARNED, width)
    for number, flaw in enumerate(flaws, start=1):
        places = _ring(pen, rectified, flaw.ring, _HOLE if flaw.appearance == "hole" else _FLAW, width)
        corner = (float(places[:, 0].max()) + width, float(places[:, 1].min()))
        pen.text(corner, str(number), fill=_FLAW, font_size=max(14, picture.width // 70))
    try:
        picture.save(path)
    except (OSError, ValueError) as fault:
        raise InputError(
            f"The picture cannot be written ({fault}).", mend="Name a .png or .jpg file.", file=str(path)
        ) from None


def _ring(
    pen: ImageDraw, rectified: RectifiedPhoto, ring: np.ndarray, colour: tuple[int, int, int], width: int
) -> np.ndarray:
    places = rectified.to_pixels(ring)
    closed = [(float(x), float(y)) for x, y in np.vstack([places, places[:1]])]
    pen.line(closed, fill=colour, width=width, joint="curve")
    return places
