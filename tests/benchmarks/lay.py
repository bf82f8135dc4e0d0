"""Lay alone: pieces a second and yield on the demo and on generated hides, and how time grows with pieces.

    python -m tests.benchmarks.lay [--pieces 50 200 1000] [--seeds 1] [--demo FOLDER]

Generated: panels of about 220 mm in sets, on as many cow sides with 15 flaws each as six tenths of their area would
need; goal complete, no improvement, a fixed seed. `lay` counts from the first strip to the last piece laid; `all`
is the whole of nest with figures and audit. Memory is the peak of the process so far. Kernels are compiled first.
"""

from __future__ import annotations

import argparse
import itertools
import math
import resource
import time
from collections.abc import Sequence
from pathlib import Path

from nestplan.model import Hide, Job
from nestplan.model.files import read_hides, read_job
from nestplan.nesting.nest import nest
from nestplan.nesting.progress import Observer, Progress
from tests.generated_hides import generated_hide, generated_job

FILLED = 0.6


class LayTime(Observer):
    """Notes when laying ended."""

    def __init__(self) -> None:
        self.laid = 0.0

    def on_stage(self, progress: Progress) -> None:
        if progress.stage == "check":
            self.laid = progress.seconds


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--pieces", type=int, nargs="+", default=[50, 200, 1000])
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--demo", type=Path, default=Path("demo_hides"))
    given = parser.parse_args()
    measure("warm up", generated_job(0, pieces=10), [generated_hide(0)], quiet=True)
    print(f"{'job':<16} {'placed':>11} {'hides':>5} {'net':>6} {'cut':>6}", end="")
    print(f" {'lay s':>7} {'all s':>7} {'per s':>6} {'MiB':>5}")
    rows = []
    for count in given.pieces:
        for seed in range(given.seeds):
            job, hides = generated(seed, count)
            rows.append((count, measure(f"{count} pieces, {seed}", job, hides)))
    for (few, early), (many, late) in itertools.pairwise(rows):
        if many > few:
            power = math.log(late / early) / math.log(many / few)
            print(f"from {few} to {many} pieces the time of laying grows as their number to the {power:.2f}")
    if given.demo.is_dir():
        measure(
            "demo",
            read_job(given.demo / "quillmere.job.json"),
            read_hides(sorted(given.demo.glob("*.hide.json"))),
        )


def generated(seed: int, count: int) -> tuple[Job, list[Hide]]:
    """A job of about so many pieces, and cow sides that it fills to six tenths."""
    job = generated_job(seed, pieces=count)
    need = sum(p.piece.net_area * p.piece.count * job.articles[p.article].sets for p in job.cut_pieces)
    hides = [generated_hide(seed * 100, name="side 1")]
    while FILLED * sum(hide.gross_area for hide in hides) < need:
        hides.append(generated_hide(seed * 100 + len(hides), name=f"side {len(hides) + 1}"))
    return job, hides


def measure(name: str, job: Job, hides: Sequence[Hide], *, quiet: bool = False) -> float:
    """Plan once, print a row, and return the seconds of laying."""
    watch = LayTime()
    began = time.perf_counter()
    figures = nest(job, hides, observer=watch).figures
    whole = time.perf_counter() - began
    assert figures is not None
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if not quiet:
        print(
            f"{name:<16} {figures.placed:>5}/{figures.asked:<5} {figures.hides_used:>5} {figures.net_yield:>6.1%}"
            f" {figures.cut_yield:>6.1%} {watch.laid:>7.2f} {whole:>7.2f} {figures.placed / watch.laid:>6.0f}"
            f" {memory:>5.0f}",
            flush=True,
        )
    return watch.laid


if __name__ == "__main__":
    main()
