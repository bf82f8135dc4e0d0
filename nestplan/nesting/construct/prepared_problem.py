"""A problem made ready for laying: what is worked out once for each shape, area and field.

What lives here: rims, depths, rasters of what is demanded and of what ground others need, hardness. What does not:
laying (`lay`), the packed arrays themselves (`packed`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.nesting.arrays.construct_kernels import demand_raster, mark_inside
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.packing import Areas, Pieces, Shapes, pack
from nestplan.nesting.arrays.packing_kernels import inner_clearance
from nestplan.nesting.problem import Problem

__all__ = ["PreparedProblem", "hardest_first"]

RIM = 32

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]


@dataclass(eq=False)
class PreparedProblem:
    """A problem made ready for laying: packed arrays, and what is worked out once for each shape and area."""

    problem: Problem
    shapes: Shapes
    areas: Areas
    pieces: Pieces
    fixed: list[int]
    _claims: dict[int, list[tuple[float, Singles]]] = field(default_factory=dict)
    _demanded: dict[tuple[Any, ...], Singles] = field(default_factory=dict)

    @classmethod
    def of(cls, problem: Problem) -> PreparedProblem:
        """The ground of a problem."""
        return cls(problem, *pack(problem))

    @classmethod
    def from_layout(cls, layout: Layout) -> PreparedProblem:
        """The ground of a layout's problem, with the arrays the layout has packed already."""
        return cls(layout.problem, layout.shapes, layout.areas, layout.pieces, layout._fixed)

    def upright(self, axes: Sequence[float]) -> PreparedProblem:
        """The same ground with items lying only at quarter turns from the axis (degrees) of their field, where that is
        allowed them; others keep their turns.

        Panels with straight edges lie closer so, and each is sooner laid.
        """
        starts, low, high = [0], [], []
        for allow, index in enumerate(self.pieces.allow_field.tolist()):
            span = slice(self.pieces.turn_start[allow], self.pieces.turn_start[allow + 1])
            own = list(
                zip(self.pieces.turn_lo[span].tolist(), self.pieces.turn_hi[span].tolist(), strict=True)
            )
            quarters = [(axes[index] + 90.0 * k) % 360.0 for k in range(4)]
            kept = [
                (turn, turn) for turn in sorted(quarters) if any(lo <= turn <= hi for lo, hi in own)
            ] or own
            starts.append(starts[-1] + len(kept))
            low += [lo for lo, _ in kept]
            high += [hi for _, hi in kept]
        turns = {
            "turn_start": np.array(starts),
            "turn_lo": np.array(low, float),
            "turn_hi": np.array(high, float),
        }
        return replace(self, pieces=self.pieces._replace(**turns))

    @cached_property
    def rims(self) -> list[Floats]:
        """Points (RIM, 2), evenly spaced round each master shape."""
        rims = []
        for k in range(len(self.shapes.vn)):
            n = int(self.shapes.vn[k])
            ring = shapely.LinearRing(np.column_stack([self.shapes.vx[k, :n], self.shapes.vy[k, :n]]))
            at = np.arange(RIM) / RIM
            rims.append(shapely.get_coordinates(shapely.line_interpolate_point(ring, at, normalized=True)))
        return rims

    @cached_property
    def main_edges(self) -> Floats:
        """Direction (degrees) of the longest edge of each master shape."""
        turns = []
        for k in range(len(self.shapes.vn)):
            n = int(self.shapes.vn[k])
            ring = np.column_stack([self.shapes.vx[k, :n], self.shapes.vy[k, :n]])
            span = np.roll(ring, -1, axis=0) - ring
            longest = span[int(np.argmax(np.hypot(span[:, 0], span[:, 1])))]
            turns.append(math.degrees(math.atan2(longest[1], longest[0])))
        return np.array(turns)

    @cached_property
    def depths(self) -> Floats:
        """Signed distance (m, k) of the middle of disc k of a demand's own allowance's shape from the edge of the
        ring that demand m holds, positive inside."""
        out = np.full((len(self.pieces.demand_shape), self.shapes.px.shape[1]), -1.0)
        known: dict[tuple[int, int], Floats] = {}
        for a in range(len(self.pieces.allow_shape)):
            shape = int(self.pieces.allow_shape[a])
            for m in range(int(self.pieces.demand_start[a]), int(self.pieces.demand_start[a + 1])):
                other = int(self.pieces.demand_shape[m])
                if (shape, other) not in known:
                    n = int(self.shapes.vn[other])
                    ring = np.column_stack([self.shapes.vx[other, :n], self.shapes.vy[other, :n]])
                    discs = range(int(self.shapes.pn[shape]))
                    known[shape, other] = np.array(
                        [
                            inner_clearance(ring, self.shapes.px[shape, k], self.shapes.py[shape, k])
                            for k in discs
                        ]
                    )
                out[m, : len(known[shape, other])] = known[shape, other]
        return out

    @cached_property
    def field_edges(self) -> list[Floats]:
        """Directions (degrees) of the longest edges of each field's outline."""
        found = []
        for outline in self.problem.fields:
            points = shapely.get_coordinates(outline.exterior.simplify(2.0))
            span = np.diff(points, axis=0)
            longest = span[np.argsort(-np.hypot(span[:, 0], span[:, 1]), kind="stable")[:8]]
            found.append(np.degrees(np.arctan2(longest[:, 1], longest[:, 0])))
        return found

    def frame(self, index: int) -> tuple[float, float, float, int, int]:
        """Raster of a field: x0, y0, cell, and nodes across and up."""
        x0, y0, x1, y1 = self.problem.fields[index].bounds
        cell = max(math.sqrt((x1 - x0) * (y1 - y0) / 40_000), 0.05)
        return x0 - 2 * cell, y0 - 2 * cell, cell, int((x1 - x0) / cell) + 6, int((y1 - y0) / cell) + 6

    def allowances(self, item: int) -> range:
        """Numbers of an item's allowances."""
        return range(int(self.pieces.allow_start[item]), int(self.pieces.allow_start[item + 1]))

    def claims(self, index: int) -> list[tuple[float, Singles]]:
        """For each different wish for ground in a field: how much area has it, and a raster of 1 where it holds.

        A wish is the set of areas an item's demands name in that field.
        """
        if index not in self._claims:
            x0, y0, cell, nx, ny = self.frame(index)
            wishes: dict[tuple[int, ...], float] = {}
            for item in range(len(self.problem.items)):
                own = {self.wish(a) for a in self.allowances(item) if self.pieces.allow_field[a] == index}
                for wish in own:
                    area = self.shapes.scale[self.pieces.allow_shape[self.pieces.allow_start[item]]] ** 2
                    wishes[wish] = wishes.get(wish, 0.0) + float(area)
            rasters = []
            for wish, weight in sorted(wishes.items()):
                count = np.zeros((ny, nx), np.float32)
                for area in wish:
                    mark_inside(self.areas, area, (x0, y0, cell), count, 1.0)
                rasters.append((weight, (count >= len(wish) - 0.5).astype(np.float32)))
            self._claims[index] = rasters
        return self._claims[index]

    def demanded(self, allowance: int) -> Singles:
        """Raster, in the frame of its field, of how far each node is inside what an allowance demands, mm."""
        p = self.pieces
        index = int(p.allow_field[allowance])
        span = range(int(p.demand_start[allowance]), int(p.demand_start[allowance + 1]))
        radius = float(self.shapes.pr[p.allow_shape[allowance], 0])
        asked = sorted((int(p.demand_area[m]), round(radius - float(self.depths[m, 0]), 1)) for m in span)
        key = (index, *asked)
        if key not in self._demanded:
            x0, y0, cell, nx, ny = self.frame(index)
            out = np.empty((ny, nx), np.float32)
            demand_raster(self.areas, self.shapes, p, self.depths, allowance, (x0, y0, cell), out)
            self._demanded[key] = out
        return self._demanded[key]

    def wish(self, allowance: int) -> tuple[int, ...]:
        """The areas that an allowance's demands name: what kind of ground it asks for."""
        span = slice(int(self.pieces.demand_start[allowance]), int(self.pieces.demand_start[allowance + 1]))
        return tuple(sorted({int(area) for area in self.pieces.demand_area[span]}))

    @cached_property
    def hardness(self) -> Floats:
        """How hard each item is to lay: its hull's area, more for long ones and for those with little ground."""
        out = np.zeros(len(self.problem.items))
        known: dict[int, float] = {}
        share: dict[tuple[int, ...], float] = {}
        whole = sum(outline.area for outline in self.problem.fields) or 1.0
        for item, wanted in enumerate(self.problem.items):
            if wanted.kind not in known and wanted.options:
                ground = 0.0
                for a in wanted.options:
                    key = (a.field, *(id(d.area) for d in a.constraints))
                    if key not in share:
                        share[key] = min((d.area.area for d in a.constraints), default=whole)
                    ground += share[key] * min(max(a.turns.measure, 20.0) / 180.0, 1.0) ** 0.5
                shape = int(self.pieces.allow_shape[self.pieces.allow_start[item]])
                size, span = float(self.shapes.scale[shape]), float(self.shapes.span[shape])
                known[wanted.kind] = size * span * (whole / max(min(ground, whole), 1e-6 * whole)) ** 0.5
            out[item] = known.get(wanted.kind, 0.0)
        return out


def hardest_first(ground: PreparedProblem, items: Iterable[int]) -> list[int]:
    """Items by hardness, equal kinds together."""
    return sorted(items, key=lambda i: (-ground.hardness[i], ground.problem.items[i].kind, i))
