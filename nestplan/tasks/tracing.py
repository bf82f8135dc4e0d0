"""A hide from a photograph: its scale read, the outline followed, flaws suggested, the hide made."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.errors import InputError
from nestplan.storage import real_path, write_atomically
from nestplan.tasks.contents import HidePhoto

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestplan.intake.photo.flaws import FlawSuggestion, FoundFlaws
    from nestplan.intake.photo.outline import Outline
    from nestplan.intake.photo.reading import Photo
    from nestplan.intake.photo.rectification import RectifiedPhoto
    from nestplan.intake.photo.reference_corners import ReferenceCorners
    from nestplan.model.hide import Hide

__all__ = [
    "CLICK_TOLERANCE",
    "PATTERN_WORDS",
    "ClickedSheet",
    "FoundSheet",
    "PrintedMarks",
    "Scale",
    "SheetInPhoto",
    "TracedPhoto",
    "TwoPoints",
    "brushed",
    "find_marks",
    "find_sheet",
    "floor_of_place",
    "hide_of_photo",
    "keep_straight_picture",
    "place_in_photo",
    "place_of_floor",
    "require_accepted",
    "require_another_file",
    "sheet_corners",
    "straightened",
    "suggested_flaws",
    "trace_photo",
    "write_photo_marks",
    "write_trace_picture",
]

Pixel = tuple[float, float]
"""A place in a photograph's file: pixels to the right and down from the upper left of the upright photo."""

PATTERN_WORDS = (
    "This leather is spotted or of two tones: marks of its pattern are not listed, and flaws that look like them may "
    "be missed. Look it over by hand."
)
"""Said once of leather whose own pattern was passed over."""

CLICK_TOLERANCE = 0.02
"""How far a clicked corner may be moved onto the sheet's edges, as a share of the picture's longer side."""


@dataclass(frozen=True)
class FoundSheet:
    """The scale from a sheet or board of `size` mm that is looked for, or from several."""

    size: tuple[float, float]


@dataclass(frozen=True)
class ClickedSheet:
    """The scale from a sheet or board of `size` mm whose four corners were clicked.

    `tolerance` is how far they may be moved onto its edges, as a share of the picture's longer side.
    """

    size: tuple[float, float]
    corners: Sequence[Pixel]
    tolerance: float = CLICK_TOLERANCE


@dataclass(frozen=True)
class TwoPoints:
    """The scale from two points `apart` mm, in a photograph from straight above."""

    start: Pixel
    end: Pixel
    apart: float


@dataclass(frozen=True)
class PrintedMarks:
    """The scale from the printed marks round the hide."""


@dataclass(frozen=True)
class SheetInPhoto:
    """Where the four corners of a sheet are seen in a photograph, and those of others of its size."""

    corners: tuple[Pixel, ...]
    others: tuple[tuple[Pixel, ...], ...] = ()


Scale = FoundSheet | ClickedSheet | TwoPoints | PrintedMarks
"""What gives a photograph its scale."""


@dataclass(frozen=True)
class TracedPhoto:
    """A photograph, what gave it its `scale`, the floor in it as seen from straight above, and the hide's outline."""

    photo: Photo
    scale: Scale
    straight: RectifiedPhoto
    outline: Outline


def find_sheet(file: str | Path, size: tuple[float, float]) -> SheetInPhoto:
    """Where the sheet or board of `size` mm is seen, and others of that size.

    Raises InputError if it is not found.
    """
    from nestplan.intake.photo.reading import read_photo
    from nestplan.intake.photo.reference import find_reference

    photo = read_photo(file)
    found = find_reference(photo, size)
    return SheetInPhoto(
        _in_file(found.seen, photo), tuple(_in_file(other.seen, photo) for other in found.others)
    )


def find_marks(file: str | Path) -> tuple[tuple[Pixel, ...], ...]:
    """Where the corners of the printed marks are seen.

    Raises InputError if fewer than two are found.
    """
    from nestplan.intake.photo.markers import find_markers
    from nestplan.intake.photo.reading import read_photo

    photo = read_photo(file)
    return tuple(_in_file(ring, photo) for ring in find_markers(photo)[0])


def _in_file(seen: NDArray[np.float64], photo: Photo) -> tuple[Pixel, ...]:
    """Places in the picture read (n, 2) as places in the file, which may be larger."""
    return tuple((float(x) * photo.reduction, float(y) * photo.reduction) for x, y in seen)


def trace_photo(
    photo: Photo,
    scale: Scale,
    *,
    before: TracedPhoto | None = None,
    on_hide: Sequence[Pixel] = (),
    on_floor: Sequence[Pixel] = (),
    tolerance: float | None = None,
    on_step: Callable[[str], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> TracedPhoto:
    """The hide's outline in a photograph; `before` is what that gave before: at the same scale it is not drawn anew.

    `on_hide` and `on_floor` are places that the user knows; `tolerance` (mm) is how far the outline may stray.
    `on_step` is told in words what is being done.

    Raises InputError if the scale or a hide is not found, Cancelled if `cancelled` says so.
    """
    from nestplan.intake.photo.outline import find_outline

    tell = on_step or (lambda _words: None)
    if before is not None and before.scale == scale:
        straight = before.straight
    else:
        tell("drawing it as seen from above")
        straight = straightened(photo, scale)
    on_hide_mm, on_floor_mm = (_on_floor(straight, photo, places) for places in (on_hide, on_floor))
    outline = find_outline(
        straight,
        hide_seeds=on_hide_mm,
        floor_seeds=on_floor_mm,
        tolerance=tolerance,
        progress=lambda _share, words: tell(words),
        cancelled=cancelled,
    )
    return TracedPhoto(photo, scale, straight, outline)


def straightened(photo: Photo, scale: Scale) -> RectifiedPhoto:
    """The photograph as seen from straight above, at the scale that is given.

    Raises InputError if the scale is not found in it.
    """
    from nestplan.intake.photo.rectification import corners_from_two_points, rectify

    if isinstance(scale, PrintedMarks):
        from nestplan.intake.photo.markers import rectify_by_markers

        return rectify_by_markers(photo)
    if isinstance(scale, TwoPoints):
        start, end = (_shrunk(point, photo) for point in (scale.start, scale.end))
        return rectify(photo, corners_from_two_points(start, end, scale.apart, photo), upright=True)
    return rectify(photo, sheet_corners(photo, scale))


def sheet_corners(photo: Photo, scale: FoundSheet | ClickedSheet) -> ReferenceCorners:
    """The corners of the sheet that gives a photograph its scale.

    Raises InputError if it is not found.
    """
    from nestplan.intake.photo.reference import corners_from_clicks, find_reference

    if isinstance(scale, FoundSheet):
        return find_reference(photo, scale.size)
    clicked = [_shrunk(point, photo) for point in scale.corners]
    return corners_from_clicks(photo, clicked, scale.size, tolerance=scale.tolerance)


def _shrunk(point: Pixel, photo: Photo) -> Pixel:
    """A place in the file as a place in the picture read, which may be smaller."""
    return point[0] / photo.reduction, point[1] / photo.reduction


def _on_floor(straight: RectifiedPhoto, photo: Photo, places: Sequence[Pixel]) -> list[tuple[float, float]]:
    if not places:
        return []
    floor = straight.floor_points([_shrunk(place, photo) for place in places])
    return [(float(x), float(y)) for x, y in floor]


def place_in_photo(traced: TracedPhoto, ring: NDArray[np.float64]) -> Pixel:
    """The middle of a ring on the floor (mm) as a place in the photograph's file."""
    x, y = ring.mean(axis=0)
    return place_of_floor(traced, (float(x), float(y)))


def place_of_floor(traced: TracedPhoto, at: tuple[float, float]) -> Pixel:
    """A place on the floor (mm) as one in the photograph's file."""
    (place,) = _in_file(traced.straight.photo_points([at]), traced.photo)
    return place


def floor_of_place(traced: TracedPhoto, place: Pixel) -> tuple[float, float]:
    """A place in the photograph's file as one on the floor, mm."""
    (at,) = _on_floor(traced.straight, traced.photo, [place])
    return at


def require_accepted(traced: TracedPhoto, accepted: bool) -> None:
    """Nothing, if the outline is sound as far as it can be checked, or its warnings were accepted.

    Raises InputError otherwise: a hide that may be wrong is not written unasked.
    """
    count = len(traced.outline.warnings)
    if count and not accepted:
        raise InputError(
            f"The outline may be wrong, for {count} reason{'s' * (count != 1)} told above; no hide was written.",
            mend="Look at it in the picture of what was found, mend what is told, or write it as it is all the same.",
            file=traced.photo.name,
        )


def brushed(
    traced: TracedPhoto, stroke: Sequence[tuple[float, float]], width: float, *, grows: bool
) -> TracedPhoto:
    """The photograph with its outline grown or cut back by a stroke (mm on the floor) of a brush `width` mm wide.

    Raises InputError if a stroke that grows lies apart from the hide, or nothing is left of it.
    """
    from nestplan.intake.photo.brush import brushed_outline

    return replace(traced, outline=brushed_outline(traced.outline, stroke, width, grows=grows))


def suggested_flaws(traced: TracedPhoto, *, cancelled: Callable[[], bool] | None = None) -> FoundFlaws:
    """Places that look spoiled, for the user to judge, and whether the leather's own pattern was passed over.

    Raises Cancelled if `cancelled` says so.
    """
    from nestplan.intake.photo.flaws import find_flaws

    return find_flaws(traced.straight, traced.outline, cancelled=cancelled)


def hide_of_photo(
    traced: TracedPhoto,
    *,
    name: str,
    leather: str,
    flaws: Sequence[FlawSuggestion] = (),
    date: str = "",
    file: str = "",
) -> Hide:
    """The hide that was traced, with the flaws that were taken."""
    from nestplan.intake.photo.to_model import hide_from_photo

    kinds = [warning.kind for warning in traced.outline.warnings]
    return hide_from_photo(
        traced.straight,
        traced.outline,
        name=name,
        leather=leather,
        flaws=flaws,
        date=date,
        file=file,
        note=f"warned of: {', '.join(kinds)}" if kinds else "",
    )


def write_trace_picture(path: Path, traced: TracedPhoto, flaws: Sequence[FlawSuggestion]) -> None:
    """Write what was found over the photograph.

    Raises InputError if the file cannot be written.
    """
    from nestplan.intake.photo import preview

    preview.write_trace_picture(path, traced.straight, traced.outline, tuple(flaws))


def keep_straight_picture(traced: TracedPhoto, file: str, folder: Path) -> HidePhoto:
    """Write the floor as seen from above into `folder`, under a name made from `file` and the picture itself.

    Gives that picture as it lies under the hide. A picture that is there already is not written again.

    Raises OSError or InputError if the folder cannot be written.
    """
    from PIL import Image

    straight = traced.straight
    folder.mkdir(parents=True, exist_ok=True)
    mark = hashlib.sha256(f"{real_path(file)}".encode() + straight.image.tobytes()).hexdigest()[:16]
    target = folder / f"{mark}.png"
    if not target.exists():
        picture = io.BytesIO()
        Image.fromarray(straight.image).save(picture, "PNG")
        write_atomically(target, picture.getvalue())
    step = float(straight.mm_per_pixel)
    (x0, y0), (left, low) = straight.origin, traced.outline.exterior.min(axis=0)
    # Pixel centres lie at whole numbers in the picture, half a pixel further where it is drawn.
    matrix = (step, 0, x0 - left - step / 2, 0, -step, y0 - low + step / 2, 0, 0, 1)
    return HidePhoto(str(target), tuple(map(float, matrix)))


def write_photo_marks(path: Path, *, paper: str) -> None:
    """Write the marks to lay round a hide, as a PDF.

    Raises InputError if the paper is not known or the file cannot be written.
    """
    from nestplan.intake.photo.markers import MARKERS_WANTED, marker_rings
    from nestplan.sheets import photo_marks

    photo_marks.write_photo_marks(path, marker_rings(), count=MARKERS_WANTED, paper=paper)


def require_another_file(source: Path, picture: Path | None) -> None:
    """Nothing, if what was found can be written to `picture`.

    Raises InputError if that is the photograph itself.
    """
    if picture is not None and source.exists() and picture.exists() and picture.samefile(source):
        raise InputError(
            "This is the photograph itself.",
            file=str(picture),
            mend="Choose another name.",
        )
