"""Strip packing against published results: `python -m tests.benchmarks.strip INSTANCE --seconds S --seed N`.

An instance is a JSON file with `strip_width`, `area` and `items` (`demand`, `angles` in degrees or null for any,
`polygon`). It is laid as a field of that width with the goal gather; no gap, no mirroring. The strip is scaled to a
width of one metre, so that the micrometres by which shapes are grown are of no account. Density is the items' area
over width times used length. The last layout is checked with GEOS: no overlap, nothing outside the strip.

The published figures of some instances are for strips widened by 0.01 %, in which items that fill the width exactly
find room; so are ours of these (`WIDENED`), and density counts the widened strip.

Protocol: two threads, median of three seeds, 60 s and 600 s. `ratio` is the density over the mean of Gardeyn, Vanden
Berghe and Wauters (2025), arXiv 2509.13329 (20 minutes, 3 threads, 100 runs); `best` is the best known. Older means:
Sato, Martins, Gomes and Tsuzuki (2019); Elkeran (2013). Of an instance not in the table below, the file's own figures
serve: `published`, with `mean_2025` and `best_2025` as shares.

Set-up (packing, compiling from cache) is outside the time. With `--rounds` the clock is left out and the result is
the same for the same seed on any number of threads. With `--cpu` the budget is processor time, seconds times workers:
what that many seconds give where the processors are free, measured on a machine that is not. With `--until` a run ends
as soon as its ratio is that good: what it prints is then the least that all its seconds would have given, since the
best layout is never given up.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.gather import GatherDirection, GatherResult, gather
from tests.benchmarks.random_start import lay_loosely

WIDTH = 1000.0
"""Width of the scaled strip, mm."""

WIDENED = {"fu": 1.0001, "shapes0": 1.0001, "shapes2": 1.0001}
"""By how much the strip of an instance is widened: as Gardeyn, Vanden Berghe and Wauters (2025) did."""

PUBLISHED = {
    # instance: mean 2025, best 2025, best before 2025, mean 2019, mean 2013 (densities in %)
    "albano": (89.47, 89.82, 89.58, 87.55, 87.47),
    "fu": (92.24, 92.41, 92.41, 91.95, 90.68),
    "marques": (90.93, 92.02, 91.02, 89.97, 89.40),
    "shapes0": (68.60, 69.98, 68.79, 68.73, 67.26),
    "shapes2": (84.68, 86.23, 84.84, 83.02, 82.40),
    "shirts": (89.66, 90.92, 88.96, 87.62, 87.59),
    "swim": (78.26, 79.83, 75.94, 74.29, 74.49),
    "trousers": (91.73, 92.62, 91.06, 90.48, 89.02),
    "dighe1": (100.0, 100.0, 100.0, 100.0, 100.0),
}


def read_problem(data: dict[str, Any]) -> tuple[Problem, float, float]:
    """The problem scaled to `WIDTH` (a little more where `WIDENED` says so), its scale, and the items' area, mm²."""
    scale = WIDTH / data["strip_width"]
    rings = [np.array(entry["polygon"], float) * scale for entry in data["items"]]
    rings = [ring if Polygon(ring).exterior.is_ccw else ring[::-1] for ring in rings]
    counts = [entry["demand"] for entry in data["items"]]
    area = sum(n * Polygon(ring).area for n, ring in zip(counts, rings, strict=True))
    widest = max(float(np.hypot(*np.ptp(ring, axis=0))) for ring in rings)
    width = WIDTH * WIDENED.get(data.get("name", ""), 1.0)
    field = shapely.box(0.0, 0.0, 4.0 * area / WIDTH + 2.0 * widest, width)
    items = []
    for kind, (entry, ring, count) in enumerate(zip(data["items"], rings, counts, strict=True)):
        angles = entry["angles"]
        turns = Turns.any() if angles is None else Turns.of((angle, angle) for angle in angles)
        items += [Item(ring, kind, (PlacementOption(0, turns, (Containment(ring, field),)),))] * count
    return Problem((field,), tuple(items)), scale, area


def published(name: str, data: dict[str, Any]) -> tuple[float | None, float | None]:
    """Mean and best density (%) that are published of an instance; None where none is known."""
    if name in PUBLISHED:
        return PUBLISHED[name][:2]
    figures = data.get("published") or {}
    mean, best = figures.get("mean_2025"), figures.get("best_2025")
    return mean and 100.0 * mean, best and 100.0 * best


def check(problem: Problem, layout: Layout, length: float) -> float:
    """Largest overlap or protrusion (mm²) by GEOS."""
    poses = layout.poses()
    assert (poses.field == 0).all()
    rings = [Polygon(poses.ring_of(item, k)) for k, item in enumerate(problem.items)]
    strip = shapely.box(0.0, 0.0, length, problem.fields[0].bounds[3])
    worst = max(ring.difference(strip).area for ring in rings)
    tree = shapely.STRtree(rings)
    for a, b in tree.query(rings, predicate="intersects").T:
        if a < b:
            worst = max(worst, rings[a].intersection(rings[b]).area)
    return float(worst)


def run(
    path: Path,
    *,
    seconds: float,
    seed: int,
    workers: int = 2,
    rounds: int | None = None,
    by_processor: bool = False,
    until: float | None = None,
) -> dict[str, Any]:
    """Lay one instance and give its figures."""
    data = json.loads(path.read_text(encoding="utf-8"))
    problem, scale, area = read_problem(data)
    width = problem.fields[0].bounds[3]
    name = data.get("name", path.stem)
    mean, best = published(name, data)
    layout = Layout(problem, seed=seed)
    history: list[tuple[float, float]] = []
    # One tiny run first, so that compiling does not count.
    gather(
        lay_loosely(Layout(problem, seed=1), GatherDirection(), seed=1),
        GatherDirection(),
        share=lambda n: float(n),
    )

    def clock() -> float:
        return time.process_time() / workers if by_processor else time.perf_counter()

    start = clock()

    def share(done: int) -> float:
        if until is not None and mean is not None and history and history[-1][1] >= until * mean:
            return 1.0
        return (clock() - start) / seconds if rounds is None else done / rounds

    def note(reach: float) -> None:
        history.append((round(clock() - start, 2), round(100.0 * area / (width * reach), 3)))

    lay_loosely(layout, GatherDirection(), seed=seed)
    result: GatherResult = gather(
        layout, GatherDirection(), share=share, on_improved=note, seed=seed, workers=workers
    )
    spent = clock() - start
    poses = layout.poses()
    rings = [poses.ring_of(item, k) for k, item in enumerate(problem.items)]
    length = max(float(ring[:, 0].max()) for ring in rings)
    fault = check(problem, layout, length)
    density = 100.0 * area / (width * length)
    return {
        "instance": name,
        "items": len(problem.items),
        "seed": seed,
        "seconds": round(spent, 1),
        "length": round(length / scale, 4),
        "density": round(density, 3),
        "ratio": round(density / mean, 4) if mean else None,
        "ratio_to_best": round(density / best, 4) if best else None,
        "judged": result.poses_judged,
        "judged_per_second": round(result.poses_judged / spent),
        "rounds": result.rounds,
        "fault_mm2": fault,
        "history": history,
    }


def main() -> None:
    """Read the command line, run each seed, print a table or JSON."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("instance", type=Path, nargs="+")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, action="append")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--rounds", type=int)
    parser.add_argument("--cpu", action="store_true", help="count processor time, not the clock")
    parser.add_argument(
        "--until", type=float, metavar="RATIO", help="end a run that is this good, where a mean is published"
    )
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    if not options.json:
        print(f"{'instance':14} seed   time     length  density   ratio  to best   poses/s  fault mm2")
    for path in options.instance:
        for seed in options.seed or [0]:
            row = run(
                path,
                seconds=options.seconds,
                seed=seed,
                workers=options.workers,
                rounds=options.rounds,
                by_processor=options.cpu,
                until=options.until,
            )
            if options.json:
                print(json.dumps(row))
                continue
            ratios = [f"{row[key]:.4f}" if row[key] else "-" for key in ("ratio", "ratio_to_best")]
            print(
                f"{row['instance']:14} {row['seed']:4} {row['seconds']:6.1f} {row['length']:10.3f} "
                f"{row['density']:8.3f} {ratios[0]:>7} {ratios[1]:>8} {row['judged_per_second']:9} "
                f"{row['fault_mm2']:10.6f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
