"""Growing and shrinking a ring by a disc, with arcs drawn on the safe side.

A ring's raw offset runs along its edges moved sideways, round an arc at each vertex that sticks out, and
through the vertex itself where it turns in; the grown area is where that curve winds at least once, the
shrunk area where it winds exactly once the other way (Chen and McMains, Polygon offsetting by computing
winding numbers, 2005). Arcs are replaced by tangent chords, so the polyline encloses the true arc. GEOS's own
buffer is not used: its chords cut inside the arc, and it first smooths the outline by a hundredth of the
distance.

Checks of input and the public names are in `nestplan.geometry.ring`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import shapely

Ring = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

__all__ = ["band_about", "chords_of_turn", "offset_faces", "outer_offset", "self_meetings", "without_repeats"]

_SMALLEST_FACE_MM2 = 1e-6
_ROUNDING_MM = 1e-7
_SAME_POINT_MM = 1e-9
_QUARTER_SEGMENTS = 16
_EDGES_AT_ONCE = 50


def outer_offset(ring: Ring, distance: float, tolerance: float) -> Ring:
    """The outer outline of the ring grown by `distance` > 0 mm, at most `tolerance` mm outside the true one.

    `ring` (n, 2) mm is counter-clockwise, or an open line walked there and back. Holes are filled.
    """
    import shapely

    ring = without_repeats(ring)
    safe = distance + min(_ROUNDING_MM, tolerance / 4)
    line = shapely.linestrings(np.concatenate((ring, ring[:1])))
    trimmed = _trimmed_curve(ring, safe, tolerance - (safe - distance))
    if trimmed is not None and _keeps_off(trimmed, line, distance):
        return trimmed
    faces = _faces(_raw_curve(ring, safe, tolerance - (safe - distance)))
    try:
        parts = shapely.get_parts(shapely.coverage_union_all(faces))
    except shapely.GEOSException:
        parts = faces[:0]
    if len(parts):
        # Rounding may leave specks beside the one true part.
        sizes = shapely.area(shapely.polygons(shapely.get_exterior_ring(parts)))
        found = _counter_clockwise(parts[int(np.argmax(sizes))].exterior)
        if _keeps_off(found, line, distance):
            return found
    return _buffered(ring, line, safe)


def band_about(line: Ring, distance: float, tolerance: float) -> Ring:
    """The outer outline of all within `distance` > 0 mm of an open line (n, 2), at most `tolerance` mm too far out.

    Where the line's points are many and near each other for its width, its offset curve crosses itself far more often
    than the line does; so what lies about each of its edges is made by itself, and they are put together.
    """
    import shapely

    safe = distance + min(_ROUNDING_MM, tolerance / 4)
    spare = tolerance - (safe - distance)
    there_and_back = without_repeats(np.concatenate((line, line[-2:0:-1])))
    trimmed = _trimmed_curve(there_and_back, safe, spare)
    if trimmed is not None and _keeps_off(trimmed, shapely.linestrings(line), distance):
        return trimmed
    whole = shapely.union_all(shapely.polygons(_about_edges(line, safe, spare)))
    largest = max(shapely.get_parts(whole), key=shapely.area)
    return _counter_clockwise(largest.exterior)


def _about_edges(line: Ring, distance: float, tolerance: float) -> Ring:
    """The closed outlines (n - 1, m, 2) of what lies within `distance` of each edge of a line (n, 2)."""
    start, end = line[:-1], line[1:]
    along = end - start
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    count = int(chords_of_turn(np.array([math.pi]), distance, tolerance)[0])
    angle = (np.arange(count) + 0.5) * (math.pi / count)
    reach = distance / math.cos(math.pi / (2.0 * count))
    c, s = np.cos(angle), np.sin(angle)
    x, y = along[:, 1:], -along[:, :1]
    about_end = reach * np.stack((c * x - s * y, s * x + c * y), axis=-1)
    outline = np.concatenate((end[:, None] + about_end, start[:, None] - about_end), axis=1)
    closed: Ring = np.concatenate((outline, outline[:, :1]), axis=1)
    return closed


def self_meetings(line: Ring, *, most: int) -> int:
    """How many pairs of edges of a line (n, 2) that are not neighbours meet, counted up to a little over `most`.

    What costs time with a line that crosses itself, or runs along itself, grows with them.
    """
    import shapely

    edges = shapely.linestrings(np.stack((line[:-1], line[1:]), axis=1))
    tree = shapely.STRtree(edges)
    found = 0
    for first in range(0, len(edges), _EDGES_AT_ONCE):
        one, other = tree.query(edges[first : first + _EDGES_AT_ONCE], predicate="intersects")
        found += int((other > one + first + 1).sum())
        if found > most:
            break
    return found


def _keeps_off(offset: Ring, line: shapely.LineString, distance: float) -> bool:
    """Whether the offset ring encloses the line and keeps the distance from it, but for rounding."""
    import shapely

    edge = shapely.linearrings(offset)
    if shapely.distance(edge, line) < distance * (1.0 - 1e-9) - _ROUNDING_MM:
        return False
    return bool(shapely.contains_xy(shapely.polygons(edge), *shapely.get_coordinates(line)[0]))


def _buffered(ring: Ring, line: shapely.LineString, distance: float) -> Ring:
    """The outer outline of what lies within `distance` of the ring by GEOS's buffer, its chords outside the arcs.

    For rings so near to themselves that their offset curve cannot be cut into faces; up to 0.3 % of the distance
    too far out.
    """
    import shapely

    whole = shapely.polygons(ring) if len(ring) > 2 else line
    area = whole if shapely.is_valid(whole) and shapely.area(whole) > 0 else line
    # One chord may span one and a half of the angles that a quarter is parted into.
    reach = distance / math.cos(0.75 * math.pi / 2 / _QUARTER_SEGMENTS)
    grown = shapely.get_parts(shapely.buffer(area, reach, quad_segs=_QUARTER_SEGMENTS))
    largest = grown[int(np.argmax(shapely.area(grown)))]
    return _counter_clockwise(largest.exterior)


def offset_faces(ring: Ring, distance: float, tolerance: float) -> list[Ring]:
    """The outlines of the ring's area shrunk by `distance` > 0 mm, the largest first.

    `ring` (n, 2) mm is counter-clockwise. At most `tolerance` mm inside the true erosion, never outside it.
    """
    import shapely

    safe = distance + min(_ROUNDING_MM, tolerance / 4)
    backwards = np.ascontiguousarray(without_repeats(ring)[::-1])
    trimmed = _trimmed_curve(backwards, safe, tolerance - (safe - distance))
    if trimmed is not None:
        return [np.ascontiguousarray(trimmed[::-1])]
    curve = _raw_curve(backwards, safe, tolerance - (safe - distance))
    faces = _faces(curve)
    faces = faces[shapely.area(faces) > _SMALLEST_FACE_MM2]
    if len(faces) == 0:
        return []
    spots = shapely.point_on_surface(faces)
    whole = shapely.polygons(ring)
    shapely.prepare(whole)
    # Spots too near the ring are out at once; of the rest the winding tells, which is dearer to find.
    far = shapely.contains(whole, spots) & (shapely.distance(whole.exterior, spots) >= distance)
    faces, spots = faces[far], shapely.get_coordinates(spots[far])
    kept = faces[[_winding(curve, spot) == -1 for spot in spots]] if len(faces) else faces
    kept = kept[np.argsort(-shapely.area(kept), kind="stable")]
    return [_counter_clockwise(face.exterior) for face in kept]


def without_repeats(ring: Ring) -> Ring:
    """`ring` without points that equal the one before them, the last point against the first included."""
    if len(ring) == 0:
        return ring
    steps = np.abs(ring - np.roll(ring, 1, axis=0)).max(axis=1)
    kept: Ring = ring[steps > _SAME_POINT_MM]
    return kept if len(kept) else ring[:1]


def chords_of_turn(turn: Ring, distance: float, tolerance: float) -> Counts:
    """How many tangent chords an arc of `turn` radians (k,) at `distance` needs to stay within `tolerance` of
    it.

    A chord tangent to the arc at its middle and spanning the angle a ends at distance / cos(a/2).
    """
    widest = 2.0 * math.acos(distance / (distance + tolerance))
    # Two chords at least beyond a right angle and a half, or the corner of a hairpin would lie at infinity.
    least = np.where(turn > 0.75 * math.pi, 2, 1)
    return np.maximum(least, np.ceil(turn / widest - 1e-9)).astype(np.int64)


def _edges(ring: Ring) -> tuple[Ring, Ring, Ring]:
    """Unit directions (n, 2) of the edges leaving each vertex, their outward normals, and the turn at each
    vertex.

    Turns are radians in (-pi, pi], positive where the vertex sticks out of a counter-clockwise ring; a
    hairpin counts as sticking out.
    """
    along = np.roll(ring, -1, axis=0) - ring
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    before = np.roll(along, 1, axis=0)
    cross = before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0]
    dot = (before * along).sum(axis=1)
    turn = np.where((cross == 0) & (dot < 0), math.pi, np.arctan2(cross, dot))
    return along, np.column_stack((along[:, 1], -along[:, 0])), turn


def _arc_points(ring: Ring, before: Ring, turn: Ring, count: Counts, reach: Ring) -> Ring:
    """The ends of the tangent chords round the vertices of `ring` (k, 2), `count` of them at each, in order.

    `before` (k, 2) is the unit normal where the arc starts, `reach` (k,) the distance of the chord ends.
    """
    owner = np.repeat(np.arange(len(ring)), count)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    angle = (step + 0.5) * (turn / count)[owner]
    c, s = np.cos(angle), np.sin(angle)
    x, y = before[owner].T
    points: Ring = ring[owner] + reach[owner][:, None] * np.column_stack((c * x - s * y, s * x + c * y))
    return points


def _corners(ring: Ring, distance: float, tolerance: float, turned_in: int) -> Ring:
    """The offset curve's points for all vertices: tangent chords where they stick out, `turned_in` where they
    do not.

    `turned_in` 3 gives edge end, vertex, edge start; 1 gives the crossing of the two moved edges.
    """
    _, normal, turn = _edges(ring)
    before = np.roll(normal, 1, axis=0)
    out = turn >= 0
    count = np.where(out, chords_of_turn(np.maximum(turn, 0.0), distance, tolerance), turned_in)
    first = np.cumsum(count) - count
    curve = np.empty((int(count.sum()), 2))
    rows = np.repeat(out, count)
    half = np.cos(turn[out] / (2.0 * count[out]))
    curve[rows] = _arc_points(ring[out], before[out], turn[out], count[out], distance / half)
    if turned_in == 3:
        curve[first[~out]] = ring[~out] + distance * before[~out]
        curve[first[~out] + 1] = ring[~out]
        curve[first[~out] + 2] = ring[~out] + distance * normal[~out]
    else:
        middle = before[~out] + normal[~out]
        curve[first[~out]] = ring[~out] + middle * (2.0 * distance / (middle**2).sum(axis=1))[:, None]
    return curve


def _raw_curve(ring: Ring, distance: float, tolerance: float) -> Ring:
    """The closed raw offset curve (m, 2): it crosses itself where the ring turns in or comes near itself."""
    return _corners(ring, distance, tolerance, 3)


def _trimmed_curve(ring: Ring, distance: float, tolerance: float) -> Ring | None:
    """The offset curve with neighbouring moved edges cut at their crossing, or None if that is not the
    offset.

    It is the offset if every moved edge still runs its way and the curve crosses itself nowhere; most rings
    without narrow notches pass, at a tenth of the cost of finding crossings.
    """
    import shapely

    along, _, turn = _edges(ring)
    if (turn < -0.9 * math.pi).any():
        return None
    curve = _corners(ring, distance, tolerance, 1)
    count = np.where(turn >= 0, chords_of_turn(np.maximum(turn, 0.0), distance, tolerance), 1)
    last = np.cumsum(count) - 1
    after = np.roll(curve, -1, axis=0)[last] - curve[last]
    if ((after * along).sum(axis=1) <= 0).any():
        return None
    closed = np.concatenate((curve, curve[:1]))
    return curve if shapely.is_simple(shapely.linestrings(closed)) else None


def _faces(curve: Ring) -> npt.NDArray[np.object_]:
    """The bounded faces (polygons) into which the closed curve cuts the plane."""
    import shapely

    line = shapely.linestrings(np.concatenate((curve, curve[:1])))
    noded = shapely.union_all(line)
    faces: npt.NDArray[np.object_] = shapely.get_parts(shapely.polygonize([noded]))
    return faces


def _winding(curve: Ring, spot: Ring) -> int:
    """How often the closed curve (m, 2) runs counter-clockwise round the spot (2,)."""
    x0, y0 = (curve - spot).T
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    left = x0 * y1 - x1 * y0
    upward = (y0 <= 0) & (y1 > 0) & (left > 0)
    downward = (y0 > 0) & (y1 <= 0) & (left < 0)
    return int(upward.sum()) - int(downward.sum())


def _counter_clockwise(linear_ring: object) -> Ring:
    import shapely

    ring = shapely.get_coordinates(linear_ring)[:-1]
    return np.array(ring if shapely.is_ccw(linear_ring) else ring[::-1], dtype=np.float64)
