"""The straightened photograph with what was found drawn over it, as a picture to look at before anything is
taken.

Outline magenta, openings cyan, suggestions yellow with their number, places warned of red.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nestplan.intake.photo.flaws import FlawSuggestion
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.photo_drawing import PhotoDrawing
from nestplan.intake.photo.rectification import RectifiedPhoto

__all__ = ["write_trace_picture"]

_OUTLINE, _HOLE, _FLAW, _WARNED = (230, 0, 230), (0, 220, 230), (255, 220, 0), (255, 40, 20)


def write_trace_picture(
    path: str | Path, rectified: RectifiedPhoto, outline: Outline, flaws: Sequence[FlawSuggestion] = ()
) -> None:
    """Write the picture, whole or not at all; its format follows the file's ending (PNG, JPEG).

    Raises InputError if it cannot be written.
    """
    drawing = PhotoDrawing(rectified.image, line_width=max(2, round(rectified.image.shape[1] / 700)))
    drawing.ring(rectified.to_pixels(outline.exterior), _OUTLINE)
    for warning in outline.warnings:
        for ring in warning.places:
            drawing.ring(rectified.to_pixels(ring), _WARNED)
    for number, flaw in enumerate(flaws, start=1):
        places = rectified.to_pixels(flaw.ring)
        drawing.ring(places, _HOLE if flaw.appearance == "hole" else _FLAW)
        corner = (float(places[:, 0].max()) + drawing.line_width, float(places[:, 1].min()))
        drawing.words(corner, str(number), _FLAW)
    drawing.write(path)
