"""A hide's shape from tape figures: what was taped is kept, the rest is usual for its kind.

Length and widths are the tape's, to the millimetre. Widths across the broad part set the scale of the whole; where
others differ from the usual shape, the shape bends towards them near by and no farther. A seller's area fills in only
what was not taped; where it cannot, it stands beside the area that the tape gives.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model.anatomy import (
    Anatomy,
    HideTemplate,
    family_of,
    hide_template_from_profile,
    profile_through,
)

__all__ = ["hide_template"]

Values = NDArray[np.float64]

_STATIONS = 121
"""Even places along the hide at which its width is set, beside the taped ones."""
_REACH = 0.25
"""Share of the length over which a width that is not usual fades into the usual shape."""
_FILL_REACH = 0.12
"""Share of the length from a taped width at which the seller's area may change a width by as much as it likes."""
_MOST_FILLED = 0.35
"""Share by which the seller's area may change widths that were not taped, where others were."""
_BROAD = 0.6
"""Widths taped where the usual shape has this share of its greatest width tell how large the hide is."""
_SAME_PLACE = 1.0
"""mm within which two widths are at one place, or are the same width."""
_ROUNDS = 60


def hide_template(
    kind: str,
    *,
    length: float | None = None,
    area: float | None = None,
    widths: Sequence[tuple[float, float]] = (),
) -> HideTemplate:
    """The usual hide of a kind, fitted to what is known of one.

    `length` in mm along the backbone; `widths` are (distance from the rear edge, full width) in mm as a tape reads
    them; both are kept. `area` in mm² scales widths that were not taped, and where no length was taped the length;
    the template's own area may differ from it where the tape leaves too little to scale. Without length and area the
    hide has the length usual for its kind.

    Raises InputError for an unknown kind, figures that are not positive or larger than any of the kind, widths off
    the hide, two different widths at one place, or a kind without a usual size when no size is given.
    """
    family = family_of(kind)
    taped = _checked_widths(family, widths)
    _check_size(family, length, area)
    if length is None:
        length = _length_from(family, area, taped)
        if area is None and not taped and family.length is not None:
            area = family.area
    elif taped and taped[-1][0] > length:
        raise _off_the_hide(length)
    stations, half = _tape_profile(family, length, taped)
    if area is not None:
        half = _filled(half, stations, family, length, taped, area)
    left = half if family.both_sides else np.zeros_like(half)
    return hide_template_from_profile(kind, stations * length, half, left)


def _check_size(family: Anatomy, length: float | None, area: float | None) -> None:
    for name, value in (("length", length), ("area", area)):
        if value is not None and not (np.isfinite(value) and value > 0.0):
            raise InputError(
                f"The {name} of a hide is {value}.", mend="Give a figure above zero.", place=name
            )
    if length is not None and length > family.longest:
        raise InputError(
            f"A length of {length:.0f} mm is no {_short(family)}'s; the longest is about {family.longest:.0f} mm.",
            mend="Check the figure and its unit.",
            place="length",
        )
    largest = _usual_area(family) * family.longest**2
    if area is not None and area > largest:
        raise InputError(
            f"An area of {area / MM2_PER_FT2:.3g} ft² is no {_short(family)}'s; the largest is about "
            f"{largest / MM2_PER_FT2:.0f} ft².",
            mend="Check the figure and its unit.",
            place="area",
        )


def _checked_widths(family: Anatomy, widths: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The widths by rising distance, one at each place."""
    widest = 1.5 * family.sides * max(share for _, share in family.profile) * family.longest
    kept: list[tuple[float, float]] = []
    for place, width in sorted(widths):
        if not (np.isfinite(place) and place >= 0.0 and np.isfinite(width) and width > 0.0):
            raise InputError(
                "A measured width lies off the hide, or is not above zero.",
                mend="Give (distance from the rear edge, width) in mm.",
                place="widths",
            )
        if place > family.longest:
            raise _off_the_hide(family.longest)
        if width > widest:
            raise InputError(
                f"A width of {width:.0f} mm is no {_short(family)}'s; the widest is about {widest:.0f} mm.",
                mend="Check the figure and its unit.",
                place="widths",
            )
        if not kept or place - kept[-1][0] > _SAME_PLACE:
            kept.append((place, width))
        elif abs(width - kept[-1][1]) > _SAME_PLACE:
            raise InputError(
                f"Two widths are given at {place:.0f} mm: {kept[-1][1]:.0f} and {width:.0f} mm.",
                mend="Keep the one that the tape reads.",
                place="widths",
            )
    return kept


def _short(family: Anatomy) -> str:
    return family.words.split(",")[0]


def _off_the_hide(length: float) -> InputError:
    return InputError(
        f"A measured width lies off the hide, which is {length:.0f} mm long.",
        mend="Give (distance from the rear edge, width) in mm.",
        place="widths",
    )


def _usual_area(family: Anatomy) -> float:
    """Area of the usual shape of a kind at a length of 1."""
    stations = np.linspace(0.0, 1.0, _STATIONS)
    return family.sides * float(np.trapezoid(profile_through(family.profile, stations), stations))


def _length_from(family: Anatomy, area: float | None, taped: Sequence[tuple[float, float]]) -> float:
    """The length of a hide that was not taped along the backbone: from its area, else the usual one."""
    if area is None:
        if family.area is None:
            raise InputError(
                f"No usual area is known for {family.words}.",
                mend="Give its area or its length.",
                place="area",
            )
        usual = family.length or float(np.sqrt(family.area / _usual_area(family)))
    elif family.length is not None and family.area is not None:
        usual = family.length * float(np.sqrt(area / family.area))
    else:
        usual = float(np.sqrt(area / _usual_area(family)))
    least = taped[-1][0] if taped else 0.0
    if area is None or not taped:
        return max(usual, least)
    return _length_with_area(family, area, taped, max(least, 1.0))


def _length_with_area(
    family: Anatomy, area: float, taped: Sequence[tuple[float, float]], least: float
) -> float:
    """The length from `least` to the longest at which the tape's widths come nearest to `area`."""

    def beyond(length: float) -> float:
        stations, half = _tape_profile(family, length, taped)
        return family.sides * length * float(np.trapezoid(half, stations)) - area

    low, high = least, family.longest
    if beyond(low) >= 0.0:
        return low
    if beyond(high) <= 0.0:
        return high
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if beyond(middle) < 0.0 else (low, middle)
    return high


def _tape_profile(
    family: Anatomy, length: float, taped: Sequence[tuple[float, float]]
) -> tuple[Values, Values]:
    """Places along the hide (shares of the length, the taped ones among them) and its half width there, mm."""
    places = np.array([place for place, _ in taped]) / length
    wanted = np.array([width for _, width in taped]) / family.sides
    stations = np.union1d(np.linspace(0.0, 1.0, _STATIONS), places)
    usual = profile_through(family.profile, stations) * length
    if not taped:
        return stations, usual
    at_places = profile_through(family.profile, places) * length
    broad = at_places >= _BROAD * usual.max()
    scale = (
        float(at_places[broad] @ wanted[broad] / (at_places[broad] @ at_places[broad]))
        if broad.any()
        else 1.0
    )
    half = scale * usual + _faded(places, wanted - scale * at_places, stations)
    half = np.maximum(half, 0.25 * scale * usual)
    half[np.searchsorted(stations, places)] = wanted
    return stations, half


def _faded(places: Values, off: Values, stations: Values) -> Values:
    """By how much (mm) the usual half width is left at `stations`, being left by `off` at the taped `places`.

    Straight between places that are near each other; away from them it fades to nothing over _REACH.
    """
    nodes, values = [float(places[0]) - _REACH], [0.0]
    for number, (place, value) in enumerate(zip(places.tolist(), off.tolist(), strict=True)):
        nodes.append(place)
        values.append(value)
        if number + 1 < len(places):
            gap = float(places[number + 1]) - place
            kept = float(np.clip(2.0 - gap / _REACH, 0.0, 1.0))
            for share in (min(_REACH / gap, 0.5), max(1.0 - _REACH / gap, 0.5)):
                nodes.append(place + share * gap)
                values.append(kept * (value + share * (float(off[number + 1]) - value)))
    nodes.append(float(places[-1]) + _REACH)
    values.append(0.0)
    found: Values = np.interp(stations, nodes, values)
    return found


def _filled(
    half: Values,
    stations: Values,
    family: Anatomy,
    length: float,
    taped: Sequence[tuple[float, float]],
    area: float,
) -> Values:
    """The half widths changed where none was taped, so that the area comes to `area` as far as it can."""
    places = np.array([place for place, _ in taped]) / length
    free = np.ones_like(stations)
    if taped:
        apart = np.abs(stations[:, None] - places[None, :]).min(axis=1)
        free = np.minimum(apart / _FILL_REACH, 1.0)
    missing = area / (family.sides * length) - float(np.trapezoid(half, stations))
    change = missing / float(np.trapezoid(half * free, stations))
    if taped:
        change = float(np.clip(change, -_MOST_FILLED, _MOST_FILLED))
    changed: Values = half * (1.0 + change * free)
    return changed
