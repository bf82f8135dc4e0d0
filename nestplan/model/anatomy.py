"""The shapes hides usually have, kind by kind, as widths along the backbone.

Here live the shape families that measured templates (a hide from tape figures) and simulated hides (how much
to buy) share: outline, backbone and the regions of the animal with their firmness and stretch. What a
tape measured or chance drew is added by those who use a family; nothing here is random.

What is sourced and what is ours: areas and lengths carry their source in `ANATOMY`; the bellies' share is 23
% of a hide (bookbinding dictionary, cool.culturalheritage.org dt0269); the other regions are cut to come near
the shares butt and bend 43 %, shoulder 32 %, head and belly 25 % (one footwear maker). The profiles, that is
the widths in between, and the firmness figures are drawn by us to fit those, not measured. No area was found
for goat and deer, so these two want one from the user. Frame: x along the backbone from the rear edge (0) to
the neck, y from the backbone towards the belly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError
from nestplan.geometry.units import MM2_PER_FT2, MM_PER_INCH

__all__ = [
    "ANATOMY",
    "Anatomy",
    "HideTemplate",
    "TemplateRegion",
    "family_of",
    "hide_template_from_profile",
    "profile_through",
]

Ring = NDArray[np.float64]


@dataclass(frozen=True)
class Anatomy:
    """A kind of hide: its profile and what is usual for it.

    `profile` is (t, w): t the share of the length from the rear, w the width from the backbone as a share of
    the length. `both_sides` tells a whole hide from a half. `area` (mm2) and `length` (mm) are usual ones,
    None where no figure was found; none is longer than `longest` mm (ours, and generous). `belly_share` is the
    share of area cut off as belly by a line parallel to the backbone; `shoulder_from` and `neck_from` are where
    those regions start, as t (1 or more: none). `source` says where the figures come from.
    """

    kind: str
    words: str
    profile: tuple[tuple[float, float], ...]
    both_sides: bool
    length: float | None
    area: float | None
    belly_share: float
    shoulder_from: float
    neck_from: float
    main_region: str
    source: str
    longest: float

    @property
    def sides(self) -> float:
        """How many halves it has: 2 for a whole hide, 1 for a half."""
        return 2.0 if self.both_sides else 1.0

    @property
    def fullness(self) -> float:
        """Area of the kind's shape as a share of its length squared."""
        at = np.linspace(0.0, 1.0, 201)
        return self.sides * float(np.trapezoid(profile_through(self.profile, at), at))

    def noun(self, number: int) -> str:
        """What so many are called: `cow side`, `sheep skins`, `bellies`."""
        one = self.words.split(",")[0]
        if number == 1:
            return one
        return f"{one[:-1]}ies" if one.endswith("y") else f"{one}s"


@dataclass(frozen=True)
class TemplateRegion:
    """A region of a template: ring (n, 2) mm ccw, firmness 1 to 5, stretch axis in degrees or `all` ways."""

    name: str
    ring: Ring
    firmness: int
    stretch: float | Literal["all"]


@dataclass(frozen=True)
class HideTemplate:
    """A hide of a kind at true size: ring (n, 2) mm ccw, backbone from neck to tail, area in mm2.

    Where `regions` overlap, the one listed later counts: the belly is the whole outline with the bend, the
    shoulder and the neck laid over it, so that each name stands once, whatever the outline does.
    """

    kind: str
    ring: Ring
    backbone: tuple[tuple[float, float], tuple[float, float]]
    regions: tuple[TemplateRegion, ...]
    length: float
    area: float


REGION_FIRMNESS = {"bend": 5, "back": 5, "shoulder": 4, "neck": 3, "belly": 1}
"""Firmness of the regions, 1 to 5: ours; only the order is sourced (bend, shoulder, neck, belly: a supplier)."""
REGION_STRETCH: dict[str, float | Literal["all"]] = {
    "bend": 90.0,
    "back": 90.0,
    "shoulder": 90.0,
    "neck": 90.0,
    "belly": "all",
}
"""Stretch axes, degrees from the backbone: most leathers stretch across it (Ork Efendioglu 2024, doi
10.21203/rs.3.rs-5287129/v1, garment sheep); the flank gives in every direction (concertina maker's forum, topic
23182)."""

_COW = (
    (0.0, 0.10), (0.025, 0.27), (0.08, 0.42), (0.15, 0.415), (0.24, 0.375), (0.33, 0.365), (0.46, 0.385),
    (0.58, 0.375), (0.65, 0.385), (0.73, 0.415), (0.80, 0.36), (0.88, 0.28), (0.96, 0.23), (1.0, 0.17),
)  # fmt: skip
_SKIN = (
    (0.0, 0.08), (0.03, 0.20), (0.09, 0.42), (0.15, 0.40), (0.25, 0.30), (0.40, 0.29), (0.55, 0.31),
    (0.68, 0.33), (0.76, 0.40), (0.82, 0.33), (0.88, 0.17), (0.95, 0.13), (1.0, 0.10),
)  # fmt: skip

ANATOMY: dict[str, Anatomy] = {
    each.kind: each
    for each in (
        Anatomy(
            "cow-hide", "whole cow hide", _COW, True, 100 * MM_PER_INCH, 50 * MM2_PER_FT2, 0.23, 0.57, 0.84, "bend",
            "50-60 ft2 (furnituremaking.us), 35-70 ft2 (a supplier); profile ours", 3500.0,
        ),
        Anatomy(
            "cow-side", "cow side, half a hide", _COW, False, 100 * MM_PER_INCH, 25 * MM2_PER_FT2, 0.23, 0.57, 0.84,
            "bend",
            "25.8 ft2, 100 x 42 in (one purchase, imseva.com 2018); 22 ft2 (a supplier); profile ours", 3500.0,
        ),
        Anatomy(
            "double-shoulder", "double shoulder",
            ((0.0, 0.80), (0.1, 0.83), (0.3, 0.90), (0.55, 0.86), (0.75, 0.70), (0.9, 0.48), (1.0, 0.36)),
            True, 880.0, 14 * MM2_PER_FT2, 0.0, 0.0, 0.72, "shoulder",
            "about 14 ft2 (a supplier); length and profile ours", 1600.0,
        ),
        Anatomy(
            "bend", "single bend",
            ((0.0, 0.34), (0.04, 0.43), (0.12, 0.49), (0.3, 0.50), (0.95, 0.50), (1.0, 0.495)),
            False, 55 * MM_PER_INCH, 10 * MM2_PER_FT2, 0.0, 1.0, 1.0, "bend",
            "half of a double butt of 55 x 55 in (a supplier); profile ours", 2200.0,
        ),
        Anatomy(
            "belly", "belly",
            ((0.0, 0.05), (0.06, 0.17), (0.13, 0.19), (0.22, 0.13), (0.5, 0.11), (0.75, 0.13), (0.87, 0.19),
             (0.94, 0.16), (1.0, 0.06)),
            False, 2050.0, 0.115 * 50 * MM2_PER_FT2, 1.0, 1.0, 1.0, "belly",
            "both bellies 23 % of a hide (bookbinding dictionary dt0269), here of 50 ft2; profile ours", 3200.0,
        ),
        Anatomy(
            "calf", "calf skin", _SKIN, True, None, 16 * MM2_PER_FT2, 0.25, 0.62, 0.86, "back",
            "16 ft2 (a supplier); proportions ours", 2200.0,
        ),
        Anatomy(
            "sheep", "sheep skin", _SKIN, True, None, 7.5 * MM2_PER_FT2, 0.25, 0.62, 0.86, "back",
            "6-9 ft2 (tribalrootz.webs.com 2011); proportions ours", 1800.0,
        ),
        Anatomy(
            "pig", "pig skin", _SKIN, True, None, 6 * MM2_PER_FT2, 0.25, 0.62, 0.86, "back",
            "5-7 ft2 (tribalrootz.webs.com 2011); proportions ours", 1800.0,
        ),
        Anatomy(
            "goat", "goat skin", _SKIN, True, None, None, 0.25, 0.62, 0.86, "back",
            "no published area found: give the area or the length; proportions ours", 1600.0,
        ),
        Anatomy(
            "deer", "deer skin", _SKIN, True, None, None, 0.25, 0.62, 0.86, "back",
            "no published area found: give the area or the length; proportions ours", 2200.0,
        ),
    )
}  # fmt: skip


def hide_template_from_profile(kind: str, x: Ring, right: Ring, left: Ring) -> HideTemplate:
    """A hide of a kind from its widths to both sides of the backbone.

    `x` (n,) rising, mm from the rear; `right` (n,) the width towards positive y and `left` (n,) towards
    negative y, mm. A half hide has `left` zero everywhere. Regions: belly strips parallel to the backbone
    that hold the kind's share of each half, the neck, the shoulder, and the bend (or back) between.
    """
    family = family_of(kind)
    length = float(x[-1] - x[0])
    if family.both_sides:
        ring = np.vstack([np.column_stack([x, -left]), np.column_stack([x, right])[::-1]])
    else:
        ring = np.vstack([[[x[0], 0.0], [x[-1], 0.0]], np.column_stack([x, right])[::-1]])
    top = np.minimum(right, _belly_line(x, right, family.belly_share))
    bottom = np.minimum(left, _belly_line(x, left, family.belly_share))
    zones = [_zone("belly", ring)] if family.belly_share > 0.0 else []
    if family.belly_share < 1.0:
        cuts = (0.0, family.shoulder_from, family.neck_from, 1.0)
        for name, start, end in zip(
            (family.main_region, "shoulder", "neck"), cuts[:-1], cuts[1:], strict=True
        ):
            if end > start:
                zones.append(_zone(name, _slab(x, top, bottom, x[0] + start * length, x[0] + end * length)))
    backbone = ((float(x[-1]), 0.0), (float(x[0]), 0.0))
    return HideTemplate(kind, ring, backbone, tuple(zones), length, float(np.trapezoid(right + left, x)))


def profile_through(points: Sequence[tuple[float, float]], at: Ring) -> Ring:
    """Monotone cubic through (t, w) points at the places `at` (n,): no wiggle between the points.

    Slopes after Fritsch and Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17 (1980).
    """
    t = np.array([point[0] for point in points])
    w = np.array([point[1] for point in points])
    step, rise = np.diff(t), np.diff(w)
    secant = rise / step
    slope = np.empty_like(w)
    slope[0], slope[-1] = secant[0], secant[-1]
    same = secant[:-1] * secant[1:] > 0.0
    weight_a, weight_b = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = (weight_a + weight_b) / (weight_a / secant[:-1] + weight_b / secant[1:])
    slope[1:-1] = np.where(same, inner, 0.0)
    k = np.clip(np.searchsorted(t, at, side="right") - 1, 0, len(t) - 2)
    s = (np.asarray(at) - t[k]) / step[k]
    near = (1.0 + 2.0 * s) * (1.0 - s) ** 2 * w[k] + s**2 * (3.0 - 2.0 * s) * w[k + 1]
    result: Ring = near + step[k] * (s * (1.0 - s) ** 2 * slope[k] - s**2 * (1.0 - s) * slope[k + 1])
    return result


def family_of(kind: str) -> Anatomy:
    """The family of a kind. Raises InputError with the kinds there are where there is none of that name."""
    if kind not in ANATOMY:
        raise InputError(
            f"There is no kind of hide called '{kind}'.",
            mend=f"Take one of: {', '.join(ANATOMY)}.",
            place="kind",
        )
    return ANATOMY[kind]


def _belly_line(x: Ring, width: Ring, share: float) -> float:
    """Distance from the backbone beyond which lies `share` of the area (0 where there is no area)."""
    low, high = 0.0, float(width.max())
    whole = float(np.trapezoid(width, x))
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(np.trapezoid(np.maximum(width - middle, 0.0), x)) > share * whole:
            low = middle
        else:
            high = middle
    return high


def _slab(x: Ring, top: Ring, bottom: Ring, start: float, end: float) -> Ring:
    """Ring (ccw) of the part between -bottom and top from x = start to x = end."""
    places = np.unique(np.concatenate([[start, end], x[(x > start) & (x < end)]]))
    lower = np.column_stack([places, -np.interp(places, x, bottom)])
    upper = np.column_stack([places, np.interp(places, x, top)])[::-1]
    if not bottom.any():
        lower = lower[[0, -1]]
    return np.vstack([lower, upper])


def _zone(name: str, ring: Ring) -> TemplateRegion:
    return TemplateRegion(name, ring, REGION_FIRMNESS[name], REGION_STRETCH[name])
