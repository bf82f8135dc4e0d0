"""The photograph with the templates found drawn over it, as a picture to look at before anything is taken.

Outlines magenta with their letter, holes and windows cyan, rings and dots in yellow, arrows green.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto
from nestplan.intake.photo.templates import FoundTemplate

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["write_template_picture"]

_OUTLINE, _HOLE, _SPOT, _ARROW = (230, 0, 230), (0, 200, 220), (255, 200, 0), (0, 170, 60)


def write_template_picture(
    path: str | Path,
    photo: Photo,
    rectified: RectifiedPhoto,
    found: Sequence[FoundTemplate],
    letters: Sequence[str],
) -> None:
    """Write the picture; its format follows the file's ending (PNG, JPEG).

    Raises InputError if it cannot be written.
    """
    from PIL import Image, ImageDraw

    from nestplan.errors import InputError

    picture = Image.fromarray(photo.image)
    pen = ImageDraw.Draw(picture)
    width = max(1, round(picture.width / 1400))

    def ring(points: ArrayLike, colour: tuple[int, int, int]) -> None:
        places = rectified.photo_points(points)
        pen.line([(float(x), float(y)) for x, y in np.vstack([places, places[:1]])], fill=colour, width=width)

    for template, letter in zip(found, letters, strict=True):
        ring(template.outline, _OUTLINE)
        for opening in template.inside.openings:
            ring(opening, _HOLE)
        for hole in template.inside.holes:
            ring(_circle(hole.at, hole.diameter), _HOLE)
        for spot in template.inside.spots:
            ring(_circle(spot.at, spot.diameter + 2.5), _SPOT)
        for arrow in template.inside.arrows:
            ring(np.array([arrow.tail, arrow.tip]), _ARROW)
        x, y = rectified.photo_points([template.outline.mean(axis=0)])[0]
        size = max(14, picture.width // 70)
        pen.text((float(x), float(y)), letter, fill=_OUTLINE, font_size=size, anchor="mm")
    try:
        picture.save(path)
    except (OSError, ValueError) as fault:
        raise InputError(
            f"The picture cannot be written ({fault}).", mend="Name a .png or .jpg file.", file=str(path)
        ) from None


def _circle(at: tuple[float, float], diameter: float) -> np.ndarray:
    angle = np.arange(32) * 2 * np.pi / 32
    return np.asarray(at) + diameter / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
