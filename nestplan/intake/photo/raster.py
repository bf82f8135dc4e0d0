"""Small work on pixels: rings drawn into masks, the mean of colours, blocks of pixels.

Places are (column, row) with pixel centres at whole numbers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

__all__ = [
    "block_means",
    "colour_looks",
    "grey_level",
    "lab_colours",
    "median_of_nine",
    "parting_level",
    "ring_mask",
]


def ring_mask(ring: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Mask of `shape` (rows, columns): True inside the ring (n, 2); its rim may be off by half a pixel."""
    from PIL import Image, ImageDraw

    picture = Image.new("L", (shape[1], shape[0]), 0)
    ImageDraw.Draw(picture).polygon([(float(x), float(y)) for x, y in ring], fill=1)
    return np.asarray(picture, dtype=bool)


def grey_level(picture: Floats) -> Floats:
    """Mean (h, w) of the three colours of a picture (h, w, 3)."""
    return np.asarray((picture[..., 0] + picture[..., 1] + picture[..., 2]) / np.float32(3))


def colour_looks(small: Floats) -> Floats:
    """Looks (h, w, 3) of a fine picture: log brightness and two log colour ratios, a little smoothed.

    Texture is left out: the stroke of a brand has as much of it as any floor.
    """
    from scipy import ndimage

    red, green, blue = (ndimage.gaussian_filter(small[..., c], 1.0) for c in range(3))
    parts = [(red + green + blue) / 3 + 12, (red + 12) / (green + 12), (blue + 12) / (green + 12)]
    return np.stack([np.log(part) for part in parts], axis=-1)


def median_of_nine(picture: Floats) -> Floats:
    """The median of each pixel and its eight neighbours, of a picture (h, w) or (h, w, 3); its rim is mirrored.

    By exchanges of whole pictures (Paeth 1990, "Median finding on a 3 × 3 grid"): sorted threes, then the middle of the
    greatest least, the middle middle and the least greatest.
    """
    padded = np.pad(picture, [(1, 1), (1, 1)] + [(0, 0)] * (picture.ndim - 2), mode="symmetric")
    low, middle, high = _sorted_three(padded[:-2], padded[1:-1], padded[2:])
    least = np.maximum(np.maximum(low[:, :-2], low[:, 1:-1]), low[:, 2:])
    most = np.minimum(np.minimum(high[:, :-2], high[:, 1:-1]), high[:, 2:])
    return _sorted_three(least, _sorted_three(middle[:, :-2], middle[:, 1:-1], middle[:, 2:])[1], most)[1]


def _sorted_three(a: Floats, b: Floats, c: Floats) -> tuple[Floats, Floats, Floats]:
    """Three pictures' values, least, middle and greatest."""
    low, high = np.minimum(a, b), np.maximum(a, b)
    return np.minimum(low, c), np.maximum(low, np.minimum(high, c)), np.maximum(high, c)


def parting_level(values: NDArray[Any]) -> float:
    """The level that parts values (n,), which differ, into two groups as unlike as can be (Otsu 1979; 256 classes)."""
    counts, edges = np.histogram(values, bins=256)
    middles = (edges[1:] + edges[:-1]) / 2
    below, sums = np.cumsum(counts)[:-1], np.cumsum(counts * middles)[:-1]
    above, rest = len(values) - below, float(counts @ middles) - sums
    apart = below * above * (sums / below - rest / above) ** 2
    return float(middles[int(np.argmax(apart))])


_TO_XYZ = np.array(
    [[0.412453, 0.357580, 0.180423], [0.212671, 0.715160, 0.072169], [0.019334, 0.119193, 0.950227]]
)
_WHITE = np.array([0.95047, 1.0, 1.08883])
"""Of the colours of a screen (ITU-R BT.709), and white in daylight (D65)."""


def lab_colours(picture: NDArray[np.uint8]) -> Floats:
    """CIELAB (h, w, 3) of an sRGB picture (h, w, 3): lightness 0 to 100, green to red, blue to yellow.

    IEC 61966-2-1 for sRGB, CIE 15 for the rest.
    """
    levels = np.arange(256) / 255
    linear = np.where(levels > 0.04045, ((levels + 0.055) / 1.055) ** 2.4, levels / 12.92)
    light = linear.astype(np.float32)[picture] @ (_TO_XYZ / _WHITE[:, None]).T.astype(np.float32)
    roots = np.where(light > 0.008856, np.cbrt(light), np.float32(7.787) * light + np.float32(16 / 116))
    x, y, z = np.moveaxis(roots, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


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
