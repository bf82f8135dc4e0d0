"""Known optima: `python -m tests.benchmarks.optima [--seconds S] [--seed N] [--strips FOLDER]`.

Equal circles in the least square, n = 5 … 20, and equal squares in the least square, n = 5 and 10, by Separate alone:
a loose square is shrunk step by step, and each step's overlap is removed. `side` is the least square found over the
published one; the aim is 1.03. Under 1 - `TOLERANCE` a published optimum would be beaten, which is a fault.

Radii in a unit square, from memory: n = 5 … 9, 16 in closed form (Schaer 1965; Schaer and Meir 1965; Wengerodt 1983),
all found by Nurmela and Östergård (1997) and kept by Specht (Packomania). Squares: 2 + 1/√2 and 3 + 1/√2 (Göbel
1979; proved by Friedman's survey 2009 for 5 and Stromquist 2003 for 10). A circle is a polygon of 72 corners about
it, which alone costs 0.1 %.

With `--strips`, the folder of strip-packing instances, the jigsaw dighe1 (its optimum is 100 %) and the any-angle
instances gardeyn1_c and gardeyn7_c are laid as well.
"""

from __future__ import annotations

import argparse
import math
import time
from pathlib import Path

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.geometry.ring import disc_ring
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Poses, Problem
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.separation import SeparationEffort
from tests.benchmarks import strip
from tests.benchmarks.random_start import throw_all
from tests.separating import separate

TOLERANCE = 1e-4

RADII = {
    5: 0.207106781,
    6: 0.187680601,
    7: 0.174457630,
    8: 0.170540689,
    9: 0.166666667,
    10: 0.148204323,
    11: 0.142399238,
    12: 0.139958844,
    13: 0.133993513,
    14: 0.129331794,
    15: 0.127166548,
    16: 0.125,
    17: 0.117196743,
    18: 0.115521432,
    19: 0.112265438,
    20: 0.111382348,
}
"""Largest radius of n equal circles in a unit square."""

SQUARES = {5: 2.0 + 1.0 / math.sqrt(2.0), 10: 3.0 + 1.0 / math.sqrt(2.0)}
"""Least side of a square that holds n unit squares."""

HALF = 50.0
CIRCLE = disc_ring((0.0, 0.0), HALF, 0.048, side="outside")
SQUARE = np.array([[-HALF, -HALF], [HALF, -HALF], [HALF, HALF], [-HALF, HALF]])


def in_square(ring: np.ndarray, turns: Turns, count: int, side: float, seed: int) -> Layout:
    """A layout, nothing placed yet, of `count` equal items in a square."""
    field = shapely.box(0.0, 0.0, side, side)
    items = (Item(ring, 0, (PlacementOption(0, turns, (Containment(ring, field),)),)),) * count
    return Layout(Problem((field,), items), seed=seed)


def shrunk(poses: Poses, share: float) -> Poses:
    """The same poses with every place nearer to the origin."""
    return Poses(poses.x * share, poses.y * share, poses.angle, poses.flipped, poses.field)


def descend(ring: np.ndarray, turns: Turns, count: int, side: float, seed: int, until: float) -> float:
    """The least side reached from one random start."""
    layout = in_square(ring, turns, count, side, seed)
    throw_all(layout, 0, range(count))
    effort = SeparationEffort(passes_without_gain=60, stalls=2)

    def late(_: float) -> bool:
        return time.perf_counter() > until

    if not separate(layout, stop=late, poses=600_000, effort=effort):
        return math.inf
    best, step = side, 0.02
    poses = layout.poses()
    while step > 1e-4 and time.perf_counter() < until:
        trial = in_square(ring, turns, count, best * (1.0 - step), seed)
        place_poses(trial, shrunk(poses, 1.0 - step))
        if separate(trial, stop=late, poses=600_000, effort=effort):
            best *= 1.0 - step
            poses = trial.poses()
        else:
            step *= 0.5
    verify(ring, poses, best)
    return best


def verify(ring: np.ndarray, poses: Poses, side: float) -> None:
    """Raises AssertionError where GEOS finds overlap or a protrusion."""
    item = Item(ring, 0, ())
    rings = [Polygon(poses.ring_of(item, k)) for k in range(len(poses.x))]
    square = shapely.box(0.0, 0.0, side, side)
    assert max(shape.difference(square).area for shape in rings) < 1e-6
    assert max(a.intersection(b).area for k, a in enumerate(rings) for b in rings[:k]) < 1e-6


def approach(ring: np.ndarray, turns: Turns, count: int, known: float, seconds: float, seed: int) -> float:
    """The least side found in the time, over the known least side, from as many random starts as there is time for."""
    until = time.perf_counter() + seconds
    best = math.inf
    while time.perf_counter() < until:
        best = min(best, descend(ring, turns, count, 1.12 * known, seed, until))
        seed += 1
    return best / known


def main() -> None:
    """Print one line a case; ends with an error where a published optimum is beaten."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--strips", type=Path)
    options = parser.parse_args()
    still = Turns.of([(0.0, 0.0)])
    cases = [("circles", CIRCLE, still, n, HALF / r) for n, r in RADII.items()]
    cases += [("squares", SQUARE, Turns.any(), n, 2.0 * HALF * side) for n, side in SQUARES.items()]
    # Compiling does not count.
    approach(SQUARE, Turns.any(), 2, 4.0 * HALF, 0.1, 0)
    print("case          side / published   within 3 %")
    beaten = []
    for name, ring, turns, count, known in cases:
        ratio = approach(ring, turns, count, known, options.seconds, options.seed)
        print(f"{count:3} {name:9} {ratio:17.4f}   {'yes' if ratio <= 1.03 else 'no'}", flush=True)
        if ratio < 1.0 - TOLERANCE:
            beaten.append(f"{count} {name}")
    if options.strips is not None:
        for instance in ("dighe1", "gardeyn1_c", "gardeyn7_c"):
            row = strip.run(options.strips / f"{instance}.json", seconds=60.0, seed=options.seed)
            print(f"{instance:12} density {row['density']:7.3f} %", flush=True)
    if beaten:
        raise SystemExit(f"Published optima beaten, which is a fault: {', '.join(beaten)}")


if __name__ == "__main__":
    main()
