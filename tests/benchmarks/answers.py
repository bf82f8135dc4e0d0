"""How soon a stopped search answers, and how well the clock is kept.

    python -m tests.benchmarks.answers [--pieces 80] [--seconds 10] [--stops 12] [--seed 0]

A generated job on as many cow sides as six tenths of their area would need, with each goal in turn: planned within the
seconds; then stopped at random moments of such a search. Prints each time, and the worst. Every plan is judged by the
audit. Kernels are compiled first.
"""

from __future__ import annotations

import argparse
import random
import threading
import time

from nestplan.model.audit import check
from nestplan.model.goals import GOALS
from nestplan.nesting.budget import Cancel
from nestplan.nesting.nest import nest
from tests.benchmarks.lay import generated
from tests.generated_hides import generated_hide, generated_job

GOALS = GOALS.names


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--pieces", type=int, default=80)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--stops", type=int, default=12)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    for goal in GOALS:
        nest(
            generated_job(0, pieces=8), [generated_hide(0), generated_hide(1, name="b")], goal=goal, passes=1
        )
    job, hides = generated(given.seed, given.pieces)
    for goal in GOALS:
        began = time.monotonic()
        plan = nest(job, hides, goal=goal, seconds=given.seconds, seed=given.seed)
        took = time.monotonic() - began
        print(
            f"{goal:<9} {given.seconds:.0f} s asked, {took:.2f} s taken, {len(plan.placements)} lie",
            flush=True,
        )
    chance = random.Random(given.seed)
    replies = []
    for number in range(given.stops):
        goal, moment = GOALS[number % 3], chance.uniform(0.0, given.seconds)
        cancel = Cancel()
        asked: list[float] = []

        def ask(cancel: Cancel = cancel, asked: list[float] = asked) -> None:
            asked.append(time.monotonic())
            cancel.cancel()

        timer = threading.Timer(moment, ask)
        timer.start()
        plan = nest(job, hides, goal=goal, seconds=2.0 * given.seconds, seed=number, stop=cancel)
        ended = time.monotonic()
        timer.cancel()
        verdict = "right" if not check(plan, job, hides) else "WRONG"
        if not asked:
            print(f"{goal:<9} done before {moment:.2f} s", flush=True)
            continue
        replies.append(ended - asked[0])
        print(
            f"{goal:<9} stopped at {moment:5.2f} s, answered in {replies[-1]:.3f} s, {len(plan.placements):>4} lie,"
            f" plan {verdict}",
            flush=True,
        )
    print(f"worst answer {max(replies, default=0.0):.3f} s")


if __name__ == "__main__":
    main()
