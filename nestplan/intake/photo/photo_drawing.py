"""Lines and words drawn over a photograph, to look at before anything is taken, and its picture written."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.storage import write_atomically

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["Color", "PhotoDrawing"]

Color = tuple[int, int, int]
"""Red, green and blue, 0 to 255."""


class PhotoDrawing:
    """A drawing over `image` (h, w, 3) uint8; places are pixels (column, row) of it, lines `line_width` wide."""

    def __init__(self, image: NDArray[np.uint8], *, line_width: int) -> None:
        from PIL import Image, ImageDraw

        self._picture = Image.fromarray(image)
        self._pen = ImageDraw.Draw(self._picture)
        self.line_width = line_width
        self._letters = max(14, self._picture.width // 70)

    def ring(self, places: ArrayLike, color: Color) -> None:
        """A closed line through `places` (n, 2)."""
        spots = np.asarray(places, dtype=np.float64)
        closed = [(float(x), float(y)) for x, y in np.vstack([spots, spots[:1]])]
        self._pen.line(closed, fill=color, width=self.line_width, joint="curve")

    def words(self, at: tuple[float, float], words: str, color: Color, *, centered: bool = False) -> None:
        """Words that begin at a place, or have their middle there."""
        self._pen.text(at, words, fill=color, font_size=self._letters, anchor="mm" if centered else None)

    def write(self, path: str | Path) -> None:
        """Write the picture, whole or not at all; its format follows the file's ending (PNG, JPEG).

        Raises InputError if it cannot be written.
        """
        from PIL import Image

        path = Path(path)
        stream = io.BytesIO()
        try:
            kind = Image.registered_extensions().get(path.suffix.lower())
            if kind is None:
                raise ValueError(f"unknown file extension: {path.suffix}")
            self._picture.save(stream, kind)
        except (OSError, ValueError) as fault:
            raise InputError(
                f"The picture cannot be written ({fault}).", mend="Name a .png or .jpg file.", file=str(path)
            ) from None
        write_atomically(path, stream.getvalue())
