"""Closed rings as arrays: checked, measured, grown, shrunk and simplified.

A ring is a float64 array of shape (n, 2) in mm, counter-clockwise, its first point not repeated. `make_ring`
is the one door for points that come from outside; every other function takes what it gives and gives the
same. Functions that could cut too deep or too shallow say on which side they err: never inside a grown shape,
never outside a shrunk one. The growing itself is in `nestplan.geometry.offset`; turning and moving is in
`nestplan.geometry.pose`.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.offset import band_about, chords_of_turn, offset_faces, outer_offset, self_meetings

if TYPE_CHECKING:
    import shapely

__all__ = [
    "FARTHEST_MM",
    "MOST_POINTS",
    "Ring",
    "area",
    "bounds",
    "centroid",
    "disc_ring",
    "joint_area",
    "line_ring",
    "make_ring",
    "mirror",
    "offset_inward",
    "offset_outward",
    "perimeter",
    "separate_openings",
    "signed_area",
    "simplify_inside",
    "simplify_outside",
    "to_polygon",
    "to_rings",
]

Ring = npt.NDArray[np.float64]

MOST_POINTS = 100_000
FARTHEST_MM = 100_000.0

_MOST_MEETINGS = 5_000
"""Pairs of edges of one line that may meet: it takes a second to tell what a line of so many covers."""

_JOINED_MM = 1e-3
"""Points nearer than a micrometre are one: no tool draws finer, and edges so short have no direction."""


def make_ring(points: npt.ArrayLike, *, place: str = "") -> Ring:
    """The ring through `points`, (n, 2) in mm, as a checked counter-clockwise array.

    A repeated closing point and points within a micrometre of their forerunner are dropped; a clockwise ring is
    turned round. Raises ShapeError (with `place`, and the spot in mm where there is one) if fewer than three points
    are left, if there are more than MOST_POINTS, if a figure is not finite or is beyond FARTHEST_MM, if the
    ring crosses or touches itself, or if it encloses nothing.
    """
    try:
        ring = np.array(points, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ShapeError(
            "An outline is a list of [x, y] pairs of numbers.", mend="Check each point.", place=place
        ) from error
    if ring.ndim != 2 or ring.shape[1] != 2:
        raise ShapeError(
            "An outline is a list of [x, y] pairs.", mend="Give at least three points.", place=place
        )
    if len(ring) > MOST_POINTS:
        raise ShapeError(
            f"The outline has {len(ring):,} points; {MOST_POINTS:,} is the most.",
            mend="Simplify it before reading it in.",
            place=place,
        )
    if not np.isfinite(ring).all():
        spot = int(np.argmin(np.isfinite(ring).all(axis=1)))
        raise ShapeError(f"Point {spot + 1} of the outline is no finite number.", place=place)
    if (np.abs(ring) > FARTHEST_MM).any():
        raise ShapeError(
            f"The outline reaches farther than {FARTHEST_MM / 1000:g} m from the origin.",
            mend="Check the unit: lengths are millimetres.",
            place=place,
        )
    ring = _joined(ring)
    if len(ring) < 3:
        raise ShapeError(
            f"The outline has {len(ring)} different point{'' if len(ring) == 1 else 's'}.",
            mend="An outline needs at least three.",
            place=place,
        )
    _refuse_crossings(ring, place)
    return ring if signed_area(ring) > 0 else np.ascontiguousarray(ring[::-1])


def signed_area(ring: Ring) -> float:
    """The area enclosed by the ring in mm², negative where it runs clockwise (the shoelace formula)."""
    x, y = (ring - ring[0]).T
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def area(ring: Ring) -> float:
    """The area enclosed by the ring in mm², whichever way it runs."""
    return abs(signed_area(ring))


def perimeter(ring: Ring) -> float:
    """The length of the closed ring in mm."""
    edges = np.roll(ring, -1, axis=0) - ring
    return float(np.hypot(edges[:, 0], edges[:, 1]).sum())


def bounds(ring: Ring) -> tuple[float, float, float, float]:
    """The least x, least y, greatest x and greatest y of the ring, mm."""
    (xmin, ymin), (xmax, ymax) = ring.min(axis=0), ring.max(axis=0)
    return float(xmin), float(ymin), float(xmax), float(ymax)


def centroid(ring: Ring) -> tuple[float, float]:
    """The centre of gravity of the enclosed area, mm; it may lie outside a hollow ring."""
    origin = ring[0]
    x, y = (ring - origin).T
    next_x, next_y = np.roll(x, -1), np.roll(y, -1)
    cross = x * next_y - next_x * y
    scale = 3.0 * cross.sum()
    return (
        float(origin[0] + ((x + next_x) * cross).sum() / scale),
        float(origin[1] + ((y + next_y) * cross).sum() / scale),
    )


def mirror(ring: Ring) -> Ring:
    """The mirror image of the ring across the y axis (x becomes -x), counter-clockwise again."""
    return np.ascontiguousarray(ring[::-1]) * (-1.0, 1.0)


def separate_openings(rings: Sequence[Ring]) -> tuple[Ring, ...]:
    """Rings of the same openings, none of which overlap or share an edge: those that do are one, and what they enclose
    belongs to it, for it falls out with them."""
    if len(rings) > 1:
        import shapely

        areas = [shapely.Polygon(ring) for ring in rings]
        if not shapely.MultiPolygon(areas).is_valid:
            parts = shapely.get_parts(shapely.union_all(areas))
            whole = shapely.union_all([shapely.Polygon(part.exterior) for part in parts])
            return tuple(to_rings(part)[0] for part in shapely.get_parts(whole))
    return tuple(rings)


def joint_area(rings: Sequence[Ring]) -> float:
    """Area of the openings with these rings, mm²; what several share counts once, what they enclose with them."""
    return sum(area(ring) for ring in separate_openings(rings))


def to_polygon(ring: Ring, holes: Sequence[Ring] = ()) -> shapely.Polygon:
    """The area inside `ring` less the areas inside `holes`, as a shapely Polygon."""
    import shapely

    return shapely.Polygon(ring, holes)


def to_rings(polygon: shapely.Polygon) -> tuple[Ring, tuple[Ring, ...]]:
    """The outer ring and the hole rings of a shapely Polygon, each counter-clockwise."""
    if polygon.is_empty:
        raise ShapeError("An empty area has no outline.")
    return _ring_of(polygon.exterior), tuple(_ring_of(hole) for hole in polygon.interiors)


def offset_outward(ring: Ring, distance: float, tolerance: float = 0.05) -> Ring:
    """The outer outline of all points within `distance` mm of the ring's area (its Minkowski sum with a
    disc).

    Arcs are drawn as tangent chords, so the polyline is never inside the true offset and at most `tolerance`
    mm outside it; straight edges are exact. Notches that the growing closes off are filled: only the outer
    outline is kept. `distance` 0 gives the ring itself. The same one is asked for again and again, by rules, search and
    pictures: it is remembered. Raises InputError where `distance` is negative or `tolerance` is not positive.
    """
    _refuse_bad_offset(distance, tolerance)
    if distance <= 0:
        return ring.copy()
    return _offset_outward(np.ascontiguousarray(ring, np.float64).tobytes(), distance, tolerance).copy()


@functools.lru_cache(maxsize=1024)
def _offset_outward(points: bytes, distance: float, tolerance: float) -> Ring:
    return outer_offset(np.frombuffer(points).reshape(-1, 2), distance, tolerance)


def offset_inward(ring: Ring, distance: float, tolerance: float = 0.05) -> list[Ring]:
    """The outlines of the points of the ring's area at least `distance` mm from its edge (its erosion by a
    disc).

    None, one or several rings, the largest first. Never outside the true erosion and at most `tolerance` mm
    inside it, other than that parts below a millionth of a mm² are left out. `distance` 0 gives the ring
    itself. Raises InputError where `distance` is negative or `tolerance` is not positive.
    """
    _refuse_bad_offset(distance, tolerance)
    return offset_faces(ring, distance, tolerance) if distance > 0 else [ring.copy()]


def simplify_outside(ring: Ring, tolerance: float) -> Ring:
    """A ring with fewer points that contains `ring` and is nowhere more than `tolerance` mm outside it.

    The ring is thinned by the rule of Douglas and Peucker (1973), then grown by just as much as the thinning
    cut away, and the outcome is checked. Where that saves nothing the ring itself is given.
    """
    return _simplify(ring, tolerance, "outside")


def simplify_inside(ring: Ring, tolerance: float) -> Ring:
    """A ring with fewer points that lies within `ring` and is nowhere more than `tolerance` mm inside it.

    The counterpart of `simplify_outside`: thinned, shrunk by as much as the thinning added, and checked.
    Where that would part the ring in two or saves nothing the ring itself is given.
    """
    return _simplify(ring, tolerance, "inside")


def disc_ring(
    center: Sequence[float],
    radius: float,
    tolerance: float = 0.05,
    side: Literal["outside", "inside"] = "outside",
) -> Ring:
    """A regular polygon round a disc, or inscribed in it, at most `tolerance` mm from the circle; 8 sides or
    more.

    `side` says on which side of the circle the polygon errs. Raises InputError where `radius` or `tolerance`
    is not positive.
    """
    if not (radius > 0 and math.isfinite(radius)):
        raise InputError(f"A disc needs a radius above zero, not {radius:g} mm.")
    _refuse_bad_offset(radius, tolerance)
    if side == "outside":
        sides = max(8, int(chords_of_turn(np.array([2.0 * math.pi]), radius, tolerance)[0]))
        reach = radius / math.cos(math.pi / sides)
    elif side == "inside":
        sides = max(8, math.ceil(math.pi / math.acos(max(0.0, 1.0 - tolerance / radius))))
        reach = radius
    else:
        raise InputError(f"A polygon lies outside or inside its circle, not {side!r}.")
    turns = np.arange(sides) * (2.0 * math.pi / sides)
    return np.asarray(center, dtype=np.float64) + reach * np.column_stack((np.cos(turns), np.sin(turns)))


def line_ring(points: npt.ArrayLike, width: float, tolerance: float = 0.05) -> Ring:
    """The outline of all points within `width / 2` mm of the open line through `points` (a slit, a scratch, a
    cut).

    Never inside the true band and at most `tolerance` mm outside it; what the line encloses, if it comes back
    to itself, is filled. Points within a micrometre of each other are one; a single point gives a disc. Raises
    ShapeError where the points are no finite pairs or the line crosses itself thousands of times, InputError where
    `width` is not positive.
    """
    line = np.asarray(points, dtype=np.float64)
    if line.ndim != 2 or line.shape[1] != 2 or len(line) == 0 or not np.isfinite(line).all():
        raise ShapeError("A line is a list of finite [x, y] pairs.", mend="Give at least two points.")
    if not (width > 0 and math.isfinite(width)):
        raise InputError(f"A line needs a width above zero, not {width:g} mm.")
    line = _joined_line(line)
    if len(line) == 1:
        return disc_ring((float(line[0, 0]), float(line[0, 1])), width / 2, tolerance)
    _refuse_bad_offset(width, tolerance)
    if self_meetings(line, most=_MOST_MEETINGS) > _MOST_MEETINGS:
        raise ShapeError("The line crosses itself too often.", mend="Draw the outline of what it covers.")
    return band_about(line, width / 2, tolerance)


def _joined(ring: Ring) -> Ring:
    """The ring without points nearer than _JOINED_MM to the last one kept, the first one counted after the last."""
    kept = _joined_line(ring)
    while len(kept) > 1 and math.dist(kept[-1], kept[0]) <= _JOINED_MM:
        kept = kept[:-1]
    return np.ascontiguousarray(kept)


def _joined_line(line: Ring) -> Ring:
    """The open line without points nearer than _JOINED_MM to the last one kept."""
    if len(line) < 2 or (np.hypot(*np.diff(line, axis=0).T) > _JOINED_MM).all():
        return line
    kept = [0]
    for number in range(1, len(line)):
        if math.dist(line[number], line[kept[-1]]) > _JOINED_MM:
            kept.append(number)
    return line[kept]


def _refuse_crossings(ring: Ring, place: str) -> None:
    """Raise ShapeError, with the spot, where the ring crosses or touches itself or encloses nothing."""
    import shapely

    polygon = shapely.Polygon(ring)
    if not shapely.is_valid(polygon):
        reason = str(shapely.is_valid_reason(polygon))
        found = re.search(r"\[(\S+) (\S+)\]", reason)
        spot = f" at ({float(found[1]):.1f}, {float(found[2]):.1f}) mm" if found else ""
        raise ShapeError(
            f"The outline crosses or touches itself{spot}.", mend="Mend the outline there.", place=place
        )
    if area(ring) <= 0:
        raise ShapeError("The outline encloses no area.", mend="Check its points.", place=place)


def _refuse_bad_offset(distance: float, tolerance: float) -> None:
    if not (distance >= 0 and math.isfinite(distance)):
        raise InputError(f"A distance to grow or shrink by cannot be {distance:g} mm.")
    if not (tolerance > 0 and math.isfinite(tolerance)):
        raise InputError(f"A tolerance is above zero, not {tolerance:g} mm.")


def _ring_of(linear_ring: shapely.LinearRing) -> Ring:
    ring = np.array(linear_ring.coords, dtype=np.float64)[:-1, :2]
    return ring if signed_area(ring) > 0 else np.ascontiguousarray(ring[::-1])


def _simplify(ring: Ring, tolerance: float, side: Literal["outside", "inside"]) -> Ring:
    """Thin at a share of `tolerance`, move to the safe side by what the thinning did; smaller shares if it
    fails.
    """
    import shapely

    _refuse_bad_offset(0.0, tolerance)
    whole = shapely.Polygon(ring)
    for share in (0.5, 0.25, 0.1):
        thin = shapely.simplify(whole, tolerance * share, preserve_topology=True)
        if thin.is_empty or len(thin.exterior.coords) > len(ring):
            return ring.copy()
        thin_ring = _ring_of(thin.exterior)
        points, kept_by = (ring, thin) if side == "outside" else (thin_ring, whole)
        # Of what lies beyond, corners are farthest; where that misses something, the check below finds it.
        strayed = float(shapely.distance(kept_by, shapely.points(points)).max())
        strayed = min(strayed, tolerance * share) + 1e-7
        room = tolerance - strayed
        if side == "outside":
            moved: Ring | None = outer_offset(thin_ring, strayed, room)
        else:
            faces = offset_faces(thin_ring, strayed, room)
            # Specks that the shrinking cuts off may go; a ring that falls in two is left as it is.
            moved = faces[0] if faces and area(faces[0]) > 0.999 * sum(map(area, faces)) else None
        if moved is None or len(moved) >= len(ring):
            continue
        polygon = shapely.Polygon(moved)
        fits = polygon.covers(whole) if side == "outside" else whole.covers(polygon)
        if fits and polygon.is_valid:
            return moved
    return ring.copy()
