"""Rings drawn into masks: which pixels lie inside. Places are (column, row) with pixel centres at whole numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["filled"]


def filled(ring: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Mask of `shape` (rows, columns): True inside the ring (n, 2); its rim may be off by half a pixel."""
    from PIL import Image, ImageDraw

    picture = Image.new("L", (shape[1], shape[0]), 0)
    ImageDraw.Draw(picture).polygon([(float(x), float(y)) for x, y in ring], fill=1)
    return np.asarray(picture, dtype=bool)
