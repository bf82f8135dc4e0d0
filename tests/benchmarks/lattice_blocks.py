"""A first layout for many equal items: each kind as a block of its densest lattice, one after another.

What lives here: choosing turn and place of each block, and what becomes of the items that are few or small. What does
not: the lattices (`lattice`), and the start without them (`loose`).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from shapely import MultiPolygon, Polygon

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.construct.lattice import LEAST_EQUAL, Lattice, copies_within, densest_lattice
from nestplan.nesting.problem import Floats, PlacementOption, Ring
from nestplan.nesting.search.gather import Side, lowest, used_reach
from nestplan.nesting.search.separation import Effort, never, separate
from tests.benchmarks.random_start import lay_loosely, spread

__all__ = ["lay_first", "lay_in_rows"]

SMALL_SHARE = 0.1
"""Items smaller than this share of the largest fill gaps; they get no block."""

FULL = 0.85
"""Share of the used part that the items may cover at most before its limit is first tried."""

GROWTH = 1.03
GROWTHS = 8


def lay_first(layout: Layout, side: Side, *, seed: int = 0, stop: Callable[[float], bool] = never) -> Layout:
    """Lay all items on one side's field, in rows or loosely, whichever is shorter. Raises as `lay_loosely`."""
    lay_loosely(layout, side, seed=seed, stop=stop)
    loosely, reach = layout.snapshot(), used_reach(layout, side)
    if not lay_in_rows(layout, side, stop=stop) or used_reach(layout, side) > reach:
        layout.restore(loosely)
    return layout


def lay_in_rows(layout: Layout, side: Side, *, stop: Callable[[float], bool] = never) -> bool:
    """Lay kinds of many items as blocks of lattices from the low end of a side's field; separate the rest in between.

    Whether that gave a feasible layout; if not, the layout is left without a limit and as it came out.
    """
    base = front = lowest(layout, side)
    end = -lowest(layout, Side(side.field, (-side.normal[0], -side.normal[1])))
    sizes = [Polygon(item.ring).area for item in layout.problem.items]
    groups: dict[int, list[int]] = {}
    for index, item in enumerate(layout.problem.items):
        groups.setdefault(item.kind, []).append(index)
    blocks = [
        group
        for group in groups.values()
        if len(group) >= LEAST_EQUAL and sizes[group[0]] >= SMALL_SHARE * max(sizes)
    ]
    for index in range(layout.items):
        layout.lift(index)
    for group in sorted(blocks, key=lambda group: -sizes[group[0]] * len(group)):
        front = _block(layout, side, group, front)
    rest = np.flatnonzero(~layout.placed()).tolist()
    need = sum(sizes) / FULL / layout.problem.fields[side.field].area * (end - base)
    extent = max(front - base, need)
    for _ in range(GROWTHS):
        layout.set_limit(side.field, side.normal, min(end, base + extent))
        spread(layout, side, rest)
        if separate(layout, stop=stop, effort=Effort(patience=30, strikes=1)):
            break
        extent *= GROWTH
    layout.set_limit(side.field, side.normal, np.inf)
    return layout.feasible() and bool(layout.placed().all())


def _block(layout: Layout, side: Side, group: list[int], front: float) -> float:
    """Lay a kind's items as one block from `front` on; the block's end. Nothing is laid where there is no place."""
    item = layout.problem.items[group[0]]
    fitting = [
        number
        for number, leave in enumerate(item.options)
        if leave.field == side.field and not leave.flipped and leave.constraints
    ]
    if not fitting:
        return front
    number = fitting[0]
    leave = item.options[number]
    lattice = densest_lattice(item.ring, half_turned=bool(leave.turns.intersect(leave.turns.shift(180.0))))
    best: tuple[float, Floats] | None = None
    for turn in _turns(lattice, side, leave):
        poses, reach = _from(item.ring, lattice, leave.constraints[0].area, side, turn, front, len(group))
        if len(poses) == len(group) and (best is None or reach < best[0]):
            best = (reach, poses)
    if best is None:
        return front
    for index, (x, y, angle) in zip(group, best[1], strict=True):
        layout.place(index, layout.spot_of(layout.spots(index)[number], float(x), float(y), float(angle)))
    return best[0]


def _turns(lattice: Lattice, side: Side, leave: PlacementOption) -> list[float]:
    """Allowed turns at which a row of the lattice runs along or across the side."""
    toward = np.degrees(np.arctan2(side.normal[1], side.normal[0]))
    u, v = lattice.u, lattice.v
    found: set[float] = set()
    for row in (u, v, u + v, u - v):
        along = np.degrees(np.arctan2(row[1], row[0]))
        for quarter in (0.0, 90.0, 180.0, 270.0):
            for turn in (toward + quarter - along, leave.turns.nearest(float(toward + quarter - along))):
                both = (0.0, 180.0) if lattice.pair is not None else (0.0,)
                if all(leave.turns.contains(float(turn) + half) for half in both):
                    found.add(round(float(turn) % 360.0, 9))
    return sorted(found)


def _from(
    ring: Ring,
    lattice: Lattice,
    area: Polygon | MultiPolygon,
    side: Side,
    turn: float,
    front: float,
    count: int,
) -> tuple[Floats, float]:
    """The `count` copies nearest to the front beyond it, and how far they reach along the side's normal."""
    nx, ny = side.normal
    span = 2.0 * float(np.hypot(ring[:, 0], ring[:, 1]).max())
    x0, y0, x1, y1 = area.bounds
    far = x1 - x0 + y1 - y0
    across = max(span, abs(ny) * (x1 - x0) + abs(nx) * (y1 - y0))
    depth = 2.0 * count * Polygon(ring).area / lattice.density / across + 3.0 * span
    base = np.array([nx, ny]) * front
    band = Polygon(
        [
            base + np.array([-ny, nx]) * far * w + np.array([nx, ny]) * d
            for d, w in ((0.0, -2.0), (depth, -2.0), (depth, 2.0), (0.0, 2.0))
        ]
    )
    window = area.intersection(band)
    best, reach = np.zeros((0, 3)), np.inf
    if window.is_empty or not isinstance(window, Polygon | MultiPolygon):
        return best, reach
    bounds = np.array(window.bounds).reshape(2, 2)
    corner = np.where(np.array(side.normal) < 0.0, bounds[1], bounds[0])
    inward = np.where(np.array(side.normal) < 0.0, -1.0, 1.0)
    for angle, offset in ((turn, np.zeros(2)), (turn + 180.0, lattice.pair)):
        if offset is None:
            continue
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        turned = _turned(ring, angle)
        touching = corner - inward * (inward * turned).min(axis=0)
        shift = touching - offset @ np.array([[c, s], [-s, c]]) + inward * 1e-3
        poses = copies_within(ring, lattice, window, turn=turn, shift=shift)
        if len(poses) < count:
            continue
        reaches = np.array([(_turned(ring, a) @ (nx, ny)).max() + nx * x + ny * y for x, y, a in poses])
        order = np.argsort(reaches, kind="stable")[:count]
        if reaches[order[-1]] < reach:
            best, reach = poses[order], float(reaches[order[-1]])
    return best, reach


def _turned(ring: Ring, angle: float) -> Ring:
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turned: Ring = ring @ np.array([[c, s], [-s, c]])
    return turned
