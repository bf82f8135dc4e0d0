"""What lattices gain where many items are equal: `python -m tests.benchmarks.equal [--seconds S] [--seed N]`.

Made-up shapes, many copies of one at any turn, gathered on a strip of one metre in four ways in one run, each with
the same processor time on two threads: from a loose start, with places beside equal items, from rows of the densest
lattice, and with both. Prints the density at the start and at the end; `lattice` is the density of the lattice itself,
which a strip with edges cannot reach.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.construct.lattice import densest_lattice, know_lattices
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.gather import Side, gather, used_reach
from tests.benchmarks.lattice_blocks import lay_in_rows
from tests.benchmarks.random_start import lay_loosely

WIDTH = 1000.0
WAYS = ("loose", "beside", "rows", "rows and beside")


def sole(points: int = 40) -> np.ndarray:
    """A long rounded outline with a waist, about 260 × 95 mm."""
    t = np.arange(points) * 2.0 * np.pi / points
    return np.column_stack([130.0 * np.cos(t), (40.0 + 9.0 * np.cos(2.0 * t) + 4.0 * np.cos(t)) * np.sin(t)])


def gusset() -> np.ndarray:
    """A wedge with a notch, 180 × 120 mm."""
    return np.array(
        [[0, 0], [180, 20], [180, 70], [120, 75], [110, 100], [60, 120], [0, 110], [25, 55]], float
    )


def hook() -> np.ndarray:
    """A hook, 150 × 140 mm, that leaves much of its hull empty."""
    return np.array([[0, 0], [150, 0], [150, 90], [110, 90], [110, 40], [45, 40], [30, 140], [0, 140]], float)


def densities(ring: np.ndarray, count: int, way: str, seconds: float, seed: int) -> tuple[float, float]:
    """Shares of the used strip covered at the start and at the end."""
    area = count * Polygon(ring).area
    field = shapely.box(0.0, 0.0, 4.0 * area / WIDTH + 1000.0, WIDTH)
    items = (Item(ring, 0, (PlacementOption(0, Turns.any(), (Containment(ring, field),)),)),) * count
    layout = Layout(Problem((field,), items), seed=seed)
    start = time.process_time()
    if "beside" in way:
        know_lattices(layout)
    if "rows" not in way or not lay_in_rows(layout, Side()):
        lay_loosely(layout, Side(), seed=seed)
    first = area / WIDTH / used_reach(layout, Side())
    gather(layout, Side(), share=lambda _: (time.process_time() - start) / 2.0 / seconds, seed=seed)
    assert layout.feasible()
    return first, area / WIDTH / used_reach(layout, Side())


def main() -> None:
    """Print one line a shape and way."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    densities(gusset(), 4, "rows and beside", 0.01, 0)
    print("shape   copies  way               start    end  lattice")
    for name, ring, count in (("sole", sole(), 60), ("gusset", gusset(), 60), ("hook", hook(), 60)):
        lattice = densest_lattice(ring).density
        for way in WAYS:
            first, last = densities(ring, count, way, options.seconds, options.seed)
            print(f"{name:8} {count:5}  {way:16} {first:6.3f} {last:6.3f} {lattice:8.3f}", flush=True)


if __name__ == "__main__":
    main()
