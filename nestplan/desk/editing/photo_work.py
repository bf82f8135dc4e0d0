"""From a photograph to a hide on the table: the steps of `nestplan.intake` in a row, with a picture to lie under it.

No Qt here. What the steps do is told where they live; this file only calls them, keeps the straightened
picture where the window can find it again, and makes the hide.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nestplan.desk.document.document import Photo
from nestplan.model.hide import Hide

__all__ = ["Taken", "found_corners", "take_hide"]

ReferenceCorners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Taken:
    """What a photograph gave: the hide, the picture under it, and what to tell."""

    hide: Hide
    photo: Photo
    words: str


def found_corners(file: str, size: tuple[float, float]) -> tuple[ReferenceCorners, float]:
    """The corners of the sheet or board of `size` mm, in pixels of the file, and pixels of the file to one of
    the picture read. Errors: InputError where it is not found."""
    from nestplan.intake.photo.reading import read_photo
    from nestplan.intake.photo.reference import find_reference

    photo = read_photo(file)
    corners = find_reference(photo, size)
    return tuple(
        (float(x) * photo.reduction, float(y) * photo.reduction) for x, y in corners.seen
    ), photo.reduction


def take_hide(
    file: str,
    corners: Sequence[tuple[float, float]],
    size: tuple[float, float],
    *,
    name: str,
    leather: str,
    flaws: bool,
    folder: Path,
    tell: Callable[[str], None],
    cancelled: Callable[[], bool],
) -> Taken:
    """The hide in a photograph whose reference has its four corners (pixels of the file) at `corners`.

    With `flaws`, places that look spoiled are marked for the user to judge. The straightened picture is kept in
    `folder`. Errors: InputError, Cancelled.
    """
    from nestplan.intake.photo.flaws import FlawSuggestion, suggest_flaws
    from nestplan.intake.photo.outline import find_outline
    from nestplan.intake.photo.reading import read_photo
    from nestplan.intake.photo.rectification import rectify
    from nestplan.intake.photo.reference import assign_corners, refine_corners
    from nestplan.intake.photo.to_model import hide_from_photo

    tell("reading the picture")
    photo = read_photo(file)
    marked = np.asarray(corners, dtype=np.float64) / photo.reduction
    refined = refine_corners(photo, marked)
    near = refined is not None and float(np.abs(_matched(refined[0], marked)).max()) < 0.05 * max(photo.size)
    if refined is not None and near:
        seated = assign_corners(refined[0], size, photo, standard_error=refined[1], sides=refined[2])
    else:
        seated = assign_corners(marked, size, photo, standard_error=2.0)
    tell("drawing it as seen from above")
    straight = rectify(photo, seated)
    found = find_outline(straight, progress=lambda _, words: tell(words), cancelled=cancelled)
    suggested: tuple[FlawSuggestion, ...] = ()
    if flaws:
        tell("looking for flaws")
        suggested = suggest_flaws(straight, found, cancelled=cancelled)
    hide = hide_from_photo(straight, found, name=name, leather=leather, flaws=suggested, file=Path(file).name)
    low = np.asarray(found.exterior).min(axis=0)
    words = (
        f"Lengths are good to about {hide.origin.scale_error:.1%}; the outline to {found.tolerance:.1f} mm."
    )
    if hide.flaws:
        words += (
            f" {len(hide.flaws)} places look spoiled: look at each on the leather, take away what is sound."
        )
    if found.border_share > 0.02:
        words += (
            f" {found.border_share:.0%} of the edge runs along the picture's border: there the hide goes on."
        )
    return Taken(hide, _kept(straight, file, low, folder), words)


def _kept(straight: object, file: str, low: np.ndarray, folder: Path) -> Photo:
    """The straightened picture as a file, and its matrix from pixels to the hide's mm."""
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    mark = hashlib.sha256(f"{Path(file).resolve()}".encode() + straight.image.tobytes()).hexdigest()[:16]
    target = folder / f"{mark}.png"
    if not target.exists():
        Image.fromarray(straight.image).save(target)
    step = float(straight.mm_per_pixel)
    (x0, y0) = straight.origin
    # Pixel centres lie at whole numbers in the picture, half a pixel further where it is drawn.
    return Photo(
        str(target),
        tuple(map(float, (step, 0, x0 - low[0] - step / 2, 0, -step, y0 - low[1] + step / 2, 0, 0, 1))),
    )


def _matched(found: np.ndarray, marked: np.ndarray) -> np.ndarray:
    """For each marked corner the way to the nearest found one, pixels."""
    apart = found[None, :, :] - marked[:, None, :]
    nearest = np.hypot(apart[..., 0], apart[..., 1]).argmin(axis=1)
    return apart[np.arange(len(marked)), nearest]
