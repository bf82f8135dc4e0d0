"""Does `buy` keep its promise? On fresh simulated hides that the estimate did not see.

Protocol: estimate the leather for a job from `--trials` simulated purchases with one seed. Then make `--fresh`
new purchases with another seed, so that no hide is shared: buy the number of hides that is advised, and, for
the figures of the table, hides as they come until their marked area is more than the figure; plan the whole job
on them with the same effort, and count how often all of it is laid. A figure errs to the safe side: of 100
estimates with other seeds (`--estimates`) 95 or more should be enough as often as they promise.

    python -m tests.benchmarks.buy_calibration [--trials 100] [--fresh 400] [--estimates 1] [--sets 8]
        [--kind sheep] [--passes 0] [--workers 2] [--seed 1] [--advice-only] [--json]

`--advice-only` leaves out the figures of the table, for which other purchases have to be planned with each seed. Rows
are told on standard error as they come.
"""

from __future__ import annotations

import argparse
import json
import sys
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


def enough(task: tuple[Job, HideKind, float | None, int, int, int, EnginePlanner]) -> tuple[bool, int]:
    """Whether buying is enough on hides nobody has seen, and how many were bought: until more than `area` mm2 are
    there, or without an area `count` hides."""
    job, kind, area, count, seed, number, effort = task
    hides: list[Hide] = []
    while len(hides) < count if area is None else sum(hide.area_paid_for for hide in hides) <= area:
        hides.append(simulate_hide(kind, seed, number * MOST_HIDES + len(hides)))
    return not effort.plan(job, hides, "complete").unplaced, len(hides)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--trials", type=int, default=100)
    parser.add_argument("--fresh", type=int, default=400)
    parser.add_argument("--estimates", type=int, default=1, help="estimates with seeds from --seed on")
    parser.add_argument("--sets", type=int, default=8)
    parser.add_argument("--kind", default="sheep")
    parser.add_argument("--passes", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--advice-only", action="store_true", help="leave out the figures of the table")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()

    job, kind, effort = satchel(options.sets), usual_kind(options.kind), EnginePlanner(passes=options.passes)
    start = time.perf_counter()
    rows: list[dict[str, object]] = []
    with open_workers(options.workers) as crew:
        part = with_sets(job_for_kind(job, kind.kind), {"satchel": options.sets})
        # A number of hides is bought again and again; what it comes to on the same fresh purchases stays.
        known: dict[tuple[float | None, int], float] = {}
        for seed in range(options.seed, options.seed + options.estimates):
            estimate = buy(
                job, kind, trials=options.trials, seed=seed, curve_trials=0, planner=effort, workers=crew
            )
            promised = [("advice", estimate.advice.share, None, estimate.advice.hides)]
            promised += [
                ("table", each.share, each.area, 0)
                for each in estimate.figures
                if each.area is not None and not options.advice_only
            ]
            for what, share, area, count in promised:
                if (area, count) not in known:
                    tasks = [
                        (part, kind, area, count, FRESH_SEED, number, effort)
                        for number in range(options.fresh)
                    ]
                    answers = crew.map(enough, tasks)
                    known[area, count] = sum(fits for fits, _ in answers) / options.fresh
                rows.append(
                    {
                        "seed": seed,
                        "what": what,
                        "promised": share,
                        "hides": count or None,
                        "area_dm2": None if area is None else area / 1e4,
                        "enough": known[area, count],
                    }
                )
                print(rows[-1], file=sys.stderr, flush=True)
    whole = time.perf_counter() - start
    if options.json:
        print(json.dumps({"trials": options.trials, "fresh": options.fresh, "seconds": whole, "rows": rows}))
        return
    print(f"{options.sets} x {job.name} from {kind.kind}, {options.trials} trials, {effort.words}")
    print(f"seed  what    promised  buy          enough in, of {options.fresh} fresh purchases")
    for row in rows:
        bought = f"{row['hides']} hides" if row["area_dm2"] is None else f"{row['area_dm2']:.1f} dm2"
        print(f"{row['seed']:4d}  {row['what']:6}  {row['promised']:7.0%}  {bought:11}  {row['enough']:.1%}")
    for what, share in sorted({(str(row["what"]), float(str(row["promised"]))) for row in rows}):
        mine = [row for row in rows if (row["what"], row["promised"]) == (what, share)]
        kept = sum(float(str(row["enough"])) >= share for row in mine)
        print(f"{what} {share:.0%}: kept by {kept} of {len(mine)} estimates")
    print(f"{whole:.1f} s, {options.workers} workers")


if __name__ == "__main__":
    main()
