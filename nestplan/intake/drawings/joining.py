"""From loose lines to closed rings: ends joined, doubles dropped, holes found, every mend listed.

What is slight (no point moves by more than the joining tolerance, nothing is lost) is mended and listed.
What is more than that is refused with its place, unless repairs are allowed. File formats are read elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.offset import self_meetings
from nestplan.geometry.ring import make_ring
from nestplan.intake.drawings.polylines import Points, Polyline, Repair, place_words

__all__ = ["Shape", "clean_rings", "close_polylines", "nest_rings"]

# Ends nearer than this are the same point written twice, not a gap.
_SAME = 1e-4
# With repairs allowed, gaps up to this many joining tolerances are closed.
_WIDER = 20.0
# A curve that keeps this close to a circle, mm, and has so many points, is meant as one.
_ROUND = 0.02
_ROUND_POINTS = 16
# Areas shared by neighbours that only touch, mm², stay below this.
_DUST = 0.01
# Bounds on drawings made to exhaust the machine: rings looked at together, pairs of nested rings, pairs of ends
# that lie near each other, crossings of one ring.
_CHUNK = 50
_MOST_NESTED = 200_000
_MOST_NEAR = 5_000_000
_MOST_CROSSINGS = 1_000


@dataclass(frozen=True)
class Shape:
    """A closed ring (n, 2), mm, ccw, with its layer, role and name; `holes` are the rings right inside it.

    `circle` is (x, y, diameter) where it is a true full circle, `group` the placed block it belongs to.
    """

    ring: Points
    layer: str = ""
    role: str = "outline"
    name: str = ""
    holes: tuple[Shape, ...] = ()
    circle: tuple[float, float, float] | None = None
    place: str = ""
    group: str = ""


def close_polylines(
    polylines: Sequence[Polyline], *, join: float, repair: bool
) -> tuple[list[Polyline], list[Polyline], list[Repair]]:
    """Chain open lines of one layer into closed ones: (closed, still open, repairs).

    Ends within `join` mm are moved to their middle; with `repair`, ends within twenty times that too. Raises
    ShapeError where three or more ends meet, since no one can say which belong together.
    """
    closed = [polyline for polyline in polylines if polyline.closed]
    loose = [polyline for polyline in polylines if not polyline.closed]
    chains: list[Polyline] = []
    repairs: list[Repair] = []
    for polyline in loose:
        gap = float(np.hypot(*(polyline.points[0] - polyline.points[-1])))
        if gap <= _SAME and len(polyline.points) > 3:
            chains.append(replace(polyline, points=polyline.points[:-1], closed=True))
        else:
            chains.append(polyline)
    closed += [polyline for polyline in chains if polyline.closed]
    loose = _without_doubles([polyline for polyline in chains if not polyline.closed], repairs)
    if not loose:
        return closed, [], repairs
    rings, rest = _chain(loose, join * _WIDER if repair else join, join, repairs)
    return closed + rings, rest, repairs


def _without_doubles(loose: list[Polyline], repairs: list[Repair]) -> list[Polyline]:
    """Open lines without those drawn twice, in either direction."""
    seen: set[bytes] = set()
    single = []
    for polyline in loose:
        rounded = np.round(polyline.points, 4) + 0.0
        if len(rounded) > 1 and (rounded.tobytes() in seen or rounded[::-1].tobytes() in seen):
            repairs.append(_repair("the same line drawn twice", "one of them left out", polyline.points[0]))
            continue
        seen.add(rounded.tobytes())
        single.append(polyline)
    return single


def _chain(
    loose: list[Polyline], reach: float, join: float, repairs: list[Repair]
) -> tuple[list[Polyline], list[Polyline]]:
    ends = [polyline.points[end] for polyline in loose for end in (0, -1)]
    partner = _pair_ends(np.array(ends), loose, reach, join)
    rings: list[Polyline] = []
    rest: list[Polyline] = []
    used = [False] * len(loose)
    # Begin at free ends, so that an open chain is walked from its start and not from its middle.
    order = [end // 2 for end in range(len(partner)) if partner[end] is None] + list(range(len(loose)))
    for start in order:
        if used[start]:
            continue
        entry = (
            2 * start if partner[2 * start] is None or partner[2 * start + 1] is not None else 2 * start + 1
        )
        chain: list[tuple[int, bool]] = []
        end, whole = entry, False
        while True:
            polyline = end // 2
            used[polyline] = True
            chain.append((polyline, end % 2 == 0))
            nearest = partner[end ^ 1]
            if nearest is None:
                break
            if nearest == entry:
                whole = True
                break
            end = nearest
        joined = _join(loose, chain, whole, join, repairs)
        (rings if whole else rest).append(joined)
    return rings, rest


def _pair_ends(points: Points, loose: Sequence[Polyline], reach: float, join: float) -> list[int | None]:
    """For each end the one it meets: first ends at the same point, then within `join`, then within
    `reach`."""
    lengths = [float(np.hypot(*np.diff(polyline.points, axis=0).T).sum()) for polyline in loose]
    partner: list[int | None] = [None] * len(points)
    for distance in sorted({_SAME, max(join, _SAME), max(reach, _SAME)}):
        free = np.array([end for end in range(len(points)) if partner[end] is None], dtype=np.int64)
        if len(free) < 2:
            break
        _refuse_junctions(points[free], distance)
        spots = shapely.points(points[free])
        a, b = free[shapely.STRtree(spots).query(spots, predicate="dwithin", distance=distance)]
        gaps = np.hypot(*(points[a] - points[b]).T)
        # A line no longer than the tolerance would otherwise be taken for a closed shape.
        own = (a // 2 == b // 2) & (np.take(lengths, a // 2) <= 4.0 * distance)
        keep = (a < b) & ~own
        a, b, gaps = a[keep], b[keep], gaps[keep]
        meetings = np.bincount(np.concatenate([a, b]), minlength=len(points))
        crowded = np.flatnonzero(meetings > 1)
        if len(crowded) and distance <= max(join, _SAME):
            raise _junction_error(points[crowded[0]])
        for k in np.lexsort((b, a, gaps)):
            i, j = int(a[k]), int(b[k])
            if partner[i] is None and partner[j] is None:
                partner[i], partner[j] = j, i
    return partner


def _refuse_junctions(points: Points, distance: float) -> None:
    """Refuse ends so dense that their pairs would fill the memory."""
    _, first, counts = np.unique(np.floor(points / distance), axis=0, return_index=True, return_counts=True)
    if float((counts.astype(np.float64) ** 2).sum()) * 9.0 > _MOST_NEAR + 9.0 * len(points):
        raise _junction_error(points[first[int(np.argmax(counts))]])


def _junction_error(point: Points) -> ShapeError:
    return ShapeError(
        "Three or more lines meet in one place, so it is not clear which of them form the outline.",
        mend="Put marks and slits on a layer of their own, or take doubled lines out.",
        place=place_words(point),
    )


def _join(
    loose: list[Polyline], chain: list[tuple[int, bool]], whole: bool, join: float, repairs: list[Repair]
) -> Polyline:
    """One polyline out of a chain; ends that meet are moved to their middle."""
    parts = [np.array(loose[k].points if forward else loose[k].points[::-1]) for k, forward in chain]
    seams = list(range(len(parts) - 1)) + ([len(parts) - 1] if whole else [])
    for k in seams:
        one, other = parts[k], parts[(k + 1) % len(parts)]
        gap = float(np.hypot(*(one[-1] - other[0])))
        middle = (one[-1] + other[0]) / 2.0
        if gap > _SAME:
            repairs.append(
                Repair(
                    f"a gap of {gap:.3g} mm between two ends",
                    "both moved to the middle",
                    float(middle[0]),
                    float(middle[1]),
                    gap / 2.0,
                    slight=gap <= join,
                )
            )
        one[-1] = middle
        other[0] = middle
    points = np.vstack([parts[0][:1], *(part[1:] for part in parts)])
    if whole:
        points = points[:-1]
    first = loose[chain[0][0]]
    name = next((loose[k].name for k, _ in chain if loose[k].name), "")
    return replace(first, points=points, closed=whole, circle=None, name=name)


def clean_rings(polylines: Iterable[Polyline], *, repair: bool) -> tuple[list[Shape], list[Repair]]:
    """Closed lines as checked rings: repeated points and doubled rings dropped, all turned ccw (which way
    a ring was drawn says nothing, so turning it is no repair).

    Raises ShapeError, with its place, for a ring that crosses itself or has no area; with `repair` a crossed
    ring keeps its largest part where that is at least 99 % of it, and a ring without area is dropped.
    """
    shapes: list[Shape] = []
    repairs: list[Repair] = []
    seen: dict[tuple[object, ...], int] = {}
    for polyline in polylines:
        points = _without_repeats(polyline.points)
        here = place_words(points[0])
        if len(points) < 3 or shapely.convex_hull(shapely.linestrings(points)).area < 1e-6:
            if not repair:
                raise ShapeError(
                    "A closed line has no area.",
                    mend="Take it out, or put it on a layer with the role mark or ignore.",
                    place=_where(polyline, here),
                )
            repairs.append(_repair("a closed line without area", "left out", points[0], slight=False))
            continue
        try:
            ring = make_ring(points, place=_where(polyline, ""))
        except ShapeError:
            if not repair:
                raise
            ring, lost = _largest_part(points, polyline, here)
            repairs.append(
                _repair(
                    f"an outline that crosses itself ({lost:.3g} mm² cut off)",
                    "its largest part kept",
                    points[0],
                    slight=False,
                )
            )
        key = (polyline.layer, polyline.role, *np.sort(np.round(ring, 3), axis=0).ravel().tolist())
        if key in seen:
            repairs.append(_repair("the same outline drawn twice", "one of them left out", ring[0]))
            continue
        seen[key] = len(shapes)
        circle = polyline.circle or _round(ring)
        shapes.append(
            Shape(
                ring,
                polyline.layer,
                polyline.role,
                polyline.name,
                (),
                circle,
                _where(polyline, here),
                polyline.group,
            )
        )
    return shapes, repairs


def _round(ring: Points) -> tuple[float, float, float] | None:
    """The circle (x, y, diameter) that a ring of many points follows within _ROUND mm: circles that were
    drawn as curves. None for any other ring."""
    if len(ring) < _ROUND_POINTS:
        return None
    center = (ring.min(axis=0) + ring.max(axis=0)) / 2.0
    radii = np.hypot(*(ring - center).T)
    turns = np.sort(np.arctan2(*(ring - center).T))
    if np.ptp(radii) > 2.0 * _ROUND or np.diff(turns, append=turns[0] + 2.0 * np.pi).max() > 0.5:
        return None
    return float(center[0]), float(center[1]), float(radii.min() + radii.max())


def _where(polyline: Polyline, here: str) -> str:
    return ", ".join(part for part in (polyline.place, here) if part)


def _repair(found: str, done: str, at: Points, *, slight: bool = True) -> Repair:
    return Repair(found, done, float(at[0]), float(at[1]), 0.0, slight)


def _without_repeats(points: Points) -> Points:
    step = np.hypot(*(points - np.roll(points, 1, axis=0)).T)
    keep = step > 1e-7
    return points[keep] if keep.any() else points[:1]


def _largest_part(points: Points, polyline: Polyline, here: str) -> tuple[Points, float]:
    if self_meetings(np.concatenate((points, points[:1])), most=_MOST_CROSSINGS) > _MOST_CROSSINGS:
        raise ShapeError(
            "An outline crosses itself too often to be mended.",
            mend="Redraw it.",
            place=_where(polyline, here),
        )
    mended = shapely.make_valid(shapely.Polygon(points), method="structure")
    parts = [part for part in shapely.get_parts(mended).tolist() if part.geom_type == "Polygon"]
    flat = [poly for part in parts for poly in shapely.get_parts(part).tolist()]
    largest = max(flat, key=lambda part: part.area, default=None)
    total = sum(part.area for part in flat)
    if largest is None or largest.area < 0.99 * total or len(largest.interiors):
        raise ShapeError(
            "An outline crosses itself, and no part of it is plainly the whole.",
            mend="Redraw it without crossings.",
            place=_where(polyline, here),
        )
    return make_ring(np.asarray(largest.exterior.coords)[:-1]), float(total - largest.area)


def nest_rings(shapes: Sequence[Shape]) -> list[Shape]:
    """Outlines with the holes right inside them.

    A ring with the role hole is one; any other lies in an outline and is a hole, or lies in none (or in a
    hole) and is an outline itself. Raises ShapeError where two rings cross, or a hole has no outline.
    """
    if not shapes:
        return []
    rings = [shapely.Polygon(shape.ring) for shape in shapes]
    parents = _enclosing_rings(shapes, rings)
    roles: list[str] = [""] * len(shapes)
    holes: dict[int, list[Shape]] = {}
    order = sorted(range(len(shapes)), key=lambda k: -rings[k].area)
    for k in order:
        parent = parents[k]
        by_place = "hole" if parent is not None and roles[parent] == "outline" else "outline"
        roles[k] = "hole" if shapes[k].role == "hole" else by_place
        if roles[k] == "hole":
            owner = parent
            while owner is not None and roles[owner] != "outline":
                owner = parents[owner]
            if owner is None:
                raise ShapeError(
                    "A hole lies in no outline.",
                    mend="Draw the outline round it, or give its layer another role.",
                    place=shapes[k].place,
                )
            holes.setdefault(owner, []).append(replace(shapes[k], role="hole"))
    return [
        replace(shapes[k], role="outline", holes=tuple(holes.get(k, ())))
        for k in range(len(shapes))
        if roles[k] == "outline"
    ]


def _enclosing_rings(shapes: Sequence[Shape], rings: list[shapely.Polygon]) -> list[int | None]:
    """For each ring the smallest ring round it. Raises ShapeError where two rings cross."""
    tree = shapely.STRtree(rings)
    areas = shapely.area(rings)
    parents: list[int | None] = [None] * len(rings)
    seen = 0
    for start in range(0, len(rings), _CHUNK):
        inner, outer = tree.query(rings[start : start + _CHUNK], predicate="intersects")
        inner = inner + start
        smaller = (areas[inner] < areas[outer]) | ((areas[inner] == areas[outer]) & (inner > outer))
        inner, outer = inner[smaller & (inner != outer)], outer[smaller & (inner != outer)]
        seen += len(inner)
        if seen > _MOST_NESTED:
            raise InputError(
                "Too many shapes lie inside or across each other.",
                mend="Save only the outlines to a file of their own.",
                place=shapes[start].place,
            )
        for i, o in zip(inner.tolist(), outer.tolist(), strict=True):
            if not _lies_in(rings[i], rings[o]):
                continue
            best = parents[i]
            if best is None or areas[o] < areas[best]:
                parents[i] = o
    return parents


def _lies_in(inner: shapely.Polygon, outer: shapely.Polygon) -> bool:
    """Whether one ring lies in the other, edges that touch allowed. Raises ShapeError where they cross."""
    if outer.covers(inner):
        return True
    shared = shapely.intersection(inner, outer).area
    if shared >= inner.area * (1.0 - 1e-6) - 1e-3:
        return True
    if shared > _DUST:
        crossing = shapely.get_coordinates(shapely.intersection(inner.exterior, outer.exterior))
        raise ShapeError(
            "Two outlines cross each other.",
            mend="Move them apart, or put one on a layer with the role mark or ignore.",
            place=place_words(crossing[0] if len(crossing) else inner.exterior.coords[0]),
        )
    return False
