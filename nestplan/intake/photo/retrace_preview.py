"""The straightened photograph of a hide found again: its old outline, the new one, what differs, and the plan on it.

New outline magenta, old one yellow, changed places red, cut shapes cyan.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
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
    """Write the picture; rings (n, 2) in mm on the ground. Its format follows the file's ending (PNG, JPEG).

    Raises InputError if it cannot be written.
    """
    from PIL import Image, ImageDraw

    from nestplan.errors import InputError

    picture = Image.fromarray(rectified.image)
    pen = ImageDraw.Draw(picture)
    width = max(2, round(picture.width / 700))
    rings = [(before, _BEFORE), (now, _NOW), *((ring, _CUT) for ring in cuts)]
    rings += [(ring, _CHANGED) for ring in changes]
    for ring, colour in rings:
        places = rectified.to_pixels(np.vstack([ring, ring[:1]]))
        pen.line([(float(x), float(y)) for x, y in places], fill=colour, width=width, joint="curve")
    try:
        picture.save(path)
    except (OSError, ValueError) as fault:
        raise InputError(
            f"The picture cannot be written ({fault}).", mend="Name a .png or .jpg file.", file=str(path)
        ) from None
