"""Random jobs on random hides, planned and judged, from a seed each.

    python -m tests.random_jobs [--jobs 200] [--first 0]

The tests take the first few; run here, as many as asked are planned with all three goals in turn, and every plan is
judged by the audit. Prints what was wrong, and ends with 1 where anything was.
"""

from __future__ import annotations

import argparse
import sys
import time

import msgspec

from nestplan.model import Hide, Job
from nestplan.model.audit import check
from nestplan.model.goals import GOALS
from nestplan.nesting.nest import nest
from tests.generated_hides import generated_hide, generated_job, generated_strips

KINDS = ("goat", "sheep", "belly", "goat", "bend", "sheep", "belly")
GOALS = GOALS.names


def random_job(seed: int) -> tuple[Job, list[Hide], str]:
    """A job with straps at times, two hides of any kind, and a goal."""
    hides = [
        generated_hide(seed, KINDS[seed % 7], name="one"),
        generated_hide(seed + 50, KINDS[(3 * seed) % 7], name="two"),
    ]
    job = generated_job(seed, pieces=4 + 2 * (seed % 8), size=250.0 + 10.0 * (seed % 8))
    article = msgspec.structs.replace(job.articles[0], strips=generated_strips(seed) if seed % 2 else ())
    return msgspec.structs.replace(job, articles=(article,)), hides, GOALS[seed % 3]


def faults_of(seed: int) -> list[str]:
    """What the audit finds wrong with the plan of a random job."""
    job, hides, goal = random_job(seed)
    plan = nest(job, hides, goal=goal, passes=1, seed=seed)
    return [str(fault) for fault in check(plan, job, hides)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args()
    began, wrong = time.perf_counter(), 0
    for seed in range(given.first, given.first + given.jobs):
        found = faults_of(seed)
        wrong += bool(found)
        for fault in found:
            sys.stdout.write(f"{seed}: {fault}\n")
    took = time.perf_counter() - began
    sys.stdout.write(f"{given.jobs} plans, {wrong} wrong, {took:.0f} s\n")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
