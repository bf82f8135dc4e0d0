"""How many poses the engine judges in a second: `python -m tests.benchmarks.kernels [--repeats R]`.

Made-up shapes, fixed seed, a fixed number of poses, one thread; the best of R repeats. Four cases: single turns
(looked up in tables), any turns (discs and edges), any turns on a ragged field with holes, and large panels at any turn
on two generated hides with their flaws. A crowded layout is searched by Separate itself, so the mix of early and late
verdicts is the real one.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.model.goals import COMPLETE
from nestplan.nesting.arrays.entry_kernels import run_passes
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.records import POSES_JUDGED
from nestplan.nesting.arrays.search_kernels import begin_run
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from tests.benchmarks.random_start import throw
from tests.generated_hides import generated_hide, generated_job

POSES = 300_000


def star(rng: np.random.Generator, size: float, count: int) -> np.ndarray:
    """A star-shaped ring of `count` points about the origin."""
    angles = (np.arange(count) + rng.uniform(0.1, 0.9, count)) * 2.0 * np.pi / count
    radii = size * rng.uniform(0.5, 1.0, count)
    return np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])


def crowded(turns: Turns, field: Polygon, seed: int) -> Layout:
    """Fifty items of ten shapes on a field too small for them."""
    rng = np.random.default_rng(seed)
    rings = [star(rng, rng.uniform(50.0, 120.0), int(rng.integers(6, 30))) for _ in range(10)]
    items = [
        Item(ring, k, (PlacementOption(0, turns, (Containment(ring, field),)),))
        for k, ring in enumerate(rings)
    ]
    layout = Layout(Problem((field,), tuple(items * 5)), seed=seed)
    for item in range(layout.item_count):
        throw(layout, item, layout.options_of(item)[0])
    return layout


def ragged_field(seed: int) -> Polygon:
    """A star of 160 points with 30 round holes, about 1.1 m²."""
    rng = np.random.default_rng(seed)
    angles = np.arange(160) * 2.0 * np.pi / 160
    radii = 600.0 * rng.uniform(0.95, 1.0, 160)
    field = Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))
    for _ in range(30):
        x, y = rng.uniform(-400.0, 400.0, 2)
        field = field.difference(shapely.Point(x, y).buffer(8.0, quad_segs=4))
    return field


def crowded_hides(seed: int) -> Layout:
    """Large panels on two hides too small for them."""
    job = generated_job(3, pieces=60, size=420.0, rules=False)
    hides = (generated_hide(1), generated_hide(2))
    layout = Layout(LeatherProblem(job, hides, (), COMPLETE).as_shapes(), seed=seed)
    for item in range(layout.item_count):
        options = layout.options_of(item)
        throw(layout, item, options[item % len(options)])
    return layout


def measure(layout: Layout, poses: int) -> float:
    """Poses judged per second of this thread's time by Separate."""
    begin_run(layout.state)
    run_passes(layout.records, 50, 25, 1, 10**9)
    before = int(layout.state.counters[POSES_JUDGED])
    start = time.thread_time()
    run_passes(layout.records, 50, 25, poses, 10**9)
    return (int(layout.state.counters[POSES_JUDGED]) - before) / (time.thread_time() - start)


def main() -> None:
    """Print one line a case."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=3)
    repeats = parser.parse_args().repeats
    box = shapely.box(0.0, 0.0, 1000.0, 800.0)
    halves = Turns.of([(0.0, 0.0), (180.0, 180.0)])
    cases: dict[str, Callable[[], Layout]] = {
        "single turns, rectangle": lambda: crowded(halves, box, 7),
        "any turn, rectangle": lambda: crowded(Turns.any(), box, 7),
        "any turn, ragged field": lambda: crowded(Turns.any(), ragged_field(1), 7),
        "any turn, drawn hides": lambda: crowded_hides(7),
    }
    print(f"{'case':28} poses judged per second")
    for name, layout in cases.items():
        best = max(measure(layout(), POSES) for _ in range(repeats))
        print(f"{name:28} {best:12,.0f}")


if __name__ == "__main__":
    main()
