"""Where a thing lies on a hide in the words of a tape measure.

Two marked points, A and B, are set on the hide; everything is measured from the straight line A-B, from the
rear edge, and from A and B themselves. Each piece has two points of its own, P and Q, at the same corners of
every copy and marked on its full-size sheet.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
import shapely

from nestplan.drawing.primitives import Points
from nestplan.model import Hide, Job, Placement
from nestplan.model.values import Point

__all__ = [
    "TapeFrame",
    "TapePosition",
    "anchor_points",
    "piece_anchors",
    "tape_frame",
    "tape_position",
]


@dataclass(frozen=True)
class TapeFrame:
    """The two marked points of a hide and what follows from them; hide coordinates, mm.

    With a backbone, A is its end at the tail and B its end at the neck. Without one, A and B are the ends of
    the longest straight edge round the hide, or the two points farthest apart where no edge is long. `rear`
    is how far before A the rear edge lies: the straight line square to A-B that touches the hide's rearmost
    point.
    """

    a: Point
    b: Point
    rear: float
    has_backbone: bool
    two_sided: bool

    @property
    def angle(self) -> float:
        """Direction from A to B, degrees ccw."""
        return math.degrees(math.atan2(self.b[1] - self.a[1], self.b[0] - self.a[0]))

    @property
    def span(self) -> float:
        """Distance of A and B, mm."""
        return math.dist(self.a, self.b)

    def along(self, point: Point) -> float:
        """Distance of a point from the rear edge, measured along A-B, mm; never negative on the hide."""
        return self._local(point)[0] + self.rear

    def across(self, point: Point) -> float:
        """Distance of a point from the line A-B, mm; positive to the left of someone who looks from A to B."""
        return self._local(point)[1]

    def from_marks(self, point: Point) -> tuple[float, float]:
        """Straight distances of a point from A and from B, mm."""
        return math.dist(self.a, point), math.dist(self.b, point)

    def point_at(self, along: float, across: float) -> Point:
        """The point of the hide at these two distances, mm."""
        ux, uy = (self.b[0] - self.a[0]) / self.span, (self.b[1] - self.a[1]) / self.span
        forward = along - self.rear
        return self.a[0] + forward * ux - across * uy, self.a[1] + forward * uy + across * ux

    def locate(self, points: Points) -> Points:
        """`along` and `across` of points (n, 2) of the hide, one row each, mm."""
        along = np.subtract(self.b, self.a) / self.span
        forward = np.asarray(points) - self.a
        return np.column_stack((forward @ along + self.rear, forward @ (-along[1], along[0])))

    def _local(self, point: Point) -> tuple[float, float]:
        ux, uy = (self.b[0] - self.a[0]) / self.span, (self.b[1] - self.a[1]) / self.span
        dx, dy = point[0] - self.a[0], point[1] - self.a[1]
        return dx * ux + dy * uy, dy * ux - dx * uy


@dataclass(frozen=True)
class TapePosition:
    """One placement as a tape finds it, mm and degrees.

    `p_along` from the rear edge and `p_across` from the line A-B; `p_a` is the distance from P to A and so
    on. `turn` is the direction from P to Q against the direction from A to B, degrees ccw in [0, 360).
    """

    p: Point
    q: Point
    p_along: float
    p_across: float
    p_a: float
    p_b: float
    q_a: float
    q_b: float
    turn: float


@functools.lru_cache(maxsize=64)
def tape_frame(hide: Hide) -> TapeFrame:
    """The two marked points of a hide, from its backbone or, without one, from its outline."""
    if hide.backbone is not None:
        b, a = hide.backbone[0], hide.backbone[-1]
    else:
        a, b = _long_edge(hide.ring) or _farthest(hide.ring)
    first = TapeFrame(a, b, 0.0, hide.backbone is not None, False)
    reach = first.locate(hide.ring)
    low, high = float(reach[:, 1].min()), float(reach[:, 1].max())
    # A half hide's own cut edge wanders a little over the line: that is not a second side.
    two_sided = min(-low, high) > 0.08 * (high - low)
    return TapeFrame(a, b, max(0.0, float(-reach[:, 0].min())), hide.backbone is not None, two_sided)


def anchor_points(job: Job, placement: Placement, frame: TapeFrame) -> tuple[Point, Point]:
    """P and Q of one placement on the hide, mm.

    For a piece: the two corners of its finished outline that lie farthest apart. For a strip: the ends of its
    long edge nearer to the line A-B, P nearer to the rear; for a spiral lace the centre of its disc and the
    point of its edge right of it.
    """
    if placement.piece:
        p, q = _as_points(placement.pose.apply(np.array(piece_anchors(job.piece(placement.piece).ring))))
        return p, q
    ring = placement.finished_ring
    if placement.spiral:
        low, high = ring.min(axis=0), ring.max(axis=0)
        p, q = _as_points(np.array(((low + high) / 2.0, (high[0], (low[1] + high[1]) / 2.0))))
        return p, q
    flat = placement.pose.inverse().apply(ring)
    (x0, y0), (x1, y1) = flat.min(axis=0), flat.max(axis=0)
    edges = [_as_points(placement.pose.apply(np.array(((x0, y), (x1, y))))) for y in (y0, y1)]
    edge = min(edges, key=lambda ends: round(sum(abs(frame.across(end)) for end in ends), 2))
    p, q = sorted(edge, key=frame.along)
    return p, q


def piece_anchors(ring: Points) -> tuple[Point, Point]:
    """P and Q of a piece in its own frame, mm: its two corners farthest apart, P the one more to the left."""
    return _farthest_of(np.ascontiguousarray(ring, dtype=np.float64).tobytes())


@functools.lru_cache(maxsize=1024)
def _farthest_of(corners: bytes) -> tuple[Point, Point]:
    return _farthest(np.frombuffer(corners, dtype=np.float64).reshape(-1, 2))


def tape_position(frame: TapeFrame, p: Point, q: Point) -> TapePosition:
    """What a tape reads at the points P and Q."""
    turn = math.degrees(math.atan2(q[1] - p[1], q[0] - p[0])) - frame.angle
    return TapePosition(
        p,
        q,
        frame.along(p),
        frame.across(p),
        *frame.from_marks(p),
        *frame.from_marks(q),
        # The remainder of a tiny negative angle may round up to 360 itself.
        0.0 if turn % 360.0 >= 359.95 else turn % 360.0,
    )


def _long_edge(ring: Points) -> tuple[Point, Point] | None:
    """The ends of the hull's longest edge if it is at least 0.4 of the hide's length: a rule can lie along it."""
    hull = _hull(ring)
    edges = np.hypot(*np.diff(hull, axis=0).T)
    longest = int(np.argmax(edges))
    p, q = _farthest(ring)
    if edges[longest] < 0.4 * math.dist(p, q):
        return None
    a, b = sorted(_as_points(hull[longest : longest + 2]))
    return a, b


def _farthest(ring: Points) -> tuple[Point, Point]:
    corners = _hull(ring)[:-1]
    gaps = np.hypot(*(corners[:, None, :] - corners[None, :, :]).transpose(2, 0, 1))
    # Of equally distant pairs the first in reading order counts, whatever the ring starts with.
    pairs = np.argwhere(gaps >= gaps.max() - 1e-6)
    points = _as_points(corners)
    ends = sorted(tuple(sorted((points[i], points[j]))) for i, j in pairs)
    return ends[0][0], ends[0][1]


def _hull(ring: Points) -> Points:
    """The corners (n, 2) of the ring's convex hull, the first one repeated at the end."""
    hull: Points = shapely.get_coordinates(shapely.convex_hull(shapely.linestrings(ring)))
    return hull


def _as_points(points: Points) -> list[Point]:
    return [(float(x), float(y)) for x, y in points]
