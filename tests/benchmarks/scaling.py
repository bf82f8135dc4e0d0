"""How soon a search is nearly as good as it gets: `python -m tests.benchmarks.scaling [--pieces 50 200 1000]`.

Jobs and hides are those of `tests.benchmarks.lay`: panels of about 220 mm on as many cow sides as six tenths of their
area would need. The goal is fill, on all the hides, with `--seconds` in all (60); the value is net area of what lies
over the leather's. Told are the first answer, when 95 % and 99 % of the last value were reached first, pieces laid, and
the peak memory of a process of its own.
"""

from __future__ import annotations

import argparse
import resource
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context

from nestplan.nesting.nest import nest
from nestplan.nesting.progress import Observer, Progress
from tests.benchmarks.lay import generated


@dataclass
class Climb(Observer):
    """(seconds, value, pieces) at each better state."""

    steps: list[tuple[float, float, int]] = field(default_factory=list)

    def on_best(self, progress: Progress) -> None:
        self.steps.append((progress.seconds, progress.cut_yield, progress.placed))


def climb(count: int, seconds: float, seed: int) -> tuple[list[tuple[float, float, int]], int, float]:
    """What a search with the goal fill told, the number of hides, and the process's peak memory, MiB."""
    nest(*generated(0, 10), goal="fill", passes=2)
    job, hides = generated(seed, count)
    watch = Climb()
    nest(job, hides, goal="fill", seconds=seconds, seed=seed, observer=watch)
    return watch.steps, len(hides), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def reached(steps: Sequence[tuple[float, float, int]], share: float) -> float:
    """Seconds after which that share of the last value was there."""
    goal = share * max(value for _, value, _ in steps)
    return next(seconds for seconds, value, _ in steps if value >= goal)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--pieces", type=int, nargs="+", default=[50, 200, 1000])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    print("pieces  hides  first answer        last        95 % after  99 % after   MiB")
    for count in given.pieces:
        # A process of its own, so that the memory is this job's alone.
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
            steps, hides, memory = pool.submit(climb, count, given.seconds, given.seed).result()
        (began, first, some), (_, last, most) = steps[0], steps[-1]
        print(
            f"{count:>6} {hides:>6} {first:>6.1%} in {began:>4.1f} s ({some})  {last:>6.1%} ({most})"
            f" {reached(steps, 0.95):>8.1f} s {reached(steps, 0.99):>9.1f} s {memory:>6.0f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
