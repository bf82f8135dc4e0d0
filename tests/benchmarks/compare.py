"""What comparing hides costs: one after the other, on two cores, on a Dask cluster, and as hides x jobs grow.

Protocol: `--hides` simulated cow sides and a job of belt panels, one plan each with `--passes`. Four runs
over the same hides, the kernels compiled beforehand: one process; two local processes, their start included;
a Dask cluster of two worker processes on this machine, its start left out (a cluster stands already); and
that again with one worker killed in mid-run. All must give the same answers. Then the growth: the seconds of
1/4, 1/2 and all of the hides for one job and of half for two, with the cost of one hide x job in each; and
from the last the time of 1,000 hides x 10 jobs on 2 and on 64 cores, if the efficiency measured on two holds.

    python -m tests.benchmarks.compare [--hides 20] [--passes 0] [--seed 1] [--no-cluster] [--json]
"""

from __future__ import annotations

import argparse
import json
import logging
import os
import signal
import threading
import time
from collections.abc import Callable, Sequence

from nestplan.estimate.compare import HideAnswer, compare
from nestplan.estimate.planner import EnginePlanner
from nestplan.estimate.simulate import simulate_hides, usual_kind
from nestplan.estimate.workers import open_workers
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import LayerCut, Overcut, Piece, StretchRule
from tests.estimate.stand_in import without_time


def belt_panels(sets: int, size: float = 1.0, name: str = "belt") -> Job:
    """Laced belts of front, side and back pairs with an overcut, invented for this benchmark."""
    cut = LayerCut(overcut=Overcut(least=6.0, wished=10.0), stretch=StretchRule(axis=90.0, tolerance=25.0))
    pieces = tuple(
        Piece(
            name=f"{place} {name}",
            outline=tuple(
                (x * size, y * size) for x, y in ((0, 0), (w / 2, -15), (w, 0), (w - 6, h), (6, h))
            ),
            pair=True,
            cuts=(cut,),
        )
        for place, w, h in (("front", 130, 130), ("side", 150, 115), ("back", 140, 125))
    )
    return Job(name=name, articles=(Article(name=name, sets=sets, pieces=pieces),))


def timed(work: Callable[[], Sequence[HideAnswer]]) -> tuple[float, list[object]]:
    start = time.perf_counter()
    answers = work()
    return time.perf_counter() - start, [without_time(answer) for answer in answers]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--hides", type=int, default=20)
    parser.add_argument("--sets", type=int, default=14)
    parser.add_argument("--passes", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-cluster", action="store_true")
    parser.add_argument("--no-growth", action="store_true")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()

    hides = simulate_hides(usual_kind("cow-side", price=7.0), options.seed, options.hides)
    job, effort = belt_panels(options.sets), EnginePlanner(passes=options.passes, seed=options.seed)
    compare(job, hides[:1], planner=effort)
    found: dict[str, object] = {}

    def tell(figures: dict[str, object]) -> None:
        found.update(figures)
        if not options.json:
            for key, value in figures.items():
                print(
                    f"{key:34} {value:.3f}" if isinstance(value, float) else f"{key:34} {value}", flush=True
                )

    tell({"hides": options.hides, "sets": options.sets, "passes": options.passes})

    alone, truth = timed(lambda: compare(job, hides, planner=effort))

    def on_two() -> Sequence[HideAnswer]:
        with open_workers(2) as crew:
            return compare(job, hides, planner=effort, workers=crew)

    two, same = timed(on_two)
    tell({"one_process_s": alone, "two_processes_s": two, "ratio": two / alone, "same": same == truth})
    if not options.no_cluster:
        tell(on_cluster(job, hides, effort, truth))
    if not options.no_growth:
        tell(growth(hides, options.sets, effort, alone, two))
    if options.json:
        print(json.dumps(found))


def on_cluster(
    job: Job, hides: Sequence[Hide], effort: EnginePlanner, truth: list[object]
) -> dict[str, object]:
    """The same on a cluster of two worker processes, then with one of them killed a third of the way."""
    from distributed import LocalCluster

    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            silence_logs=logging.CRITICAL,
        ) as cluster,
        open_workers(scheduler=cluster.scheduler_address) as crew,
    ):
        # Both workers load the kernels first, as the workers of a standing cluster have.
        compare(job, hides[:2], planner=effort, workers=crew)
        calm, same = timed(lambda: compare(job, hides, planner=effort, workers=crew))
        victims = [worker.pid for worker in cluster.workers.values()]
        killer = threading.Timer(calm / 3.0, lambda: os.kill(victims[0], signal.SIGKILL))
        killer.start()
        killed, same_killed = timed(lambda: compare(job, hides, planner=effort, workers=crew))
        killer.join()
    return {
        "cluster_s": calm,
        "cluster_same": same == truth,
        "cluster_worker_killed_s": killed,
        "cluster_worker_killed_same": same_killed == truth,
    }


def growth(
    hides: Sequence[Hide], sets: int, effort: EnginePlanner, alone: float, two: float
) -> dict[str, object]:
    """Seconds for one hide x job at several sizes, and what 1,000 hides x 10 jobs would take."""
    jobs = [belt_panels(sets), belt_panels(sets, 1.1, "large belt")]
    rows: dict[str, object] = {}
    for count, number in ((len(hides) // 4, 1), (len(hides) // 2, 1), (len(hides) // 2, 2)):
        start = time.perf_counter()
        for each in jobs[:number]:
            compare(each, hides[:count], planner=effort)
        rows[f"one_process_{count}x{number}_s_each"] = (time.perf_counter() - start) / (count * number)
    rows[f"one_process_{len(hides)}x1_s_each"] = alone / len(hides)
    each = alone / len(hides)
    efficiency = alone / (2.0 * two)
    rows["efficiency_on_two"] = efficiency
    for cores in (2, 64):
        rows[f"1000x10_on_{cores}_cores_hours"] = 10_000 * each / (cores * efficiency) / 3600.0
    return rows


if __name__ == "__main__":
    main()
