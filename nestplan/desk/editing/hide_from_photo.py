"""From a photograph to a hide on the table, with the straightened picture to lie under it, and what to tell."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.model.hide import Hide
from nestplan.tasks.contents import HidePhoto
from nestplan.tasks.tracing import (
    Scale,
    TracedPhoto,
    hide_of_photo,
    keep_straight_picture,
    suggested_flaws,
    trace_photo,
)

if TYPE_CHECKING:
    from nestplan.intake.photo.flaws import FlawSuggestion

__all__ = ["PhotoHide", "PhotoOutline", "hide_of_outline", "outline_from_photo"]


@dataclass(frozen=True)
class PhotoOutline:
    """An outline in a photograph and the flaws suggested or, once a person has looked at them, accepted."""

    traced: TracedPhoto
    flaws: tuple[FlawSuggestion, ...]
    file: str
    patterned: bool = False


@dataclass(frozen=True)
class PhotoHide:
    """What a photograph gave: the hide, the picture under it, and what to tell."""

    hide: Hide
    photo: HidePhoto
    words: str


def outline_from_photo(
    file: str,
    scale: Scale,
    *,
    flaws: bool,
    before: TracedPhoto | None = None,
    on_hide: Sequence[tuple[float, float]] = (),
    on_floor: Sequence[tuple[float, float]] = (),
    tell: Callable[[str], None],
    cancelled: Callable[[], bool],
) -> PhotoOutline:
    """The hide's outline in a photograph that has its scale from `scale`; `before` is what it gave before: the file is
    not read again.

    `on_hide` and `on_floor` are places (pixels of the file) that a person has called so. With `flaws`, places that
    look spoiled are found for the user to judge.

    Raises InputError if no hide is found, Cancelled if `cancelled` says so.
    """
    from nestplan.intake.photo.reading import read_photo

    if before is None:
        tell("reading the picture")
    traced = trace_photo(
        read_photo(file) if before is None else before.photo,
        scale,
        before=before,
        on_hide=on_hide,
        on_floor=on_floor,
        on_step=tell,
        cancelled=cancelled,
    )
    if not flaws:
        return PhotoOutline(traced, (), file)
    tell("looking for flaws")
    suggested = suggested_flaws(traced, cancelled=cancelled)
    return PhotoOutline(traced, suggested.places, file, suggested.patterned)


def hide_of_outline(found: PhotoOutline, *, name: str, leather: str, folder: Path) -> PhotoHide:
    """The hide of an outline and the flaws that a person has looked at.

    Flaws that lie outside it are left out. The straightened picture is kept in `folder`.

    Raises OSError or InputError if the picture cannot be written there.
    """
    import shapely

    traced = found.traced
    shape = shapely.Polygon(traced.outline.exterior)
    inside = [
        flaw for flaw in found.flaws if shape.contains(shapely.Polygon(flaw.ring).representative_point())
    ]
    hide = hide_of_photo(traced, name=name, leather=leather, flaws=inside, file=Path(found.file).name)
    return PhotoHide(hide, keep_straight_picture(traced, found.file, folder), _words(hide, traced))


def _words(hide: Hide, traced: TracedPhoto) -> str:
    """How good the outline is."""
    error = hide.origin.scale_error if hide.origin is not None else None
    return f"Lengths are good to about {error or 0.0:.1%}; the outline to {traced.outline.tolerance:.1f} mm."
