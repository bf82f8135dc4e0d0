"""Hides that do not exist yet: outlines, flaws and regions drawn by chance round the shape family of a kind.

Here lives what chance may do to a hide and how that is fitted to a workshop's own hides. The families
themselves are `model.anatomy`. Every figure of a `HideKind` is stated, can be changed, and unless it was
measured from given hides it is ours, not published.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError
from nestplan.geometry.units import MM2_PER_FT2, show_area
from nestplan.model.anatomy import ANATOMY, family_of, hide_template_from_profile, profile_through
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.hide import Disc, Flaw, Hide, Line, Origin, Region
from nestplan.model.values import as_points

__all__ = [
    "FlawRate",
    "HideKind",
    "area_from_length",
    "kind_from_hides",
    "simulate_hide",
    "simulate_hides",
    "usual_kind",
]

Values = NDArray[np.float64]

_STATIONS = 61
_SHAPE_REACH, _EDGE_REACH = 0.22, 0.03
"""Share of a hide's length on which neighbouring widths go together, for the shape and for the edge."""


@dataclass(frozen=True)
class FlawRate:
    """Flaws of one kind: how many on a square metre, how large (median diameter, mm), how much sizes spread.

    `spread` is the standard deviation of the logarithm of the diameter; `long` the share that are scratches,
    lines ten times as long as wide, instead of spots.
    """

    spoils: str
    per_m2: float
    median: float
    spread: float = 0.6
    long: float = 0.0
    margin: float = 3.0


USUAL_FLAWS = (
    FlawRate("through", 0.6, 12.0, 0.5, 0.15),
    FlawRate("grain", 2.0, 18.0, 0.7, 0.5),
    FlawRate("flesh", 1.0, 20.0, 0.6, 0.6),
    FlawRate("mark", 1.5, 25.0, 0.6, 0.3, 0.0),
)
"""Ours, not measured: a middling hide. A workshop's own hides give better figures (`kind_from_hides`)."""


@dataclass(frozen=True)
class HideKind:
    """What chance may do with hides of a kind.

    `area` is the mean true area, mm2, and `area_spread` its relative standard deviation; `slenderness` that
    of length to width at the same area; `shape` that of the widths along the hide; `edge` that of its finer
    waves; `flaw_spread` how unlike hides are in their number of flaws (0: only chance; 0.5: half as many or
    half as many again). `belly_flaws` is how many times more flaws a place beyond the bend has. `marked` is
    the seller's area over the true one. `price` is money for a square foot of marked area.
    """

    kind: str
    area: float
    area_spread: float = 0.10
    slenderness: float = 0.05
    shape: float = 0.05
    edge: float = 0.012
    flaws: tuple[FlawRate, ...] = USUAL_FLAWS
    flaw_spread: float = 0.5
    belly_flaws: float = 2.0
    marked: float = 1.0
    price: float | None = None
    currency: str = ""
    leather: str = ""
    thickness: tuple[float, float] | None = None
    origin: str = field(default="usual figures of this program, not measured")

    def __post_init__(self) -> None:
        if self.kind not in ANATOMY:
            raise InputError(
                f"There is no kind of hide called '{self.kind}'.",
                mend=f"Take one of: {', '.join(ANATOMY)}.",
                place="kind",
            )
        bounded = {
            "area": (self.area, 1e3, 1e8),
            "area_spread": (self.area_spread, 0.0, 0.5),
            "slenderness": (self.slenderness, 0.0, 0.3),
            "shape": (self.shape, 0.0, 0.3),
            "edge": (self.edge, 0.0, 0.1),
            "flaw_spread": (self.flaw_spread, 0.0, 2.0),
            "belly_flaws": (self.belly_flaws, 0.0, 20.0),
            "marked": (self.marked, 0.5, 2.0),
        }
        for place, (value, low, high) in bounded.items():
            if not low <= value <= high:
                raise InputError(
                    f"A kind of hide cannot have {place} = {value:g}.",
                    mend=f"Give {low:g} to {high:g}.",
                    place=place,
                )

    @property
    def words(self) -> tuple[str, ...]:
        """All settings as lines of text, for the foot of an estimate."""
        return (
            f"{ANATOMY[self.kind].words}: {self.origin}; shape family: {ANATOMY[self.kind].source}",
            f"area {show_area(self.area, 'ft2')} ({show_area(self.area)}) on average, spread {self.area_spread:.1%}",
            f"length to width spread {self.slenderness:.1%}, widths {self.shape:.1%}, edge {self.edge:.1%}",
            *(
                f"{rate.per_m2:g} marks per m2, median {rate.median:g} mm"
                if FLAW_KINDS[rate.spoils].only_warns
                else f"{rate.per_m2:g} flaws per m2 that spoil {rate.spoils}, median {rate.median:g} mm"
                for rate in self.flaws
            ),
            f"hides differ in their number of flaws by {self.flaw_spread:.0%}; "
            f"{self.belly_flaws:g} times as many beyond the bend",
            f"seller's area {self.marked:.3f} of the true one",
        )


def usual_kind(
    kind: str, *, area: float | None = None, price: float | None = None, currency: str = ""
) -> HideKind:
    """The usual figures for a kind; goat and deer need an `area` (mm2), since none is published.

    Raises InputError without one for them.
    """
    if kind in ANATOMY and area is None:
        area = ANATOMY[kind].area
        if area is None:
            raise InputError(
                f"No source was found for how large a {ANATOMY[kind].noun(1)} usually is.",
                mend="Give the usual area of one, or its usual length along the backbone.",
                place="area",
            )
    return HideKind(kind, area if area is not None else 1e6, price=price, currency=currency)


def area_from_length(kind: str, length: float) -> float:
    """The area (mm2) of a hide of `kind` with the shape of its family, `length` mm long.

    Raises InputError for an unknown kind, or a length that no such hide has.
    """
    family = family_of(kind)
    if not 0.1 * family.longest <= length <= family.longest:
        raise InputError(
            f"A {family.noun(1)} is not {length:.0f} mm long.",
            mend=f"Give {0.1 * family.longest:.0f} to {family.longest:.0f} mm.",
            place="length",
        )
    return family.fullness * length**2


def kind_from_hides(kind: str, hides: Sequence[Hide]) -> HideKind:
    """A kind whose area, its spread, seller's share, price and flaw rates are measured on the workshop's
    hides.

    Needs three hides or more; widths and edge stay the usual ones. Raises InputError with fewer.
    """
    if len(hides) < 3:
        raise InputError(
            f"{len(hides)} hides are too few to measure a kind from.",
            mend="Give three or more.",
            place="hides",
        )
    areas = np.array([hide.gross_area for hide in hides])
    stated = [hide for hide in hides if hide.stated_area is not None]
    priced = [hide for hide in hides if hide.price is not None]
    square_metres = float(areas.sum()) / 1e6
    rates = []
    for usual in _rates_of_all_kinds(hides):
        flaws = [flaw for hide in hides for flaw in hide.flaws if flaw.spoils == usual.spoils]
        if not flaws:
            # None seen on so much leather: the upper half of a flaw is a fair guess (rule of succession).
            rates.append(replace(usual, per_m2=0.5 / square_metres))
            continue
        logs = np.log([max(_diameter(flaw), 1.0) for flaw in flaws])
        spread = float(logs.std(ddof=1)) if len(flaws) > 2 else usual.spread
        rates.append(
            replace(
                usual,
                per_m2=len(flaws) / square_metres,
                median=float(np.exp(np.median(logs))),
                spread=spread,
                long=sum(flaw.line is not None for flaw in flaws) / len(flaws),
                margin=float(np.mean([flaw.margin for flaw in flaws])),
            )
        )
    marked = (
        sum(hide.stated_area or 0.0 for hide in stated) / sum(hide.gross_area for hide in stated)
        if stated
        else 1.0
    )
    paid = sum(hide.area_paid_for for hide in priced) / MM2_PER_FT2
    return HideKind(
        kind,
        float(areas.mean()),
        area_spread=min(float(areas.std(ddof=1) / areas.mean()), 0.5),
        flaws=tuple(rates),
        marked=marked,
        price=sum(hide.price or 0.0 for hide in priced) / paid if priced else None,
        currency=priced[0].currency if priced else "",
        origin=f"area, seller's area, price and flaws measured on {len(hides)} hides of the workshop",
    )


def _rates_of_all_kinds(hides: Sequence[Hide]) -> tuple[FlawRate, ...]:
    """The usual rates, and a start for every other kind of flaw that the hides show."""
    known = {rate.spoils for rate in USUAL_FLAWS}
    seen = {flaw.spoils for hide in hides for flaw in hide.flaws}
    others = [kind for kind in FLAW_KINDS if kind.name in seen - known]
    return (*USUAL_FLAWS, *(FlawRate(kind.name, 0.0, 20.0, margin=kind.margin) for kind in others))


def simulate_hide(kind: HideKind, seed: int, number: int) -> Hide:
    """Hide `number` of the series that `seed` starts; the same two figures always give the same hide.

    The frame is the family's: backbone along x from the neck to the rear edge at 0, y towards the belly.
    """
    chance = np.random.default_rng([seed, number])
    family = ANATOMY[kind.kind]
    stations = np.linspace(0.0, 1.0, _STATIONS)
    share = profile_through(family.profile, stations)
    sides = 2.0 if family.both_sides else 1.0
    area = kind.area * float(np.exp(_lognormal(chance, kind.area_spread)))
    stretch = float(np.exp(chance.normal(0.0, kind.slenderness)))
    length = float(np.sqrt(area / (sides * float(np.trapezoid(share, stations))))) * stretch
    common = _wave(chance, stations, _SHAPE_REACH, kind.shape)
    halves = [
        share
        * np.exp(
            common + _wave(chance, stations, _SHAPE_REACH, 0.4 * kind.shape) + _edge(chance, stations, kind)
        )
        for _ in range(int(sides))
    ]
    scale = area / (length * sum(float(np.trapezoid(half, stations)) for half in halves))
    right, left = halves[0] * scale, halves[1] * scale if family.both_sides else np.zeros_like(stations)
    drawn = hide_template_from_profile(kind.kind, stations * length, right, left)
    name = f"{kind.kind} {number + 1}"
    return Hide(
        name=name,
        leather=kind.leather or kind.kind,
        outline=as_points(drawn.ring),
        flaws=_flaws(chance, kind, stations * length, right, left),
        regions=tuple(
            Region(name=zone.name, outline=as_points(zone.ring), firmness=zone.firmness, stretch=zone.stretch)
            for zone in drawn.regions
        ),
        backbone=drawn.backbone,
        thickness=kind.thickness,
        stated_area=drawn.area * kind.marked,
        price=None if kind.price is None else kind.price * drawn.area * kind.marked / MM2_PER_FT2,
        currency=kind.currency,
        origin=Origin(how="simulated", note=f"seed {seed}, number {number}"),
    )


def simulate_hides(kind: HideKind, seed: int, count: int, *, start: int = 0) -> tuple[Hide, ...]:
    """Hides `start` to `start + count` of the series that `seed` starts."""
    return tuple(simulate_hide(kind, seed, start + number) for number in range(count))


def _lognormal(chance: np.random.Generator, spread: float) -> float:
    """Logarithm of a factor with mean 1 and relative standard deviation `spread`."""
    sigma2 = float(np.log1p(spread**2))
    return float(chance.normal(-0.5 * sigma2, np.sqrt(sigma2)))


def _wave(chance: np.random.Generator, stations: Values, reach: float, spread: float) -> Values:
    """A smooth random curve over `stations` with standard deviation `spread` and correlation length `reach`."""
    knots = np.arange(-3.0 * reach, 1.0 + 3.0 * reach, 0.5 * reach)
    heights = chance.normal(0.0, 1.0, len(knots))
    weights = np.exp(-0.5 * ((stations[:, None] - knots[None, :]) / (0.7 * reach)) ** 2)
    weights /= np.sqrt((weights**2).sum(axis=1, keepdims=True))
    curve: Values = spread * (weights @ heights)
    return curve


def _edge(chance: np.random.Generator, stations: Values, kind: HideKind) -> Values:
    return _wave(chance, stations, _EDGE_REACH, kind.edge)


def _flaws(
    chance: np.random.Generator, kind: HideKind, x: Values, right: Values, left: Values
) -> tuple[Flaw, ...]:
    """Spots and scratches scattered over the hide, denser beyond the bend. Whole flaws may reach over the edge."""
    true_area = float(np.trapezoid(right + left, x)) / 1e6
    if kind.flaw_spread > 0.0:
        shape = 1.0 / kind.flaw_spread**2
        rich = float(chance.gamma(shape, 1.0 / shape))
    else:
        rich = 1.0
    found: list[Flaw] = []
    for rate in kind.flaws:
        for _ in range(int(chance.poisson(rate.per_m2 * true_area * rich))):
            at = _spot(chance, kind, x, right, left)
            across = float(np.clip(rate.median * np.exp(chance.normal(0.0, rate.spread)), 1.0, 400.0))
            if chance.random() < rate.long:
                turn = chance.uniform(0.0, np.pi)
                half = 0.5 * 3.0 * across * np.array([np.cos(turn), np.sin(turn)])
                points = (tuple(float(v) for v in at - half), tuple(float(v) for v in at + half))
                line = Line(points=points, width=max(0.3 * across, 1.0))  # type: ignore[arg-type]
                found.append(Flaw(spoils=rate.spoils, line=line, margin=rate.margin))
            else:
                disc = Disc(at=(float(at[0]), float(at[1])), diameter=across)
                found.append(Flaw(spoils=rate.spoils, disc=disc, margin=rate.margin))
    return tuple(found)


def _spot(chance: np.random.Generator, kind: HideKind, x: Values, right: Values, left: Values) -> Values:
    """A place on the hide, drawn by rejection: full weight beyond half the width from the backbone."""
    most = max(1.0, kind.belly_flaws)
    while True:
        along = chance.uniform(x[0], x[-1])
        across = chance.uniform(-left.max(initial=0.0), right.max())
        width = float(np.interp(along, x, right if across >= 0.0 else left))
        if abs(across) > width:
            continue
        weight = kind.belly_flaws if abs(across) > 0.6 * width else 1.0
        if chance.random() * most <= weight:
            return np.array([along, across])


def _diameter(flaw: Flaw) -> float:
    """The measure of a flaw that `FlawRate.median` speaks of, mm: a third of a line's length, a spot's diameter."""
    if flaw.line is not None:
        points = np.array(flaw.line.points)
        return float(np.hypot(*np.diff(points, axis=0).T).sum()) / 3.0
    low, high = flaw.ring.min(axis=0), flaw.ring.max(axis=0)
    return float(np.mean(high - low))
