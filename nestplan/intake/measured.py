"""A hide from a tape measure: its length, a few widths and its area fitted to the usual shape of its kind.

For planning before buying and for estimates; a traced outline is always better. The shapes themselves, and
where their figures come from, are in `nestplan.model.anatomy`.
"""

from __future__ import annotations

from collections.abc import Sequence

from nestplan.errors import InputError
from nestplan.geometry.units import MM2_PER_FT2, show_length
from nestplan.model.anatomy import ANATOMY, HideTemplate
from nestplan.model.hide import Hide, Origin, Region
from nestplan.model.tape_shape import hide_template
from nestplan.model.values import as_points

__all__ = ["HIDE_KINDS", "measured_hide"]

_ALSO = {
    "side": "cow-side",
    "hide": "cow-hide",
    "shoulder": "double-shoulder",
    "calf skin": "calf",
    "sheep skin": "sheep",
    "goat skin": "goat",
    "deer skin": "deer",
    "pig skin": "pig",
}

_AGREE = 0.01
"""Share by which the area of the tape and the seller's may differ without a word: a mark is rounded."""

HIDE_KINDS: dict[str, str] = {kind: each.words for kind, each in ANATOMY.items()}
"""The kinds of hide there is a template for, and what each is called."""


def measured_hide(
    kind: str,
    *,
    name: str,
    length: float | None = None,
    widths: Sequence[tuple[float, float]] = (),
    area: float | None = None,
    leather: str = "",
    thickness: tuple[float, float] | None = None,
    price: float | None = None,
    currency: str = "",
) -> Hide:
    """A hide of a kind with the outline, regions and stretch usual for it, fitted to what was measured.

    `length` in mm along the backbone and `widths` as (distance from the rear edge, full width) in mm are kept to
    the millimetre; `area` in mm², the seller's figure, fills in what was not taped and is kept as the stated area;
    where the tape leaves too little to fill, the origin's note says both. What is not given is usual for the kind.
    The hide lies with its backbone along x and its rear at x = 0.

    Raises InputError for an unknown kind, figures that cannot be, or a kind without a usual area (goat, deer:
    no published figure was found) when neither area nor length is given.
    """
    key = _ALSO.get(kind.strip().lower(), kind.strip().lower().replace(" ", "-"))
    if area is not None and not area >= 0.01 * MM2_PER_FT2:
        raise InputError(
            f"An area of {area / MM2_PER_FT2:.3g} ft² is no hide's.",
            mend="Check the figure and its unit.",
            place="area",
        )
    if length is not None and not length >= 50.0:
        raise InputError(
            f"A length of {length:g} mm is no hide's.", mend="Check the figure and its unit.", place="length"
        )
    shape = hide_template(key, length=length, area=area, widths=widths)
    words = ANATOMY[key].words.split(",")[0]
    return Hide(
        name=name,
        leather=leather or words,
        outline=as_points(shape.ring),
        regions=tuple(
            Region(name=zone.name, outline=as_points(zone.ring), firmness=zone.firmness, stretch=zone.stretch)
            for zone in shape.regions
        ),
        backbone=shape.backbone,
        thickness=thickness,
        stated_area=area,
        price=price,
        currency=currency,
        origin=Origin(how="measured", note=_told(words, shape, length, widths, area)),
    )


def _told(
    words: str,
    shape: HideTemplate,
    length: float | None,
    widths: Sequence[tuple[float, float]],
    area: float | None,
) -> str:
    given = [f"length {show_length(length)}"] if length is not None else []
    given += [f"{len(widths)} width{'s' if len(widths) > 1 else ''}"] if widths else []
    given += [f"area {area / MM2_PER_FT2:.2f} ft²"] if area is not None else []
    told = (
        f"the usual shape of a {words}, fitted to {', '.join(given) or 'its usual size'}; no hide was traced"
    )
    if area is not None and abs(shape.area / area - 1.0) > _AGREE:
        taped, stated = (f"{each / MM2_PER_FT2:.2f} ft²" for each in (shape.area, area))
        told += f"; your tape gives {taped}, the seller says {stated}"
    return told
