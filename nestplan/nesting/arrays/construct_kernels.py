"""Compiled part of Lay: where one more shape can lie among those that lie already.

What lives here: plain functions over the arrays of `packed` and over a bench, one for each field. What does not: the
order of the pieces and the choice between fields (`lay`).

A bench (`FieldOccupancy` in `lay`) holds what lies in a field as rows, and a raster of room: at every node the
distance to the nearest shape that lies (mm, negative inside one). The rasters steer and reject; whether a shape fits
is decided on its edges.
"""

from __future__ import annotations

import math

from numba import njit

from nestplan.nesting.arrays.collision_kernels import (
    FLAT,
    INNER,
    area_holds_ring,
    cosine_sine,
    ring_holds_point,
    rings_overlap,
    row_box,
    signed_distance,
)
from nestplan.nesting.arrays.packing_kernels import segment_distance
from nestplan.nesting.arrays.pose_kernels import next_random

FAR = 1e9
# Share of a raster cell by which an interpolated distance may be wrong before a disc is called blocked.
SLACK = 0.4


@njit(**INNER)
def edge_distance(A, area, px, py):
    """Signed distance of a point to the edge of an area, positive inside; by its box where it is a box."""
    if A.plain[area]:
        return min(min(px - A.bx0[area], A.bx1[area] - px), min(py - A.by0[area], A.by1[area] - py))
    return signed_distance(A, area, px, py)


@njit(**INNER)
def read(raster, frame, px, py):
    """Bilinear value of a raster `(ny, nx)` with `frame` (x0, y0, cell); far below zero off it."""
    u = (px - frame[0]) / frame[2]
    v = (py - frame[1]) / frame[2]
    i = math.floor(u)
    j = math.floor(v)
    if i < 0 or j < 0 or i >= raster.shape[1] - 1 or j >= raster.shape[0] - 1:
        return -FAR
    u -= i
    v -= j
    low = raster[j, i] + u * (raster[j, i + 1] - raster[j, i])
    high = raster[j + 1, i] + u * (raster[j + 1, i + 1] - raster[j + 1, i])
    return low + v * (high - low)


@njit(**FLAT)
def mark_inside(A, area, frame, raster, amount):
    """Add `amount` to every node of a raster that lies inside an area."""
    for j in range(raster.shape[0]):
        for i in range(raster.shape[1]):
            if edge_distance(A, area, frame[0] + i * frame[2], frame[1] + j * frame[2]) > 0.0:
                raster[j, i] += amount


@njit(**FLAT)
def set_down(S, B, shape, x, y, angle, reach):
    """Let a shape lie on a bench at a pose: one more row, and less room within `reach` mm of it."""
    row = B.number[0]
    n = S.vn[shape]
    c, s = cosine_sine(angle)
    for k in range(n):
        B.vx[row, k] = c * S.vx[shape, k] - s * S.vy[shape, k]
        B.vy[row, k] = s * S.vx[shape, k] + c * S.vy[shape, k]
    B.vn[row] = n
    row_box(B.vx, B.vy, row, n, B.box[row])
    B.x[row], B.y[row] = x, y
    B.inner[row, 0] = c * S.px[shape, 0] - s * S.py[shape, 0]
    B.inner[row, 1] = s * S.px[shape, 0] + c * S.py[shape, 0]
    B.number[0] = row + 1
    x0, y0, cell = B.frame[0], B.frame[1], B.frame[2]
    ny, nx = B.room.shape
    left, low, right, high = B.box[row, 0] + x, B.box[row, 1] + y, B.box[row, 2] + x, B.box[row, 3] + y
    for j in range(max(int((low - reach - y0) / cell), 0), min(int((high + reach - y0) / cell) + 2, ny)):
        py = y0 + j * cell
        for i in range(
            max(int((left - reach - x0) / cell), 0), min(int((right + reach - x0) / cell) + 2, nx)
        ):
            px = x0 + i * cell
            d = reach
            before = n - 1
            for k in range(n):
                d = min(
                    d,
                    segment_distance(
                        px - x, py - y, B.vx[row, before], B.vy[row, before], B.vx[row, k], B.vy[row, k]
                    ),
                )
                before = k
            if left <= px <= right and low <= py <= high:
                if ring_holds_point(B.vx, B.vy, row, n, px - x, py - y):
                    d = -d
            B.room[j, i] = min(B.room[j, i], d)


@njit(**INNER)
def fits(A, S, P, B, allowance, x, y, angle, T):
    """Whether an allowance's shape at a pose keeps every demand and overlaps nothing that lies, exactly.

    `T` is scratch: `vx, vy (2, V)`, `box (2, 4)`, `keep (V,)`, `inner (2,)`.
    """
    c, s = cosine_sine(angle)
    for d in range(P.demand_start[allowance], P.demand_start[allowance + 1]):
        shape = P.demand_shape[d]
        n = S.vn[shape]
        for k in range(n):
            T.vx[1, k] = c * S.vx[shape, k] - s * S.vy[shape, k]
            T.vy[1, k] = s * S.vx[shape, k] + c * S.vy[shape, k]
        row_box(T.vx, T.vy, 1, n, T.box[1])
        if not area_holds_ring(A, P.demand_area[d], T.vx, T.vy, 1, n, x, y, T.box[1]):
            return False
    shape = P.allow_shape[allowance]
    n = S.vn[shape]
    for k in range(n):
        T.vx[0, k] = c * S.vx[shape, k] - s * S.vy[shape, k]
        T.vy[0, k] = s * S.vx[shape, k] + c * S.vy[shape, k]
    row_box(T.vx, T.vy, 0, n, T.box[0])
    T.inner[0] = c * S.px[shape, 0] - s * S.py[shape, 0]
    T.inner[1] = s * S.px[shape, 0] + c * S.py[shape, 0]
    left, low, right, high = T.box[0, 0] + x, T.box[0, 1] + y, T.box[0, 2] + x, T.box[0, 3] + y
    for row in range(B.number[0]):
        bx, by = B.x[row], B.y[row]
        if B.box[row, 0] + bx > right or B.box[row, 2] + bx < left:
            continue
        if B.box[row, 1] + by > high or B.box[row, 3] + by < low:
            continue
        if rings_overlap(
            T.vx, T.vy, 0, n, T.box[0], T.inner, B.vx, B.vy, row, B.vn[row], B.box[row], B.inner[row],
            x - bx, y - by, T.keep,
        ):  # fmt: skip
            return False
    return True


@njit(**FLAT)
def demand_raster(A, S, P, depths, allowance, frame, out):
    """Fill a raster with how far each node is inside what an allowance demands, mm.

    The least, over its demands, of the distance to the area's edge, plus what the demand's ring is smaller than the
    shape: so zero means that the shape's rim may just come here.
    """
    shape = P.allow_shape[allowance]
    for j in range(out.shape[0]):
        for i in range(out.shape[1]):
            least = FAR
            for m in range(P.demand_start[allowance], P.demand_start[allowance + 1]):
                if depths[m, 0] > 0.0:
                    d = edge_distance(A, P.demand_area[m], frame[0] + i * frame[2], frame[1] + j * frame[2])
                    least = min(least, d + S.pr[shape, 0] - depths[m, 0])
            out[j, i] = least


@njit(**INNER)
def rate(S, frame, clear, worth, rim, shape, x, y, angle, cap, pull):
    """How badly a pose uses a field, lower is better.

    The mean of the raster `clear` (clearance, mm) at the rim (`rim (R, 2)` points of the shape) from 0 to `cap`, as
    a share of `cap`, and `pull` times the mean of the raster `worth` under the shape's discs.
    """
    c, s = cosine_sine(angle)
    loose = 0.0
    for k in range(rim.shape[0]):
        px = c * rim[k, 0] - s * rim[k, 1] + x
        py = s * rim[k, 0] + c * rim[k, 1] + y
        loose += max(min(read(clear, frame, px, py), cap), 0.0)
    score = loose / (cap * rim.shape[0])
    if pull != 0.0:
        weight = 0.0
        total = 0.0
        for k in range(S.pn[shape]):
            px = c * S.px[shape, k] - s * S.py[shape, k] + x
            py = s * S.px[shape, k] + c * S.py[shape, k] + y
            w = S.pr[shape, k] * S.pr[shape, k]
            weight += w
            total += w * read(worth, frame, px, py)
        score += pull * total / weight
    return score


@njit(**INNER)
def turn_allowed(P, allowance, angle):
    """Whether an angle in [0, 360) is among an allowance's turns."""
    for k in range(P.turn_start[allowance], P.turn_start[allowance + 1]):
        if P.turn_lo[k] - 1e-9 <= angle <= P.turn_hi[k] + 1e-9:
            return True
    return False


@njit(**INNER)
def draw_turn(P, allowance, favoured, random):
    """A turn: half the time one of the `favoured (q,)` that is allowed, else any allowed one, evenly."""
    if favoured.shape[0] > 0 and next_random(random) < 0.5:
        angle = favoured[int(next_random(random) * favoured.shape[0])]
        if turn_allowed(P, allowance, angle):
            return angle
    first, last = P.turn_start[allowance], P.turn_start[allowance + 1]
    measure = 0.0
    for k in range(first, last):
        measure += P.turn_hi[k] - P.turn_lo[k]
    if measure <= 0.0:
        return P.turn_lo[first + int(next_random(random) * (last - first))]
    angle = next_random(random) * measure
    for k in range(first, last):
        span = P.turn_hi[k] - P.turn_lo[k]
        if angle <= span:
            return P.turn_lo[k] + angle
        angle -= span
    return P.turn_hi[last - 1]


@njit(**INNER)
def disc_blocked(S, frame, clear, shape, x, y, angle):
    """Whether some inscribed disc of the shape surely has no room, by the raster `clear` alone."""
    c, s = cosine_sine(angle)
    slack = SLACK * frame[2]
    for k in range(S.pn[shape]):
        px = c * S.px[shape, k] - s * S.py[shape, k] + x
        py = s * S.px[shape, k] + c * S.py[shape, k] + y
        if read(clear, frame, px, py) < S.pr[shape, k] - slack:
            return True
    return False


@njit(**INNER)
def clear_nodes(B, demand, radius, clear, wide, tight):
    """The clearance raster (room of the bench and demand, the lesser) in `clear`, and the nodes where a disc of
    `radius` has room: all in `wide`, those where it nearly touches something in `tight` too."""
    cell = B.frame[2]
    ny, nx = demand.shape
    n_wide = 0
    n_tight = 0
    for j in range(ny):
        for i in range(nx):
            d = min(B.room[j, i], demand[j, i])
            clear[j, i] = d
            if d >= radius - cell:
                wide[n_wide] = j * nx + i
                n_wide += 1
                if d < radius + 2.0 * cell:
                    tight[n_tight] = j * nx + i
                    n_tight += 1
    return n_wide, n_tight


@njit(**INNER)
def refine(A, S, P, B, clear, worth, rim, allowance, cap, pull, T, pose):
    """Better `pose (4,)` (x, y, angle, score) by a shrinking pattern search that never leaves what fits."""
    shape = P.allow_shape[allowance]
    px, py = S.px[shape, 0], S.py[shape, 0]
    step = 2.0 * B.frame[2]
    turn = 4.0
    while step > 0.08:
        moved = False
        for way in range(10):
            x, y, angle = pose[0], pose[1], pose[2]
            if way < 8:
                x += step * math.cos(way * math.pi / 4.0)
                y += step * math.sin(way * math.pi / 4.0)
            else:
                angle = (angle + (turn if way == 8 else -turn)) % 360.0
                if not turn_allowed(P, allowance, angle):
                    continue
                # About the largest disc, so that a turn is not also a far move.
                c0, s0 = cosine_sine(pose[2])
                c1, s1 = cosine_sine(angle)
                x += (c0 - c1) * px - (s0 - s1) * py
                y += (s0 - s1) * px + (c0 - c1) * py
            score = rate(S, B.frame, clear, worth, rim, shape, x, y, angle, cap, pull)
            if score < pose[3] - 1e-7 and not disc_blocked(S, B.frame, clear, shape, x, y, angle):
                if fits(A, S, P, B, allowance, x, y, angle, T):
                    pose[0], pose[1], pose[2], pose[3] = x, y, angle, score
                    moved = True
        if not moved:
            step *= 0.5
            turn *= 0.5


@njit(**INNER)
def keep_pose(poses, count, x, y, angle, score):
    """Enter a pose into `poses (count, 4)`, kept with rising scores; the last falls out."""
    k = count - 1
    while k > 0 and poses[k - 1, 3] > score:
        for m in range(4):
            poses[k, m] = poses[k - 1, m]
        k -= 1
    poses[k, 0], poses[k, 1], poses[k, 2], poses[k, 3] = x, y, angle, score


@njit(**INNER)
def has_twin(poses, number, reach):
    """Whether an earlier pose lies within `reach` mm and 5° of the numbered one."""
    for other in range(number):
        apart = abs(poses[other, 0] - poses[number, 0]) + abs(poses[other, 1] - poses[number, 1])
        if apart < reach and abs(poses[other, 2] - poses[number, 2]) < 5.0:
            return True
    return False


@njit(**INNER)
def sample_places(
    A, S, P, B, worth, rim, favoured, allowance, samples, cap, pull, random, T, n_wide, n_tight
):
    """Fill `T.best` with the best fitting poses among `samples` drawn, by rising score."""
    shape = P.allow_shape[allowance]
    nx = T.clear.shape[1]
    x0, y0, cell = B.frame[0], B.frame[1], B.frame[2]
    keep = T.best.shape[0]
    for k in range(keep):
        T.best[k, 3] = FAR
    for _ in range(samples):
        if n_tight > 0 and next_random(random) < 0.7:
            node = T.tight[int(next_random(random) * n_tight)]
        else:
            node = T.wide[int(next_random(random) * n_wide)]
        angle = draw_turn(P, allowance, favoured, random)
        c, s = cosine_sine(angle)
        x = x0 + (node % nx + next_random(random) - 0.5) * cell - (c * S.px[shape, 0] - s * S.py[shape, 0])
        y = y0 + (node // nx + next_random(random) - 0.5) * cell - (s * S.px[shape, 0] + c * S.py[shape, 0])
        if disc_blocked(S, B.frame, T.clear, shape, x, y, angle):
            continue
        score = rate(S, B.frame, T.clear, worth, rim, shape, x, y, angle, cap, pull)
        if score < T.best[keep - 1, 3] and fits(A, S, P, B, allowance, x, y, angle, T):
            keep_pose(T.best, keep, x, y, angle, score)


@njit(**FLAT)
def find_places(A, S, P, B, demand, worth, rim, favoured, allowance, samples, cap, pull, random, T, out):
    """Poses at which an allowance's shape fits, best first, in `out (R, 4)`: x, y, angle, score.

    Sampled widely with the largest disc where it has room, thinned to R that differ, each refined. Returns how many
    there are. `demand` and `worth (ny, nx)` are rasters of the bench's frame, see `demand_raster`, `rate`; `T` is
    the scratch of `fits`, and `clear (ny, nx)`, `wide, tight (ny · nx,)`, `best (K, 4)`.
    """
    shape = P.allow_shape[allowance]
    n_wide, n_tight = clear_nodes(B, demand, S.pr[shape, 0], T.clear, T.wide, T.tight)
    if n_wide == 0:
        return 0
    sample_places(A, S, P, B, worth, rim, favoured, allowance, samples, cap, pull, random, T, n_wide, n_tight)
    found = 0
    for b in range(T.best.shape[0]):
        if T.best[b, 3] >= FAR or found == out.shape[0]:
            break
        if not has_twin(T.best, b, 2.0 * B.frame[2]):
            for m in range(4):
                T.pose[m] = T.best[b, m]
            refine(A, S, P, B, T.clear, worth, rim, allowance, cap, pull, T, T.pose)
            found += 1
            keep_pose(out, found, T.pose[0], T.pose[1], T.pose[2], T.pose[3])
    return found
