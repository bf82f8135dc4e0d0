"""Reading a photograph: what the file holds, turned upright, as an array, refused early if it cannot serve.

Not here: finding the reference (reference), the camera and true scale (camera, rectification), the hide (outline).
Pictures come from strangers' phones: the size is checked from the header before a pixel is decoded.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.picture_file import MOST_PIXELS, opened_picture

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LIBRARIES_NEEDED_NEXT", "MOST_PIXELS", "Photo", "read_photo"]

ENOUGH_PIXELS = 16_000_000
"""Finer pictures are halved while they are read: an outline gains nothing from more."""
LEAST_SIDE = 300
"""Too small to place an edge to a few millimetres."""

LIBRARIES_NEEDED_NEXT = ("scipy.ndimage", "skimage.measure")
"""What every later step wants; loading them takes as long as decoding a fine picture does."""
_EXIF_SUB, _FOCAL_35MM, _EXIF_ORIENTATION = 0x8769, 0xA405, 0x0112


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture: `image` (h, w, 3) uint8 sRGB; pixel centres lie at whole numbers, y runs down.

    `reduction` says how many pixels of the file stand behind one of `image` (1, 2, 4 …). `focal` is the lens's
    focal length in pixels of `image` where the file tells it (EXIF 35 mm equivalent), else None.
    """

    image: NDArray[np.uint8]
    name: str = ""
    reduction: float = 1.0
    focal: float | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of `image` in pixels."""
        return self.image.shape[1], self.image.shape[0]


def read_photo(path: str | Path) -> Photo:
    """The photograph in a file, turned upright by its EXIF orientation.

    JPEG, PNG, TIFF, WebP and BMP are read.

    Raises InputError if the file is missing, no picture, cut off,
    too small or larger than `MOST_PIXELS`, animated, or shows one colour only.
    """
    from PIL import ImageOps

    path = Path(path)
    # The decoder leaves the interpreter free, so libraries load meanwhile. All are there when this returns: two
    # threads that load parts of one library may wait for each other.
    with ThreadPoolExecutor(max_workers=1) as loader, opened_picture(path) as picture:
        _check_size(picture.size, path.name)
        _check_still(picture, path.name)
        loader.map(import_module, LIBRARIES_NEEDED_NEXT)
        focal = _focal_in_diagonals(picture)
        read, reduction = _reduced(picture)
        # In place, for a copy of a large picture is tens of megabytes.
        ImageOps.exif_transpose(read, in_place=True)
        image = _as_rgb(read, _brightest(read))
    step = max(1, min(image.shape[:2]) // 200)
    if np.ptp(image[::step, ::step].reshape(-1, 3), axis=0).max() < 12:
        raise InputError(
            "The picture shows one colour only.",
            mend="Photograph the hide with floor on all sides and the reference beside it, in even light.",
            file=path.name,
        )
    diagonal = float(np.hypot(*image.shape[:2]))
    return Photo(image, path.name, reduction, None if focal is None else focal * diagonal)


def _check_still(picture: Any, name: str) -> None:
    """Nothing, if the file holds one picture; a phone's JPEG may hold smaller ones of the same thing (MPO)."""
    count = int(getattr(picture, "n_frames", 1))
    if count > 1 and picture.format not in ("JPEG", "MPO"):
        raise InputError(
            f"The file holds {count} pictures, animated or as pages.",
            mend="Save the one that shows the hide as a JPEG of its own.",
            file=name,
        )


def _check_size(size: tuple[int, int], name: str) -> None:
    width, height = size
    if min(width, height) < LEAST_SIDE:
        raise InputError(
            f"The picture is only {width} × {height} pixels.",
            mend=f"Take one of at least {LEAST_SIDE} pixels a side; 8 to 16 million pixels in all serve best.",
            file=name,
        )


def _reduced(picture: Any) -> tuple[Any, float]:
    """A very fine picture halved, once or more; with how many pixels of the file stand behind one, along a side."""
    from PIL import JpegImagePlugin

    width, height = picture.size
    factor = 1
    while width * height / factor**2 > ENOUGH_PIXELS:
        factor *= 2
    if factor == 1:
        return picture, 1.0
    if isinstance(picture, JpegImagePlugin.JpegImageFile):
        # Its decoder halves by itself.
        picture.draft("RGB", (width // factor, height // factor))
        return picture, float(width / picture.size[0])
    return _halved_in_bands(picture, factor), float(factor)


def _halved_in_bands(picture: Any, factor: int) -> Any:
    """The picture in RGB at one `factor`-th of its size; band by band, so that no large copy of it is made."""
    from PIL import Image

    width, height = picture.size
    brightest, rows = _brightest(picture), 256 * factor
    bands = []
    for top in range(0, height, rows):
        band = picture.crop((0, top, width, min(top + rows, height)))
        bands.append(np.asarray(Image.fromarray(_as_rgb(band, brightest)).reduce(factor)))
    made = Image.fromarray(np.concatenate(bands))
    made.getexif()[_EXIF_ORIENTATION] = picture.getexif().get(_EXIF_ORIENTATION, 1)
    return made


def _focal_in_diagonals(picture: object) -> float | None:
    """Focal length over the picture's diagonal from EXIF's 35 mm equivalent (36 × 24 mm, diagonal 43.27 mm)."""
    try:
        exif = picture.getexif().get_ifd(_EXIF_SUB)  # type: ignore[attr-defined]
        focal = float(exif.get(_FOCAL_35MM, 0))
    except Exception:
        # EXIF is a stranger's writing and only a hint: anything wrong in it means no hint.
        return None
    return focal / 43.27 if 8 <= focal <= 300 else None


def _brightest(picture: Any) -> float:
    """What stands for white in a picture of more than eight bits a colour; 255 in any other."""
    if not picture.mode.startswith(("I", "F")):
        return 255.0
    return 65535.0 if picture.getextrema()[1] > 255 else 255.0


def _as_rgb(picture: Any, brightest: float) -> NDArray[np.uint8]:
    from PIL import Image

    if picture.mode.startswith(("I", "F")):
        values = np.asarray(picture, dtype=np.float32)
        grey = (np.clip(values / brightest, 0, 1) * 255).astype(np.uint8)
        return np.repeat(grey[..., None], 3, axis=2)
    if picture.mode in ("RGBA", "LA", "PA", "P"):
        solid = picture.convert("RGBA")
        ground = Image.new("RGBA", solid.size, (255, 255, 255, 255))
        return np.asarray(Image.alpha_composite(ground, solid).convert("RGB"))
    return np.asarray(picture if picture.mode == "RGB" else picture.convert("RGB"))
