"""Kernels that seek the densest lattice of a shape, alone or paired with itself at half a turn.

What lives here: how far apart copies must lie along a row, how high the next row must lie, the search over both, and
the drawing of a place beside an equal item in a search. What does not: the segments these read, and what a lattice is
for (`lattice`).

A packing of equal copies by a lattice, and by a *double lattice* (every second copy at half a turn), is described by
the vectors u and v of its cell and the offset t of the turned copy. Copies do not overlap if and only if no lattice
vector lies inside the no-fit region of the shape against itself, and none plus t inside that of the turned shape
against it. With t on the edge of the second region and u on the edge of that of the pair, v is the lowest place on
the roof of the row below; what is left are three numbers: the directions of t and u, and the place along the roof.
After Milenkovic (2002), who states densest lattice packing by translational no-fit regions; rows on roofs as in
Mount and Silverman (1990) and Kuperberg and Kuperberg (1990) for convex shapes.
"""

from __future__ import annotations

import math

from numba import njit

from nestplan.nesting.arrays.collision_kernels import FLAT, INNER, cosine_sine
from nestplan.nesting.arrays.pose_kernels import next_random


@njit(**INNER)
def farthest(segments, sign, ox, oy, dx, dy):
    """How far along the ray from the origin in direction (dx, dy) the last segment is crossed; 0 if none is.

    `segments (m, 4)` are taken times `sign` and moved by (ox, oy)."""
    far = 0.0
    for k in range(segments.shape[0]):
        ax = sign * segments[k, 0] + ox
        ay = sign * segments[k, 1] + oy
        bx = sign * segments[k, 2] + ox
        by = sign * segments[k, 3] + oy
        sa = dx * ay - dy * ax
        sb = dx * by - dy * bx
        if (sa <= 0.0 <= sb) or (sb <= 0.0 <= sa):
            along_a = dx * ax + dy * ay
            along_b = dx * bx + dy * by
            if abs(sb - sa) < 1e-12:
                far = max(far, along_a, along_b)
            else:
                far = max(far, along_a + (along_b - along_a) * sa / (sa - sb))
    return far


@njit(**INNER)
def roof(segments, sign, ox, oy, dx, dy, period, s):
    """The highest point of the segments over places s + k · period along (dx, dy); minus infinity if none is there."""
    high = -math.inf
    for k in range(segments.shape[0]):
        ax = sign * segments[k, 0] + ox
        ay = sign * segments[k, 1] + oy
        bx = sign * segments[k, 2] + ox
        by = sign * segments[k, 3] + oy
        la = dx * ax + dy * ay
        lb = dx * bx + dy * by
        ha = dx * ay - dy * ax
        hb = dx * by - dy * bx
        if la > lb:
            la, lb, ha, hb = lb, la, hb, ha
        if max(ha, hb) <= high:
            continue
        at = s + math.ceil((la - 1e-9 - s) / period) * period
        while at <= lb + 1e-9:
            if lb - la < 1e-9:
                high = max(high, ha, hb)
            else:
                high = max(high, ha + (hb - ha) * min(1.0, max(0.0, (at - la) / (lb - la))))
            at += period
    return high


@njit(**INNER)
def pair_roof(own, other, tx, ty, dx, dy, period, s):
    """The roof of a row of pairs (or of single copies, where `other` is empty)."""
    high = roof(own, 1.0, 0.0, 0.0, dx, dy, period, s)
    if other.shape[0] > 0:
        high = max(high, roof(other, 1.0, -tx, -ty, dx, dy, period, s))
        high = max(high, roof(other, -1.0, tx, ty, dx, dy, period, s))
    return high


@njit(**INNER)
def cell_of(own, other, psi, phi, share, out):
    """Area of the cell with t in direction `psi`, u in direction `phi` (radians) and v over `share` of u; infinite
    if rows further up would overlap. `out (6,)`: u, v, t."""
    tx = ty = 0.0
    if other.shape[0] > 0:
        cx = math.cos(psi)
        cy = math.sin(psi)
        reach = farthest(other, 1.0, 0.0, 0.0, cx, cy)
        tx = reach * cx
        ty = reach * cy
    dx = math.cos(phi)
    dy = math.sin(phi)
    period = farthest(own, 1.0, 0.0, 0.0, dx, dy)
    if other.shape[0] > 0:
        period = max(period, farthest(other, 1.0, -tx, -ty, dx, dy))
        period = max(period, farthest(other, -1.0, tx, ty, dx, dy))
    if period <= 0.0:
        return math.inf
    s = share * period
    high = pair_roof(own, other, tx, ty, dx, dy, period, s)
    if not high > 0.0:
        return math.inf
    for m in range(2, 4):
        if m * high < pair_roof(own, other, tx, ty, dx, dy, period, m * s) - 1e-9:
            return math.inf
    out[0] = period * dx
    out[1] = period * dy
    out[2] = s * dx - high * dy
    out[3] = s * dy + high * dx
    out[4] = tx
    out[5] = ty
    return period * high


@njit(**FLAT)
def seek_cell(own, other, ways, places, best, tops, trial, out):
    """Seek the cell of least area: `ways` directions and `places` along the roof, then the best few by shrinking steps.

    `own (m, 4)`, `other (k, 4)`: segments of the no-fit regions; `other` is empty for a lattice without turned
    copies. `best (n,)`, `tops (n, 3)`, `trial (6,)` are scratch; `out (6,)` takes u, v, t. Gives the area."""
    count = best.shape[0]
    for k in range(count):
        best[k] = math.inf
    turns = 2 * ways if other.shape[0] > 0 else 1
    for i in range(turns):
        psi = math.pi * i / ways
        for j in range(ways):
            phi = math.pi * j / ways
            least = math.inf
            at = 0.0
            for m in range(places):
                area = cell_of(own, other, psi, phi, m / places, trial)
                if area < least:
                    least = area
                    at = m / places
            worst = 0
            for k in range(1, count):
                if best[k] > best[worst]:
                    worst = k
            if least < best[worst]:
                best[worst] = least
                tops[worst, 0] = psi
                tops[worst, 1] = phi
                tops[worst, 2] = at
    least = math.inf
    for k in range(count):
        if best[k] == math.inf:
            continue
        area = refine_cell(own, other, tops[k], math.pi / ways, 1.0 / places, trial)
        if area < least:
            least = area
            for m in range(6):
                out[m] = trial[m]
    return least


@njit(**FLAT)
def refine_cell(own, other, top, turn, place, out):
    """Better the three numbers in `top` by steps that shrink; gives the area and leaves u, v, t in `out (6,)`."""
    area = cell_of(own, other, top[0], top[1], top[2], out)
    share = 1.0
    while share > 1e-5:
        found = False
        for way in range(18):
            psi = top[0]
            phi = top[1]
            s = top[2]
            sign = 1.0 if way % 2 == 0 else -1.0
            axis = way // 2
            a = b = c = 0.0
            if axis == 0:
                a = sign
            elif axis == 1:
                b = sign
            elif axis == 2:
                c = sign
            elif axis == 3:
                a, b = sign, sign
            elif axis == 4:
                a, b = sign, -sign
            elif axis == 5:
                a, c = sign, sign
            elif axis == 6:
                a, c = sign, -sign
            elif axis == 7:
                b, c = sign, sign
            else:
                b, c = sign, -sign
            psi += a * share * turn
            phi += b * share * turn
            s += c * share * place
            value = cell_of(own, other, psi, phi, s, out)
            if value < area - 1e-9:
                area = value
                top[0] = psi
                top[1] = phi
                top[2] = s
                found = True
        share *= 1.2 if found else 0.5
    return cell_of(own, other, top[0], top[1], top[2], out)


@njit(**INNER)
def draw_beside(P, T, item, allow):
    """A pose (found, x, y, angle) of an item beside a random one of its kind, as the lattice of its shape has it.

    Nothing is found where that one is itself, lies elsewhere or the other way up, or the turn is not allowed."""
    shape = P.allow_shape[allow]
    first = P.beside_start[shape]
    many = P.beside_start[shape + 1] - first
    group = P.group[item]
    start = P.group_start[group]
    mates = P.group_start[group + 1] - start
    if many == 0 or mates < 2:
        return False, 0.0, 0.0, 0.0
    other = P.group_item[start + int(next_random(T.random) * mates)]
    if other == item or T.field[other] != P.allow_field[allow] or T.shape[T.row[other]] != shape:
        return False, 0.0, 0.0, 0.0
    k = first + int(next_random(T.random) * many)
    turn = T.angle[other]
    angle = (turn + P.beside_turn[k]) % 360.0
    allowed = False
    for m in range(P.turn_start[allow], P.turn_start[allow + 1]):
        if P.turn_lo[m] <= angle <= P.turn_hi[m]:
            allowed = True
    c, s = cosine_sine(turn)
    x = T.x[other] + c * P.beside_x[k] - s * P.beside_y[k]
    y = T.y[other] + s * P.beside_x[k] + c * P.beside_y[k]
    return allowed, x, y, angle
