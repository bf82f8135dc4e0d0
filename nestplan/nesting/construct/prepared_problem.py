"""A problem prepared for laying: what is worked out once for each shape, area and field."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely

from nestplan.nesting.arrays.construct_kernels import fill_depth, mark_inside
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.packing import pack
from nestplan.nesting.arrays.packing_kernels import inner_clearance
from nestplan.nesting.arrays.records import Areas, Grid, PlacementOptions, Shapes
from nestplan.nesting.problem import Floats, Problem, Ring, Singles

__all__ = ["PreparedProblem", "hardest_first"]

RIM_POINTS = 32
"""Points round each shape at which clearance is looked at."""

RASTER_NODES = 40_000
"""About how many nodes a field's raster has."""

LEAST_CELL = 0.05
"""mm, the least side of a raster's cell."""

FIELD_EDGES = 8
"""How many of a field's longest edges shapes are laid along."""


@dataclass(eq=False)
class PreparedProblem:
    """A problem made ready for laying: packed arrays, and what is worked out once for each shape and area."""

    problem: Problem
    shapes: Shapes
    areas: Areas
    options: PlacementOptions
    fixed_shapes: list[int]
    _demands: dict[int, list[tuple[float, Singles]]] = field(default_factory=dict)
    _depths: dict[tuple[object, ...], Singles] = field(default_factory=dict)

    @classmethod
    def of(cls, problem: Problem) -> PreparedProblem:
        """A problem prepared, its arrays packed for it."""
        return cls(problem, *pack(problem))

    @classmethod
    def from_layout(cls, layout: Layout) -> PreparedProblem:
        """A layout's problem prepared, with the arrays the layout has packed already."""
        return cls(layout.problem, *layout.packed)

    def with_quarter_turns(self, axes: Sequence[float]) -> PreparedProblem:
        """The same with items lying only at quarter turns from the axis (degrees) of their field, where that is allowed
        them; others keep their turns.

        Panels with straight edges lie closer so, and each is sooner laid.
        """
        starts, low, high = [0], [], []
        options = self.options
        for option, index in enumerate(options.field.tolist()):
            span = slice(options.turn_start[option], options.turn_start[option + 1])
            own = list(zip(options.turn_low[span].tolist(), options.turn_high[span].tolist(), strict=True))
            quarters = sorted((axes[index] + 90.0 * k) % 360.0 for k in range(4))
            kept = [(turn, turn) for turn in quarters if any(lo <= turn <= hi for lo, hi in own)] or own
            starts.append(starts[-1] + len(kept))
            low += [lo for lo, _ in kept]
            high += [hi for _, hi in kept]
        turned = options._replace(
            turn_start=np.array(starts), turn_low=np.array(low, float), turn_high=np.array(high, float)
        )
        return replace(self, options=turned)

    def ring_of(self, shape: int) -> Ring:
        """The ring (n, 2) of a master shape, mm."""
        count = int(self.shapes.corner_count[shape])
        return np.column_stack([self.shapes.corner_x[shape, :count], self.shapes.corner_y[shape, :count]])

    def options_of(self, item: int) -> range:
        """Numbers of an item's options."""
        return range(int(self.options.start[item]), int(self.options.start[item + 1]))

    def containments_of(self, option: int) -> range:
        """Numbers of what an option asks to lie within areas."""
        starts = self.options.containment_start
        return range(int(starts[option]), int(starts[option + 1]))

    @cached_property
    def rims(self) -> list[Floats]:
        """Points (RIM_POINTS, 2), evenly spaced round each master shape, mm."""
        shares = np.arange(RIM_POINTS) / RIM_POINTS
        rings = [shapely.LinearRing(self.ring_of(k)) for k in range(len(self.shapes.corner_count))]
        points = (shapely.line_interpolate_point(ring, shares, normalized=True) for ring in rings)
        return [shapely.get_coordinates(rim) for rim in points]

    @cached_property
    def main_edges(self) -> Floats:
        """Direction (degrees) of the longest edge of each master shape."""
        turns = []
        for k in range(len(self.shapes.corner_count)):
            ring = self.ring_of(k)
            span = np.roll(ring, -1, axis=0) - ring
            longest = span[int(np.argmax(np.hypot(span[:, 0], span[:, 1])))]
            turns.append(math.degrees(math.atan2(longest[1], longest[0])))
        return np.array(turns)

    @cached_property
    def disc_depths(self) -> Floats:
        """How deep (mm) the middle of the largest disc of an option's shape lies in each ring that the option asks to
        lie within an area (containments,), negative outside it."""
        out = np.full(len(self.options.containment_shape), -1.0)
        known: dict[tuple[int, int], float] = {}
        for option, shape in enumerate(self.options.shape.tolist()):
            for containment in self.containments_of(option):
                contained = int(self.options.containment_shape[containment])
                if (shape, contained) not in known:
                    x, y = float(self.shapes.disc_x[shape, 0]), float(self.shapes.disc_y[shape, 0])
                    known[shape, contained] = inner_clearance(self.ring_of(contained), x, y)
                out[containment] = known[shape, contained]
        return out

    @cached_property
    def field_edges(self) -> list[Floats]:
        """Directions (degrees) of the longest edges of each field's outline."""
        found = []
        for outline in self.problem.fields:
            points = shapely.get_coordinates(outline.exterior.simplify(2.0))
            span = np.diff(points, axis=0)
            longest = span[np.argsort(-np.hypot(span[:, 0], span[:, 1]), kind="stable")[:FIELD_EDGES]]
            found.append(np.degrees(np.arctan2(longest[:, 1], longest[:, 0])))
        return found

    def grid_of(self, index: int) -> Grid:
        """The grid of a field's rasters."""
        x0, y0, x1, y1 = self.problem.fields[index].bounds
        cell = max(math.sqrt((x1 - x0) * (y1 - y0) / RASTER_NODES), LEAST_CELL)
        columns, rows = int((x1 - x0) / cell) + 6, int((y1 - y0) / cell) + 6
        return Grid(x0 - 2 * cell, y0 - 2 * cell, cell, columns, rows)

    def areas_asked(self, option: int) -> tuple[int, ...]:
        """The areas that an option names: what kind of leather it asks for."""
        return tuple(sorted({int(self.options.containment_area[c]) for c in self.containments_of(option)}))

    def demands_on(self, index: int) -> list[tuple[float, Singles]]:
        """For each set of areas that options on a field name: how much area of shapes asks for it, mm², and a raster of
        1 where it holds."""
        if index not in self._demands:
            grid = self.grid_of(index)
            asked: dict[tuple[int, ...], float] = {}
            for item in range(len(self.problem.items)):
                options = self.options_of(item)
                size = float(self.shapes.hull_size[self.options.shape[options[0]]] ** 2) if options else 0.0
                for areas in {self.areas_asked(o) for o in options if self.options.field[o] == index}:
                    asked[areas] = asked.get(areas, 0.0) + size
            rasters = []
            for areas, size in sorted(asked.items()):
                count = np.zeros((grid.rows, grid.columns), np.float32)
                for area in areas:
                    mark_inside(self.areas, area, grid, count)
                rasters.append((size, (count >= len(areas) - 0.5).astype(np.float32)))
            self._demands[index] = rasters
        return self._demands[index]

    def depth_raster(self, option: int) -> Singles:
        """Raster, in the grid of its field, of how far each node is inside what an option asks for, mm."""
        index = int(self.options.field[option])
        radius = float(self.shapes.disc_radius[self.options.shape[option], 0])
        asked = sorted(
            (int(self.options.containment_area[c]), round(radius - float(self.disc_depths[c]), 1))
            for c in self.containments_of(option)
        )
        key = (index, *asked)
        if key not in self._depths:
            grid = self.grid_of(index)
            depth = np.empty((grid.rows, grid.columns), np.float32)
            fill_depth(self.shapes, self.areas, self.options, self.disc_depths, option, grid, depth)
            self._depths[key] = depth
        return self._depths[key]

    @cached_property
    def hardness(self) -> Floats:
        """How hard each item is to lay: its hull's area, more for long ones and for those with little leather."""
        out = np.zeros(len(self.problem.items))
        known: dict[int, float] = {}
        room: dict[tuple[int, ...], float] = {}
        whole = sum(outline.area for outline in self.problem.fields) or 1.0
        for number, item in enumerate(self.problem.items):
            if item.kind not in known and item.options:
                leather = 0.0
                for option in item.options:
                    key = (option.field, *(id(d.area) for d in option.constraints))
                    if key not in room:
                        room[key] = min((d.area.area for d in option.constraints), default=whole)
                    leather += room[key] * min(max(option.turns.measure, 20.0) / 180.0, 1.0) ** 0.5
                shape = int(self.options.shape[self.options.start[number]])
                size, span = float(self.shapes.hull_size[shape]), float(self.shapes.diameter[shape])
                scarce = (whole / max(min(leather, whole), 1e-6 * whole)) ** 0.5
                known[item.kind] = size * span * scarce
            out[number] = known.get(item.kind, 0.0)
        return out


def hardest_first(prepared: PreparedProblem, items: Iterable[int]) -> list[int]:
    """Items by hardness, equal kinds together."""
    return sorted(items, key=lambda i: (-prepared.hardness[i], prepared.problem.items[i].kind, i))
