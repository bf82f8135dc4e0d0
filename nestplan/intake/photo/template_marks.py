"""What is punched through a template and what is drawn on it: holes, windows, rings, dots, arrows and writing.

What shows the ground's colour is a hole; everything else unlike the template is ink. What ink means is for the person
to say: here it is only sorted by its form and its colour.
"""

from __future__ import annotations

import colorsys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.geometry.lines_and_arcs import edge_noise, fit_circle, fit_edge
from nestplan.intake.photo.template_edges import LinearPatch, contour_of, edge_points
from nestplan.intake.photo.template_ground import SHADE_OFFSET

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

__all__ = ["DrawnSpot", "Inside", "RoundHole", "StretchArrow", "is_simple", "look_inside"]

LEAST_HOLE = 1.2
"""Holes smaller than this across, mm, are crumbs of the ground's colour."""
FEW_PIXELS = 14.0
"""Holes and dots fewer pixels across are measured by how much of the ground or ink they show, larger ones by their
edges."""
DEEPEST_SHADE, MOST_GLARE = 0.55, 0.13
"""How much darker and how much lighter (logarithms) than the bare ground it may look through a hole."""
MOST_BLEED_SMALL, MOST_BLEED, MOST_MIXED = 0.5, 0.15, 0.2
"""How much of the template's tint may run into what is seen through a small hole and through a larger one, and how much
of the template's light is mixed into what is seen through a small one."""
SAME_TINT, SAME_TINT_TINY, TINY_PIXELS, SHADE_WEIGHT = 6.0, 1.5, 7.0, 60.0
"""How far the tint seen in a hole may lie off the ground's, levels of 255 of Cb and Cr (ITU-R BT.601), and in one fewer
pixels across, of whose tint the coder keeps little; what a shade beyond the limits adds. (Of 189 drawn holes one lay
off by 6.9, none else by more than 5.0; of 193 marks none by less than 6.9. Blue dots of 2 mm on blue ground lie off by
1.6 to 4.9: what may be either is taken for ink, which is asked about.)"""
_LUMA = np.array([0.299, 0.587, 0.114])
_CB, _CR = 0.564, 0.713
"""The weights of ITU-R BT.601: luma, and of blue and red less luma."""
LEAST_RING, LARGEST_RING, LARGEST_DOT = 2.2, 30.0, 12.0
"""Diameters, mm, between which ink is taken for a ring or a dot."""
LEAST_ARROW, HEAD_WIDER = 12.0, 1.9
"""Length of an arrow, mm, and how much wider its head is than its shaft, at least."""
MOST_BLACK = 0.3
"""Ink that leaves no colour more than this share of the light it takes most of is black."""
WIDEST_STROKE = 2.4
"""Width of a line drawn by a pen, mm, as its blurred edge makes it; windows are wider somewhere."""
CODER_TINT = 6.0
"""Standard error, levels of 255, of tints as a coder keeps them beside an edge."""
WRITING_NEAR = 2.2
"""A ring or a dot with a stroke of writing this near, mm, belongs to it."""
FEW_STRONG = 16
"""Pixels in the dark middle of a spot of ink fewer than which do not tell its form: a dot of 2 mm has 8 to 14 (of a
letter of 4 mm they are more)."""
LIGHT_REACH = 20.0
"""Over how many pixels (standard deviation) a template's own colour is averaged."""
UNLIKE_CARD = 6.0
"""Standard errors from the template's own colour beyond which a place is a hole or ink."""


@dataclass(frozen=True)
class RoundHole:
    """A round hole: centre and diameter, mm on the ground."""

    at: tuple[float, float]
    diameter: float


@dataclass(frozen=True)
class DrawnSpot:
    """A drawn `ring` or `dot`: centre and diameter (of a ring's middle line), mm on the ground, and ink."""

    form: Literal["ring", "dot"]
    colour: str
    at: tuple[float, float]
    diameter: float

    @property
    def group(self) -> str:
        """What all of its form and colour are called, such as `red rings`."""
        return f"{self.colour} {self.form}s"


@dataclass(frozen=True)
class StretchArrow:
    """A drawn arrow from `tail` to `tip`, mm on the ground."""

    tail: tuple[float, float]
    tip: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Inside:
    """What lies inside a template: `holes`, `openings` (rings (n, 2), mm), `spots`, `arrows`, and the middles
    of other ink, such as writing."""

    holes: tuple[RoundHole, ...] = ()
    openings: tuple[Floats, ...] = ()
    spots: tuple[DrawnSpot, ...] = ()
    arrows: tuple[StretchArrow, ...] = ()
    writing: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, eq=False)
class _Look:
    """A template's part of the photograph: log colours against the ground's and against its own (h, w, 3), light, the
    (column, row) of its first pixel, the way to the ground, and mm of a pixel."""

    against_ground: NDArray[np.float32]
    against_card: NDArray[np.float32]
    patch: LinearPatch
    to_ground: Callable[[Floats], Floats]
    pixel: float

    def ground_of(self, y: NDArray[np.intp] | Floats, x: NDArray[np.intp] | Floats) -> Floats:
        """Places (n, 2), mm, of rows and columns of this part."""
        return self.to_ground(np.column_stack([x, y]).astype(np.float64) + self.patch.corner)


def look_inside(
    mask: Mask,
    against_ground: NDArray[np.float32],
    colour: NDArray[np.float32],
    patch: LinearPatch,
    to_ground: Callable[[Floats], Floats],
    pixel: float,
) -> Inside:
    """What lies inside a template whose filled `mask` (h, w) and log colours against the ground's (h, w, 3) are given.

    `colour` (3,) is the template's own against the ground's, `pixel` how many mm one shows.
    """
    from scipy import ndimage

    core = ndimage.binary_erosion(mask, iterations=3)
    if core.sum() < 30:
        return Inside()
    own, spread = _card_colour(against_ground, colour, core)
    spread = spread + _coder_spread(255 * np.median(patch.light[core], axis=0) ** (1 / 2.2))
    look = _Look(against_ground, (against_ground - own).astype(np.float32), patch, to_ground, pixel)
    smooth = ndimage.gaussian_filter(look.against_card, (0.6, 0.6, 0))
    inverse = np.linalg.inv(spread).astype(np.float32)
    unlike = core & (np.sqrt(np.maximum(((smooth @ inverse) * smooth).sum(axis=-1), 0)) > UNLIKE_CARD)
    labels, _ = ndimage.label(unlike, structure=np.ones((3, 3)))
    found = _Sorted(look)
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        grown = tuple(slice(max(part.start - 6, 0), part.stop + 6) for part in box)
        thing = labels[grown] == number
        if thing.sum() * pixel * pixel < 0.5:
            continue
        found.add(thing, (grown[0], grown[1]))
    return found.inside()


def _card_colour(
    against_ground: NDArray[np.float32], colour: NDArray[np.float32], core: Mask
) -> tuple[NDArray[np.float32], Floats]:
    """The template's own colour (h, w, 3), which changes slowly over it, and the spread (3, 3) of its noise."""
    from scipy import ndimage

    away = against_ground - colour
    calm = core & (np.abs(away).max(axis=-1) < 0.2)
    if calm.sum() < 30:
        calm = core
    # Light changes slowly: every fourth pixel tells it.
    thin = (slice(None, None, 4), slice(None, None, 4))
    weight = ndimage.gaussian_filter(calm[thin].astype(np.float32), LIGHT_REACH / 4)
    grid = np.meshgrid(np.arange(core.shape[0]) / 4, np.arange(core.shape[1]) / 4, indexing="ij")
    own = np.empty_like(against_ground)
    for c in range(3):
        smooth = ndimage.gaussian_filter(
            np.where(calm[thin], away[..., c][thin], 0).astype(np.float32), LIGHT_REACH / 4
        ) / np.maximum(weight, 1e-3)
        own[..., c] = ndimage.map_coordinates(smooth, grid, order=1, mode="nearest")
    own = (own + colour).astype(np.float32)
    left = ndimage.gaussian_filter(against_ground - own, (0.6, 0.6, 0))[calm]
    off = np.abs(left).max(axis=1)
    quiet = left[off < 4 * max(float(np.median(off)), 0.01)]
    return own, np.asarray(np.cov(quiet.T) + 0.018**2 * np.eye(3))


def _coder_spread(card: Floats) -> Floats:
    """Covariance (3, 3), of logarithms, that coarse tints (ITU-R BT.601's Cb and Cr) add to a colour (3,)."""
    tints = np.array([[0.0, 1.402], [-0.344, -0.714], [1.772, 0.0]]) * CODER_TINT / (card + 12)[:, None]
    return np.asarray(tints @ tints.T)


class _Sorted:
    """Sorts the things inside one template, one after the other."""

    def __init__(self, look: _Look) -> None:
        self._look = look
        self._holes: list[RoundHole] = []
        self._openings: list[Floats] = []
        self._spots: list[tuple[DrawnSpot, Floats]] = []
        self._strokes: list[Floats] = []
        self._arrows: list[StretchArrow] = []
        self._writing: list[tuple[float, float]] = []

    def inside(self) -> Inside:
        """All that was sorted; rings and dots among writing are letters."""
        spots = []
        for spot, places in self._spots:
            if any(_apart(places, letter) < WRITING_NEAR for letter in self._strokes):
                self._writing.append(spot.at)
            else:
                spots.append(spot)
        return Inside(
            tuple(self._holes), tuple(self._openings), tuple(spots), tuple(self._arrows), tuple(self._writing)
        )

    def add(self, thing: Mask, box: tuple[slice, slice]) -> None:
        """Sort one thing: its mask in a box of the template's part."""
        if self._shows_ground(thing, box) and not self._is_drawn_line(thing, box):
            self._add_hole(thing, box)
        else:
            self._add_ink(thing, box)

    def _strong(self, thing: Mask, box: tuple[slice, slice]) -> Mask:
        """The pixels of a thing least mixed with what lies round it."""
        strength = np.abs(self._look.against_card[box]).max(axis=-1)
        return np.asarray(thing & (strength >= np.quantile(strength[thing], 0.7)))

    def _half_strong(self, thing: Mask, box: tuple[slice, slice]) -> Mask:
        """The pixels of a thing at least half as strong as its strongest: without the blur at its rim."""
        strength = np.abs(self._look.against_card[box]).max(axis=-1)
        return np.asarray(thing & (strength > 0.5 * float(np.quantile(strength[thing], 0.95))))

    def _shows_ground(self, thing: Mask, box: tuple[slice, slice]) -> bool:
        strong = self._strong(thing, box)
        against = np.median(self._look.against_ground[box][strong], axis=0)
        against_card = np.median(self._look.against_card[box][strong], axis=0)
        light = np.asarray(np.median(self._look.patch.light[box][strong], axis=0), dtype=np.float64)
        seen = SHADE_OFFSET + 255 * light ** (1 / 2.2)
        across = 2 * np.sqrt(thing.sum() / np.pi)
        most = SAME_TINT_TINY if across < TINY_PIXELS else SAME_TINT
        return _off_ground(seen, seen / np.exp(against_card), seen / np.exp(against), across) < most

    def _is_drawn_line(self, thing: Mask, box: tuple[slice, slice]) -> bool:
        """Whether a thing is made of strokes: dark ink may look like a dark ground, but no window is so narrow."""
        from scipy import ndimage

        y, x = np.nonzero(thing)
        if _as_arrow(self._look.ground_of(y + box[0].start, x + box[1].start)) is not None:
            return True
        half = self._half_strong(thing, box)
        widest = 2 * float(ndimage.distance_transform_edt(half).max()) * self._look.pixel
        return widest < WIDEST_STROKE and not _is_compact(half)

    def _add_hole(self, thing: Mask, box: tuple[slice, slice]) -> None:
        from scipy import ndimage

        filled = ndimage.binary_fill_holes(thing)
        across = 2 * float(np.sqrt(filled.sum() / np.pi))
        size = across * self._look.pixel
        if size < LEAST_HOLE:
            return
        if across < FEW_PIXELS and _is_compact(filled):
            at, diameter = self._measured(filled, box)
            self._holes.append(RoundHole(at, diameter))
            return
        corner = self._look.patch.corner + np.array([box[1].start, box[0].start])
        soft = ndimage.gaussian_filter(filled.astype(np.float32), 0.8)
        contour = contour_of(filled, soft, corner)
        points = edge_points(self._look.patch, contour, self._look.to_ground)
        centre, radius = fit_circle(points)
        away = np.abs(np.hypot(*(points - centre).T) - radius)
        if float(np.sqrt((away**2).mean())) < max(0.12, 0.02 * radius):
            self._holes.append(RoundHole(_pair(centre), round(2 * radius, 3)))
            return
        fit = fit_edge(points, noise=edge_noise(points), blur=2.0 * self._look.pixel)
        self._openings.append(fit.ring if is_simple(fit.ring) else points)

    def _measured(self, thing: Mask, box: tuple[slice, slice]) -> tuple[tuple[float, float], float]:
        """Centre and diameter (mm) of a small round thing by how much of each pixel near it shows it: blur does not
        change their sum."""
        from scipy import ndimage

        light = self._look.patch.light[box]
        near = ndimage.binary_dilation(thing, iterations=4)
        rim = ndimage.binary_dilation(thing, iterations=6) & ~near
        card = np.median(light[rim], axis=0) if rim.any() else np.median(light[~thing], axis=0)
        deep = ndimage.distance_transform_edt(thing)
        middle = np.median(light[deep >= max(0.75 * float(deep.max()), 1.0)], axis=0)
        way = middle - card
        share = ((light - card) @ way) / max(float(way @ way), 1e-9)
        y, x = np.nonzero(near)
        weight = np.clip(share[near], -0.2, 1.2)
        total = max(float(weight.sum()), 1e-6)
        row, column = float((weight * y).sum() / total), float((weight * x).sum() / total)
        centre = self._look.ground_of(np.array([row + box[0].start]), np.array([column + box[1].start]))[0]
        return _pair(centre), round(float(2 * np.sqrt(total / np.pi) * self._look.pixel), 3)

    def _add_ink(self, thing: Mask, box: tuple[slice, slice]) -> None:
        from scipy import ndimage

        y, x = np.nonzero(thing)
        places = self._look.ground_of(y + box[0].start, x + box[1].start)
        strength = np.abs(self._look.against_card[box][thing]).max(axis=1)
        ring = _as_ring(places, strength)
        colour = self._ink_colour(thing, box)
        if ring is not None:
            self._spots.append((DrawnSpot("ring", colour, ring[0], ring[1]), places))
            return
        arrow = _as_arrow(places)
        if arrow is not None:
            self._arrows.append(arrow)
            return
        filled = ndimage.binary_fill_holes(thing)
        # Letters whose strokes lie close are compact only as long as their blur counts.
        half = self._half_strong(thing, box)
        if (
            filled.sum() <= 1.1 * thing.sum()
            and _is_compact(thing)
            and (half.sum() < FEW_STRONG or _is_compact(half))
        ):
            at, diameter = self._measured(thing, box)
            extent = float(np.ptp(places, axis=0).max()) - self._look.pixel
            if extent < 1.4 * diameter + self._look.pixel and diameter <= LARGEST_DOT:
                self._spots.append((DrawnSpot("dot", colour, at, diameter), places))
                return
        self._writing.append(_pair(places.mean(axis=0)))
        self._strokes.append(places)

    def _ink_colour(self, thing: Mask, box: tuple[slice, slice]) -> str:
        """The usual name of an ink's colour, by what it takes from the light of the template under it."""
        from scipy import ndimage

        # Coders smear tints over a few pixels; their sum stays.
        wide = ndimage.binary_dilation(thing, iterations=2)
        light = self._look.patch.light[box]
        rim = ndimage.binary_dilation(wide, iterations=2) & ~wide
        card = np.maximum(np.median(light[rim], axis=0), 1e-3)
        taken = (1 - light[wide] / card).sum(axis=0)
        left = np.clip(1 - taken / max(float(taken.max()), 1e-6), 0.0, 4.0)
        if float(left.max()) < MOST_BLACK:
            return "black"
        # What a template hardly reflects says little of the ink on it: yellow card has no blue to take away.
        seen = left * np.sqrt(card / card.max())
        hue, _, _ = colorsys.rgb_to_hsv(*(float(value) for value in seen / max(float(seen.max()), 1e-6)))
        names = (
            (0.04, "red"),
            (0.12, "orange"),
            (0.2, "yellow"),
            (0.47, "green"),
            (0.72, "blue"),
            (0.87, "violet"),
        )
        return next((name for upper, name in names if hue < upper), "red")


def _apart(one: Floats, other: Floats) -> float:
    """The least distance between two sets of places (n, 2)."""
    from scipy.spatial import cKDTree

    return float(cKDTree(one).query(other)[0].min())


def is_simple(ring: Floats) -> bool:
    """Whether a ring (n, 2) encloses something and does not cross itself."""
    import shapely

    return len(ring) >= 3 and bool(shapely.is_valid(shapely.Polygon(ring)))


def _off_ground(seen: Floats, card: Floats, ground: Floats, across: float) -> float:
    """How far, levels of 255, the tint of a colour lies off the ground's as it may look through a hole of the template.

    All colours (3,) are levels above `SHADE_OFFSET` below black; `across` is the hole's width in pixels. Blur lays some
    of the template's light into a small hole, coders run its tint into it, and it lies in the template's shade.
    """
    small = across < FEW_PIXELS
    template_tint = card - _LUMA @ card
    least = np.inf
    for mixed in np.linspace(0, MOST_MIXED, 6) if small else (0.0,):
        left = seen - mixed * card
        luma = float(_LUMA @ left)
        if luma <= 1.0:
            continue
        shade = luma / float(_LUMA @ ground)
        tint = shade * (ground - _LUMA @ ground)
        way, off = template_tint - tint, left - luma - tint
        bleed = float((off @ way) / max(float(way @ way), 1e-6))
        off = off - np.clip(bleed, 0.0, MOST_BLEED_SMALL if small else MOST_BLEED) * way
        beyond = abs(float(np.log(shade / np.clip(shade, np.exp(-DEEPEST_SHADE), np.exp(MOST_GLARE)))))
        least = min(least, float(np.hypot(_CB * off[2], _CR * off[0])) + SHADE_WEIGHT * beyond)
    return least


def _pair(point: Floats) -> tuple[float, float]:
    return round(float(point[0]), 3), round(float(point[1]), 3)


def _is_compact(thing: Mask) -> bool:
    """Whether a mask is a filled round spot, as far as its pixels tell."""
    y, x = np.nonzero(thing)
    spread = np.cov(np.column_stack([x, y]).T) + np.eye(2) / 12
    low, high = np.linalg.eigvalsh(spread)
    # A filled ellipse with these moments covers this many pixels.
    filled = 4 * np.pi * np.sqrt(low * high)
    return bool(high < 2.2 * low and 0.75 * filled < len(y) < 1.35 * filled)


def _as_ring(places: Floats, strength: Floats) -> tuple[tuple[float, float], float] | None:
    """Centre and diameter of the middle line of ink at `places` (n, 2), mm, if it is a ring."""
    if len(places) < 8:
        return None
    centre, radius = fit_circle(places, strength)
    if not LEAST_RING / 2 <= radius <= LARGEST_RING / 2:
        return None
    off = places - centre
    away = np.hypot(*off.T)
    spread = float(np.sqrt(np.average((away - radius) ** 2, weights=strength)))
    angle = np.sort(np.arctan2(off[:, 1], off[:, 0]))
    gap = float(np.diff(np.append(angle, angle[0] + 2 * np.pi)).max())
    if spread > 0.26 * radius or gap > np.radians(50) or float(away.min()) < 0.3 * radius:
        return None
    return _pair(centre), round(2 * float(np.average(away, weights=strength)), 3)


def _as_arrow(places: Floats) -> StretchArrow | None:
    """The arrow that ink at `places` (n, 2), mm, makes: a straight shaft, wider at one end."""
    middle = places.mean(axis=0)
    _, _, axes = np.linalg.svd(places - middle, full_matrices=False)
    along, across = ((places - middle) @ axis for axis in axes[:2])
    low, high = float(along.min()), float(along.max())
    length = high - low
    if length < LEAST_ARROW or float(np.ptp(across)) > 0.6 * length:
        return None
    count = 16
    bins = np.clip(((along - low) / length * count).astype(int), 0, count - 1)
    widths = np.array([np.ptp(across[bins == k]) if (bins == k).sum() > 1 else 0.0 for k in range(count)])
    middles = np.array([across[bins == k].mean() if (bins == k).any() else np.inf for k in range(count)])
    shaft = float(np.median(widths))
    heads = [float(part.max()) for part in (widths[:6], widths[-6:])]
    wider = max(heads)
    inner = widths[3:-6] if heads[1] >= heads[0] else widths[6:-3]
    straight = float(np.abs(middles - np.median(middles)).max()) < 0.12 * length
    if not straight or wider < HEAD_WIDER * max(shaft, 0.6) or shaft > 0.12 * length:
        return None
    if inner.size and float(np.quantile(inner, 0.75)) > 1.6 * max(shaft, 0.6):
        return None
    ends = [middle + low * axes[0], middle + high * axes[0]]
    if heads[0] > heads[1]:
        ends.reverse()
    return StretchArrow(_pair(ends[0]), _pair(ends[1]))
