"""Small work on pixels: rings drawn into masks, the mean of colours, blocks of pixels.

Places are (column, row) with pixel centres at whole numbers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

__all__ = ["block_means", "grey_level", "ring_mask"]


def ring_mask(ring: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Mask of `shape` (rows, columns): True inside the ring (n, 2); its rim may be off by half a pixel."""
    from PIL import Image, ImageDraw

    picture = Image.new("L", (shape[1], shape[0]), 0)
    ImageDraw.Draw(picture).polygon([(float(x), float(y)) for x, y in ring], fill=1)
    return np.asarray(picture, dtype=bool)


def grey_level(picture: Floats) -> Floats:
    """Mean (h, w) of the three colours of a picture (h, w, 3)."""
    return np.asarray((picture[..., 0] + picture[..., 1] + picture[..., 2]) / np.float32(3))


def block_means(picture: Floats | NDArray[np.uint8], step: int) -> Floats:
    """Means of blocks of `step` × `step` pixels of a picture (h, w) or (h, w, 3); what is left over is dropped."""
    rows, columns = picture.shape[0] // step, picture.shape[1] // step
    if step == 1:
        return np.array(picture, dtype=np.float32)
    # Sums of strided views: numpy's own mean over two short axes is several times slower.
    across = np.zeros((rows * step, columns, *picture.shape[2:]), dtype=np.float32)
    for k in range(step):
        across += picture[: rows * step, k : columns * step : step]
    total = across[::step].copy()
    for k in range(1, step):
        total += across[k::step]
    total /= np.float32(step * step)
    return total
