"""Densest lattices of a shape: how many equal pieces lie closest together, alone and paired at half a turn.

What lives here: finding the lattice of a ring beforehand, the copies of a lattice that lie within an area, and the
places beside a piece that its lattice offers. What does not: the search behind it (`lattice_kernels`), and what the
engine does with it (`move_kernels` tries the places beside equal pieces).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, affinity

from nestplan.geometry.pose import Turns
from nestplan.geometry.ring import offset_outward, simplify_outside
from nestplan.nesting.arrays.lattice_kernels import refine_cell, seek_cell
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.packing import middle_of
from nestplan.nesting.problem import Floats, Ring

__all__ = ["Lattice", "copies_within", "densest_lattice", "know_lattices", "places_beside"]

WAYS = 24
PLACES = 16
REFINED = 5
LEAST_EQUAL = 4
"""How many equal items there must be for a lattice of theirs to be sought."""

TRIES = 6
"""How many places beside equal items are tried when one is moved."""

MOST_POINTS = 48
FEW_POINTS = 14
NEIGHBOURS = 4
"""How many cells on either side are looked at for overlap and for places beside a piece."""

CLEARANCES = (2e-5, 1e-3, 5e-3)
"""By how much a ring is grown beforehand, as shares of its span, so that rounding cannot make copies overlap."""


@dataclass(frozen=True, eq=False)
class Lattice:
    """Copies of a ring at all places a·u + b·v, and, if `pair` is given, at half a turn about the ring's origin and
    moved by a·u + b·v + pair. `u, v, pair (2,)` mm; `density` is the share of the plane covered."""

    u: Floats
    v: Floats
    pair: Floats | None
    density: float


def densest_lattice(ring: Ring, *, half_turned: bool = True) -> Lattice:
    """The densest lattice found for a ring `(n, 2)`: a double lattice if `half_turned` and that is denser.

    The ring is simplified outwards to a few dozen corners first. A search, not a proof: a denser lattice may exist,
    but in the one given no two copies overlap, which is made sure of.
    """
    middle = np.array(middle_of(ring))
    span = float(np.hypot(*np.ptp(ring, axis=0)))
    found = []
    for paired in (False, True) if half_turned else (False,):
        for clearance in CLEARANCES:
            lattice = _sought(offset_outward(ring, clearance * span, 0.1 * clearance * span) - middle, paired)
            lattice = _around(lattice, middle, Polygon(ring).area)
            if not _overlaps(ring, lattice):
                found.append(lattice)
                break
    if not found:
        box = np.diag(np.ptp(ring, axis=0))
        found.append(_around(Lattice(box[0], box[1], None, 0.0), middle, Polygon(ring).area))
    return max(found, key=lambda lattice: lattice.density + (0.0 if lattice.pair is not None else 1e-6))


def copies_within(
    ring: Ring,
    lattice: Lattice,
    area: Polygon | MultiPolygon,
    *,
    turn: float = 0.0,
    shift: Floats | None = None,
) -> Floats:
    """Poses `(m, 3)` (x, y, angle in degrees) of the lattice's copies, all turned by `turn` and moved by `shift`, that
    lie within an area; row by row along u."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    rotate = np.array([[c, s], [-s, c]])
    u, v = lattice.u @ rotate, lattice.v @ rotate
    start = np.zeros(2) if shift is None else np.asarray(shift, float)
    box = np.array(area.bounds).reshape(2, 2)
    corners = np.array([[x, y] for x in box[:, 0] for y in box[:, 1]])
    reach = float(np.hypot(ring[:, 0], ring[:, 1]).max())
    steps = (corners - start) @ np.linalg.inv(np.array([u, v]))
    margin = np.abs(np.linalg.inv(np.array([u, v]))).sum() * reach + 2.0
    low, high = np.floor(steps.min(axis=0) - margin), np.ceil(steps.max(axis=0) + margin)
    b, a = np.meshgrid(np.arange(low[1], high[1] + 1), np.arange(low[0], high[0] + 1), indexing="ij")
    spots = a.reshape(-1, 1) * u + b.reshape(-1, 1) * v + start
    found = []
    shapely.prepare(area)
    for offset, angle in ((np.zeros(2), turn), (lattice.pair, turn + 180.0)):
        if offset is None:
            continue
        places = spots + offset @ rotate
        turned = affinity.rotate(Polygon(ring), angle, origin=(0.0, 0.0))
        x0, y0, x1, y1 = turned.bounds
        inside = (
            (places[:, 0] + x0 >= box[0, 0])
            & (places[:, 0] + x1 <= box[1, 0])
            & (places[:, 1] + y0 >= box[0, 1])
            & (places[:, 1] + y1 <= box[1, 1])
        )
        for place in places[inside]:
            if area.contains(affinity.translate(turned, *place)):
                found.append((place[0], place[1], angle % 360.0))
    return np.array(found, float).reshape(-1, 3)


def places_beside(ring: Ring, lattice: Lattice, most: int = 10) -> Floats:
    """Where a copy may lie beside a copy at the origin: `(m, 3)` (x, y, angle 0 or 180), the closest-lying first.

    Closest are those whose common hull with the first copy is least.
    """
    first = Polygon(ring)
    turned = affinity.rotate(first, 180.0, origin=(0.0, 0.0))
    span = 2.0 * float(np.hypot(ring[:, 0], ring[:, 1]).max())
    found = []
    for a in range(-NEIGHBOURS, NEIGHBOURS + 1):
        for b in range(-NEIGHBOURS, NEIGHBOURS + 1):
            at = a * lattice.u + b * lattice.v
            choices = [(at, 0.0, first)] if a or b else []
            if lattice.pair is not None:
                choices.append((at + lattice.pair, 180.0, turned))
            for place, angle, shape in choices:
                if float(np.hypot(*place)) < 1.5 * span:
                    hull = shapely.union_all([first, affinity.translate(shape, *place)]).convex_hull.area
                    found.append((hull, float(place[0]), float(place[1]), angle))
    found.sort()
    return np.array([row[1:] for row in found[:most]], float).reshape(-1, 3)


def know_lattices(layout: Layout, *, tries: int = TRIES) -> None:
    """Let a layout's search try places beside equal items as their lattice has them, `tries` a move.

    Lattices are sought for shapes of at least `LEAST_EQUAL` equal items, double ones where half a turn is allowed;
    each is sought once and remembered. Copies of the layout made afterwards know them too.
    """
    pieces, shapes = layout.pieces, layout.shapes
    places: dict[int, Floats] = {}
    for allow, shape in enumerate(pieces.allow_shape):
        item = int(np.searchsorted(pieces.allow_start, allow, side="right")) - 1
        group = int(pieces.group[item])
        if int(shape) in places or pieces.group_start[group + 1] - pieces.group_start[group] < LEAST_EQUAL:
            continue
        span = slice(pieces.turn_start[allow], pieces.turn_start[allow + 1])
        turns = Turns.of(zip(pieces.turn_lo[span], pieces.turn_hi[span], strict=True))
        ring = np.column_stack([axis[shape, : shapes.vn[shape]] for axis in (shapes.vx, shapes.vy)])
        places[int(shape)] = _known_places(ring.tobytes(), bool(turns.intersect(turns.shift(180.0))))
    counts = [len(places.get(shape, ())) for shape in range(len(shapes.vn))]
    rows = np.vstack([np.zeros((0, 3)), *(places[shape] for shape in sorted(places))])
    layout.pieces = pieces._replace(
        beside_start=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        beside_x=rows[:, 0].copy(),
        beside_y=rows[:, 1].copy(),
        beside_turn=rows[:, 2].copy(),
        beside_tries=np.array([tries if len(rows) else 0], np.int64),
    )


@lru_cache(maxsize=256)
def _known_places(ring: bytes, half_turned: bool) -> Floats:
    points = np.frombuffer(ring).reshape(-1, 2)
    return places_beside(points, densest_lattice(points, half_turned=half_turned))


def _sought(ring: Ring, paired: bool) -> Lattice:
    """The best lattice of one sort: sought with few corners, bettered with more. The ring lies about the origin."""
    coarse, fine = _simplified(ring, FEW_POINTS), _simplified(ring, MOST_POINTS)
    cell, trial = np.zeros(6), np.zeros(6)
    tops = np.zeros((REFINED, 3))
    other = touching(-coarse, coarse) if paired else np.zeros((0, 4))
    seek_cell(touching(coarse, coarse), other, WAYS, PLACES, np.zeros(REFINED), tops, trial, cell)
    own = touching(fine, fine)
    other = touching(-fine, fine) if paired else np.zeros((0, 4))
    least = np.inf
    for top in tops:
        size = refine_cell(own, other, top, np.pi / WAYS / 4.0, 0.25 / PLACES, trial)
        if size < least:
            least, cell = float(size), trial.copy()
    return Lattice(cell[:2], cell[2:4], cell[4:] if paired else None, 0.0)


def touching(moving: Ring, still: Ring) -> Floats:
    """Segments `(m, 4)` of offsets of the first ring at which a corner of one slides along an edge of the other.

    They hold the outer edge of the no-fit region of the two; what cannot be on it, because the rings would overlap
    beside the corner, is left out.
    """
    rows = [_sliding(moving, still), -_sliding(still, moving)]
    return np.ascontiguousarray(np.vstack(rows))


def _sliding(corners: Ring, edges: Ring) -> Floats:
    """Offsets `(m, 4)` of the first ring at which one of its corners slides along an edge of the second."""
    start, end = edges, np.roll(edges, -1, axis=0)
    outward = np.column_stack([end[:, 1] - start[:, 1], start[:, 0] - end[:, 0]])
    slack = 1e-9 * np.abs(outward).max()
    fits = np.ones((len(edges), len(corners)), bool)
    for way in (1, -1):
        fits &= outward @ (np.roll(corners, way, axis=0) - corners).T >= -slack
    e, c = np.nonzero(fits)
    return np.hstack([start[e] - corners[c], end[e] - corners[c]])


def _simplified(ring: Ring, most: int) -> Ring:
    """The ring with at most about `most` corners, nowhere smaller."""
    span = float(np.hypot(*np.ptp(ring, axis=0)))
    tolerance = 0.001 * span
    while len(ring) > most and tolerance < 0.1 * span:
        simple = simplify_outside(ring, tolerance)
        if len(simple) <= most:
            return simple
        tolerance *= 1.6
    return ring


def _around(lattice: Lattice, middle: Floats, area: float) -> Lattice:
    """The lattice of a ring about `middle` in the ring's own frame, and its density."""
    cell = abs(float(lattice.u[0] * lattice.v[1] - lattice.u[1] * lattice.v[0]))
    pair = None if lattice.pair is None else lattice.pair + 2.0 * middle
    return Lattice(lattice.u, lattice.v, pair, (1 if pair is None else 2) * area / cell)


def _overlaps(ring: Ring, lattice: Lattice) -> bool:
    """Whether GEOS finds two copies of the lattice overlapping."""
    polygon = Polygon(ring)
    turned = affinity.rotate(polygon, 180.0, origin=(0.0, 0.0))
    for a in range(-NEIGHBOURS, NEIGHBOURS + 1):
        for b in range(-NEIGHBOURS, NEIGHBOURS + 1):
            at = a * lattice.u + b * lattice.v
            if (a or b) and polygon.intersection(affinity.translate(polygon, *at)).area > 0.0:
                return True
            if lattice.pair is None:
                continue
            if polygon.intersection(affinity.translate(turned, *(at + lattice.pair))).area > 0.0:
                return True
    return False
