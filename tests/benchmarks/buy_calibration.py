"""Does `buy` keep its promise? On fresh simulated hides that the estimate did not see.

Protocol: estimate the leather for a job from `--draws` simulated purchases with one seed. Then make `--fresh`
new purchases with another seed, so that no hide is shared: buy hides as they come until their marked area is
more than the figure, plan the whole job on them with the same effort, and count how often all of it is laid.
Of 200 fresh purchases the 80 % figure should suffice in 74 to 86 %: the fresh count alone spreads by 2.8
points (one standard deviation of a binomial), and the figure, from as many draws, by as much again.

    python -m tests.benchmarks.buy_calibration [--draws 200] [--fresh 200] [--sets 8] [--kind sheep]
        [--passes 0] [--workers 2] [--seed 1] [--json]
"""

from __future__ import annotations

import argparse
import json
import time

from nestplan.estimate.buy import MOST_HIDES, buy
from nestplan.estimate.job_variants import job_for_kind, with_sets
from nestplan.estimate.planner import EnginePlanner
from nestplan.estimate.simulate import HideKind, simulate_hide, usual_kind
from nestplan.estimate.workers import open_workers
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece

FRESH_SEED = 1_000_003


def satchel(sets: int) -> Job:
    """A small bag of five panels, invented for this benchmark: about 15 dm2 a set."""
    sizes = {"front": (240, 180), "back": (240, 180), "flap": (240, 160), "gusset": (70, 400)}
    pieces = tuple(
        Piece(
            name=name,
            outline=(
                (15.0, 0.0),
                (w - 15.0, 0.0),
                (float(w), 20.0),
                (float(w), float(h)),
                (0.0, float(h)),
                (0.0, 20.0),
            ),
        )
        for name, (w, h) in sizes.items()
    )
    return Job(name="satchel", articles=(Article(name="satchel", sets=sets, pieces=pieces),))


def suffices(task: tuple[Job, HideKind, float, int, int, EnginePlanner]) -> tuple[bool, int, float]:
    """Whether buying until the area is passed is enough, on hides nobody has seen: (enough, hides, area mm2)."""
    job, kind, area, seed, number, effort = task
    hides: list[Hide] = []
    total = 0.0
    while total <= area:
        hides.append(simulate_hide(kind, seed, number * MOST_HIDES + len(hides)))
        total += float(hides[-1].stated_area or hides[-1].gross_area)
    return not effort.plan(job, hides, "complete").unplaced, len(hides), total


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--fresh", type=int, default=200)
    parser.add_argument("--sets", type=int, default=8)
    parser.add_argument("--kind", default="sheep")
    parser.add_argument("--passes", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shares", default="0.8", help="figures to test on fresh hides: 0.5,0.8,0.95")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()

    job, kind, effort = satchel(options.sets), usual_kind(options.kind), EnginePlanner(passes=options.passes)
    start = time.perf_counter()
    with open_workers(options.workers) as crew:
        estimate = buy(
            job, kind, draws=options.draws, seed=options.seed, curve_draws=0, planner=effort, workers=crew
        )
        estimated = time.perf_counter() - start
        part = with_sets(job_for_kind(job, kind.kind), dict(estimate.sets))
        rows = []
        for share in (float(text) for text in options.shares.split(",")):
            figure = next(each for each in estimate.figures if each.share == share)
            if figure.area is None:
                continue
            tasks = [
                (part, kind, figure.area, options.seed + FRESH_SEED, number, effort)
                for number in range(options.fresh)
            ]
            answers = crew.map(suffices, tasks)
            enough = sum(fits for fits, _, _ in answers)
            rows.append(
                {
                    "share": share,
                    "area_dm2": figure.area / 1e4,
                    "range_dm2": [None if end is None else end / 1e4 for end in figure.area_range],
                    "hides": figure.hides,
                    "fresh": options.fresh,
                    "suffices": enough / options.fresh,
                    "mean_hides": sum(count for _, count, _ in answers) / options.fresh,
                }
            )
    whole = time.perf_counter() - start
    if options.json:
        print(
            json.dumps(
                {"draws": options.draws, "seconds": whole, "estimate_seconds": estimated, "rows": rows}
            )
        )
        return
    counts = sorted(each.enough or 0 for each in estimate.purchases)
    print(
        f"{options.sets} x {job.name} from {kind.kind}, {options.draws} draws, seed {options.seed}, {effort.words}"
    )
    print(f"hides needed in the draws: {counts[0]} to {counts[-1]}, median {counts[len(counts) // 2]}")
    print("promised   area dm2   95 % range          fresh   suffices in")
    for row in rows:
        low, high = row["range_dm2"]
        top = "open" if high is None else f"{high:.1f}"
        print(
            f"{row['share']:7.0%}  {row['area_dm2']:9.1f}   {low:.1f} to {top:<10}  "
            f"{row['fresh']:6d}   {row['suffices']:.1%}"
        )
    print(f"estimate {estimated:.1f} s, with fresh purchases {whole:.1f} s, {options.workers} workers")


if __name__ == "__main__":
    main()
