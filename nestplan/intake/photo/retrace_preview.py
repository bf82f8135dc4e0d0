"""The straightened photograph of a hide found again: its old outline, the new one, what differs, and the plan on it.

New outline magenta, old one yellow, changed places red, cut shapes cyan.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.intake.photo.photo_drawing import PhotoDrawing
from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["write_retrace_picture"]

_NOW, _BEFORE, _CHANGED, _CUT = (230, 0, 230), (255, 220, 0), (255, 40, 20), (0, 220, 230)


def write_retrace_picture(
    path: str | Path,
    rectified: RectifiedPhoto,
    *,
    now: Floats,
    before: Floats,
    changes: Sequence[Floats] = (),
    cuts: Sequence[Floats] = (),
) -> None:
    """Write the picture, whole or not at all; rings (n, 2) in mm on the ground. Its format follows the file's ending
    (PNG, JPEG).

    Raises InputError if it cannot be written.
    """
    drawing = PhotoDrawing(rectified.image, line_width=max(2, round(rectified.image.shape[1] / 700)))
    rings = [(before, _BEFORE), (now, _NOW), *((ring, _CUT) for ring in cuts)]
    rings += [(ring, _CHANGED) for ring in changes]
    for ring, color in rings:
        drawing.ring(rectified.to_pixels(ring), color)
    drawing.write(path)
