"""The photograph with the templates found drawn over it, as a picture to look at before anything is taken.

Outlines magenta with their letter, holes and windows cyan, rings and dots in yellow, arrows green.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from nestplan.intake.photo.photo_drawing import PhotoDrawing
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto
from nestplan.intake.photo.templates import FoundTemplate

__all__ = ["write_template_picture"]

_OUTLINE, _HOLE, _SPOT, _ARROW = (230, 0, 230), (0, 200, 220), (255, 200, 0), (0, 170, 60)


def write_template_picture(
    path: str | Path,
    photo: Photo,
    rectified: RectifiedPhoto,
    found: Sequence[FoundTemplate],
    letters: Sequence[str],
) -> None:
    """Write the picture, whole or not at all; its format follows the file's ending (PNG, JPEG).

    Raises InputError if it cannot be written.
    """
    drawing = PhotoDrawing(photo.image, line_width=max(1, round(photo.image.shape[1] / 1400)))
    for template, letter in zip(found, letters, strict=True):
        inside = template.inside
        rings = [(template.outline, _OUTLINE), *((opening, _HOLE) for opening in inside.openings)]
        rings += [(_circle(hole.at, hole.diameter), _HOLE) for hole in inside.holes]
        rings += [(_circle(spot.at, spot.diameter + 2.5), _SPOT) for spot in inside.spots]
        rings += [(np.array([arrow.tail, arrow.tip]), _ARROW) for arrow in inside.arrows]
        for ring, color in rings:
            drawing.ring(rectified.photo_points(ring), color)
        x, y = rectified.photo_points([template.outline.mean(axis=0)])[0]
        drawing.words((float(x), float(y)), letter, _OUTLINE, centered=True)
    drawing.write(path)


def _circle(at: tuple[float, float], diameter: float) -> np.ndarray:
    angle = np.arange(32) * 2 * np.pi / 32
    return np.asarray(at) + diameter / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
