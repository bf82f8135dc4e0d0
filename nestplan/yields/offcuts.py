"""What is left of a hide: the parts worth keeping, and what could still be cut from them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence

import msgspec
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.errors import InputError
from nestplan.geometry.areas import simplified_inside
from nestplan.geometry.inscribed import largest_disc, opening
from nestplan.geometry.rectangle import Rectangle, largest_rectangle
from nestplan.geometry.ring import to_rings
from nestplan.geometry.roughness import area_without_bumps
from nestplan.model.plan import Offcut
from nestplan.model.values import as_points

__all__ = [
    "LACE_HOLE",
    "LACE_TAIL",
    "LACE_WIDTH",
    "disc_lace",
    "largest_of_each_hide",
    "measured_offcuts",
    "offcuts_of",
    "straight_lace",
]

LACE_WIDTH = 6.35
"""mm: the usual width of lace, about 1/4 in (common practice, no source)."""
LACE_HOLE = 50.8
LACE_TAIL = 101.6
"""mm: the hole in the middle of a disc where spiral lace must end, 2 in, and the tail that starts it and is cut
off, 3 to 4 in (a published how-to, leatherworker.net, Making lace)."""

_SEARCHED = 2
_DISC_TOLERANCE = 0.5

_MANY_POINTS = 1000
"""Points from which what is left is drawn with fewer before it is opened, inside it by twice `_HAIR` at most."""

_HAIR = 0.25
"""mm by which an offcut's outline is drawn inside what is really left."""


def offcuts_of(
    hide: str,
    left: BaseGeometry,
    useful_width: float,
    lace_width: float = LACE_WIDTH,
    *,
    measured: bool = True,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[Offcut, ...]:
    """The parts of `left` (mm) that a disc of `useful_width` mm reaches, largest first, with what each still
    gives (`measured_offcuts`).

    Without `measured` only outlines and areas are given, which takes a fraction of the time; so they are of what is
    left once `stop` says so.
    """
    # Drawn a hair inside, so that fewer points suffice and none lies beyond what is left.
    if shapely.get_num_coordinates(left) > _MANY_POINTS:
        left = simplified_inside(area_without_bumps(left), 2.0 * _HAIR)
    drawn = shapely.simplify(shapely.buffer(opening(left, useful_width), -_HAIR, quad_segs=4), 0.8 * _HAIR)
    parts = sorted(shapely.get_parts(drawn), key=lambda part: -part.area)
    smallest = math.pi / 4 * (0.9 * useful_width) ** 2
    found = tuple(_outlined(hide, part) for part in parts if part.area >= smallest)
    return measured_offcuts(found, lace_width, stop=stop) if measured else found


def measured_offcuts(
    offcuts: Sequence[Offcut], lace_width: float = LACE_WIDTH, *, stop: Callable[[], bool] = lambda: False
) -> tuple[Offcut, ...]:
    """The same offcuts, those of each hide with the largest first, with what each still gives; the largest of all are
    measured first, and once `stop` says so the rest is left as it is.

    Of each its largest rectangle and largest disc, both wholly inside it, and mm of lace `lace_width` mm wide: the
    better of a spiral from the disc and straight strips from the rectangle. From the third offcut of a hide on, the
    rectangle is sought only at the turn of the offcut's least enclosing rectangle. What is measured already is not
    measured again.
    """
    found = list(offcuts)
    rank_on_hide: Counter[str] = Counter()
    searched = []
    for offcut in offcuts:
        searched.append(rank_on_hide[offcut.hide] < _SEARCHED)
        rank_on_hide[offcut.hide] += 1
    for number in sorted(range(len(found)), key=lambda number: -found[number].area):
        if found[number].rectangle_width > 0.0:
            continue
        if stop():
            break
        found[number] = _measured(found[number], lace_width, searched=searched[number])
    return tuple(found)


def largest_of_each_hide(offcuts: Iterable[Offcut]) -> dict[str, float]:
    """Area of the largest offcut of each hide that has one, mm²: what keeping one large offcut is measured by."""
    largest: dict[str, float] = {}
    for offcut in offcuts:
        largest[offcut.hide] = max(largest.get(offcut.hide, 0.0), offcut.area)
    return largest


def disc_lace(diameter: float, width: float, *, hole: float = LACE_HOLE, tail: float = LACE_TAIL) -> float:
    """Length of lace in mm cut round and round from a disc: pi/4 (D² - d²) / w, less the starting tail.

    `hole` d is the diameter left in the middle. Geometry only: pulling lengthens lace by narrowing it, and
    that is not promised. 0 where the disc is too small. Raises InputError for a width that is not positive.
    """
    if not width > 0:
        raise InputError(f"Lace needs a width above zero, not {width:g} mm.")
    return max(0.0, math.pi / 4 * (diameter**2 - hole**2) / width - tail)


def straight_lace(rectangle: Rectangle, width: float) -> float:
    """Total length in mm of straight strips `width` mm wide, side by side along the rectangle's longer side."""
    if not width > 0:
        raise InputError(f"Lace needs a width above zero, not {width:g} mm.")
    return math.floor(rectangle.height / width + 1e-9) * rectangle.width


def _measured(offcut: Offcut, lace_width: float, *, searched: bool) -> Offcut:
    part = shapely.Polygon(offcut.outline, offcut.holes)
    disc = largest_disc(part, _DISC_TOLERANCE)
    rectangle = (
        largest_rectangle(part) if searched else largest_rectangle(part, angle=_long_turn(part), polish=False)
    )
    lace = max(disc_lace(2 * disc[2], lace_width), straight_lace(rectangle, lace_width))
    return msgspec.structs.replace(
        offcut,
        rectangle=as_points(rectangle.corners),
        rectangle_width=rectangle.width,
        rectangle_height=rectangle.height,
        disc=disc,
        lace=lace,
    )


def _outlined(hide: str, part: shapely.Polygon) -> Offcut:
    outline, holes = to_rings(part)
    return Offcut(
        hide=hide,
        outline=as_points(outline),
        holes=tuple(as_points(hole) for hole in holes),
        area=float(part.area),
    )


def _long_turn(part: shapely.Polygon) -> float:
    """Direction in degrees of the first side of the least enclosing rectangle."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(part))
    x, y = corners[1] - corners[0]
    return math.degrees(math.atan2(y, x))
