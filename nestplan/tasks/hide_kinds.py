"""A kind of hide to buy: the usual figures or those of the workshop's own hides, changed one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from nestplan.errors import InputError
from nestplan.geometry.units import read_area, read_length

if TYPE_CHECKING:
    from nestplan.estimate.simulate import HideKind
    from nestplan.model.hide import Hide

__all__ = ["hide_kind"]

_NUMBERS = ("area_spread", "slenderness", "shape", "edge", "flaw_spread", "belly_flaws", "marked")
"""Figures of a kind of hide that may be changed by name."""

_FLAW_NUMBERS = ("per_m2", "median", "spread", "long", "margin")
"""Figures of one kind of flaw that may be changed, after the flaw's name and a full stop."""


def hide_kind(
    kind: str,
    *,
    area: str | None = None,
    length: str | None = None,
    price: float | None = None,
    currency: str = "",
    like: Sequence[Hide] = (),
    changes: Sequence[str] = (),
) -> HideKind:
    """The kind with the figures asked for: the usual one, or one measured from the hides it is to be `like`.

    `area` of a hide is a text with its unit; so is the `length` along its backbone, from which the kind's shape gives
    an area. `price` is for a square foot of marked area, `changes` are texts
    such as `area_spread=0.12` or `grain.per_m2=3`.

    Raises InputError if the kind or a figure is not known, UnitError if the area or length has no unit.
    """
    from nestplan.estimate.simulate import area_from_length, kind_from_hides, usual_kind

    mean = None if area is None else read_area(area)
    if length is not None:
        if mean is not None:
            raise InputError("Both an area and a length are given.", mend="Give one of the two.")
        mean = area_from_length(kind, read_length(length))
    if like:
        chosen = kind_from_hides(kind, like)
        chosen = replace(
            chosen,
            area=chosen.area if mean is None else mean,
            price=chosen.price if price is None else price,
            currency=currency or chosen.currency,
        )
    else:
        chosen = usual_kind(kind, area=mean, price=price, currency=currency)
    for change in changes:
        chosen = _changed(chosen, change)
    if changes or (like and mean is not None):
        chosen = replace(chosen, origin=f"{chosen.origin}; changed by hand: {', '.join(changes) or 'area'}")
    return chosen


def _changed(kind: HideKind, change: str) -> HideKind:
    name, _, text = change.partition("=")
    try:
        value = float(text)
    except ValueError:
        raise InputError(
            f"'{change}' changes no figure of the kind.",
            mend="Name a figure and what it is to be: area_spread=0.12.",
        ) from None
    if name in _NUMBERS:
        figures: dict[str, Any] = {name: value}
        return replace(kind, **figures)
    sort, _, figure = name.partition(".")
    sorts = [rate.spoils for rate in kind.flaws]
    if sort in sorts and figure in _FLAW_NUMBERS:
        if not 0.0 <= value < 1e4:
            raise InputError(
                f"'{change}' is out of range.", mend="Name a figure and what it is to be: 0 or more."
            )
        changed: dict[str, Any] = {figure: value}
        flaws = tuple(replace(rate, **changed) if rate.spoils == sort else rate for rate in kind.flaws)
        return replace(kind, flaws=flaws)
    known = [*_NUMBERS, *(f"{each}.{figure}" for each in sorts for figure in _FLAW_NUMBERS)]
    raise InputError(f"The kind has no figure '{name}'.", mend=f"Name a figure it has: {', '.join(known)}.")
