"""Jobs for which a plan on few or cheap hides is known, because their pieces were cut from these hides.

    python -m tests.benchmarks.known_plans [--jobs 100] [--first 0] [--passes N]
        [--seconds 30 [--cpu]] [--kind pieces|prices|strips] [--verbose]

One to three invented hides with through-flaws are cut along random lines into parts; every part is made smaller by
`SLACK`, some are left out, and the rest are the pieces asked. With `strips` straps and laces were laid on the hides
first. Spare hides stand before, between and after them; with `prices` all have prices and the known plan is not always
the one on the fewest hides. Each search ends once it uses no more than the known plan. With `--cpu` the clock of the
search is this process's work in all threads, for a machine that does other things as well. Printed: which jobs came out
dearer than known, and how many did not.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import msgspec
import numpy as np
import shapely

from nestplan.model import Article, Hide, Job, LayerCut, Piece, Strip
from nestplan.model.audit import check
from nestplan.model.plan import Placement
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.progress import Observer
from tests.generated_hides import generated_hide, points

KINDS = ("pieces", "prices", "strips")

SLACK = 6.0
"""mm by which each part is made smaller all round."""
SECONDS_TO_PUBLISH = 3.0
"""Processor seconds that the search goes on once it has found what is known, so that a plan has been made of it."""
KEPT = 0.75
"""Share of the parts that are asked for."""
HIDES = ("goat", "sheep", "belly", "bend")


@dataclass(frozen=True)
class KnownJob:
    """A job, all hides there are, and the hides of the plan that is known, with what they cost."""

    job: Job
    hides: tuple[Hide, ...]
    known: frozenset[str]
    by_price: bool

    def cost(self, used: frozenset[str]) -> float:
        """What a plan on these hides costs: their prices, or their number."""
        return sum((hide.price or 0.0) if self.by_price else 1.0 for hide in self.hides if hide.name in used)


def known_job(seed: int, kind: str = "pieces") -> KnownJob:
    """A job made from a seed."""
    rng = np.random.default_rng([seed, 29])
    count, spare = int(rng.integers(1, 4)), int(rng.integers(1, 4))
    hides = []
    for number in range(count + spare):
        leather = HIDES[int(rng.integers(len(HIDES)))]
        hide = generated_hide(100 * seed + number, leather, flaws=6, name=f"hide {number}")
        sound = tuple(flaw for flaw in hide.flaws if flaw.spoils == "through")
        price = round(float(rng.uniform(40.0, 90.0)), 2) if kind == "prices" else None
        hides.append(msgspec.structs.replace(hide, leather="goat", flaws=sound, price=price))
    order = rng.permutation(len(hides)).tolist()
    cut_up = [hides[index] for index in order[:count]]
    strips = (
        Strip(name="strap", width=30.0, length=500.0, count=2 * count),
        Strip(name="lace", width=5.0, length=400.0, count=5, use="lace"),
    )
    asked = strips if kind == "strips" else ()
    dot = Piece(name="dot", outline=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)))
    bare = Job(
        name=f"known {seed}", articles=(Article(name="all", sets=1, pieces=(dot,), strips=asked),), gap=1.5
    )
    problem = LeatherProblem(bare, tuple(cut_up))
    laid, missing = place_strips(problem, problem.required_strips)
    assert not missing
    pieces = [
        Piece(name=f"piece {number}", outline=points(outline), cuts=(LayerCut(shows="hidden"),))
        for number, outline in enumerate(_outlines(problem, laid, rng))
    ]
    article = msgspec.structs.replace(bare.articles[0], pieces=tuple(pieces))
    job = msgspec.structs.replace(bare, articles=(article,))
    return KnownJob(job, tuple(hides), frozenset(hide.name for hide in cut_up), kind == "prices")


def _outlines(problem: LeatherProblem, laid: list[Placement], rng: np.random.Generator) -> list[np.ndarray]:
    """Outlines of the parts of the hides beside the strips."""
    found = []
    target = float(rng.uniform(0.02, 0.12)) * float(np.mean([leather.area for leather in problem.fields]))
    for hide, leather in zip(problem.hides, problem.fields, strict=True):
        taken = [shapely.Polygon(p.cut_ring) for p in laid if p.hide == hide.name]
        for part in _parts(leather.difference(shapely.union_all(taken)), target, rng):
            small = part.buffer(-SLACK, join_style="mitre").simplify(2.0)
            large = max(getattr(small, "geoms", [small]), key=lambda polygon: polygon.area)
            thick = large.area > 0.2 * target and large.area > 12.0 * large.length
            if thick and not large.interiors and rng.random() < KEPT:
                found.append(np.round(shapely.get_coordinates(large.exterior)[:-1], 2))
    return found


def _parts(area: shapely.Geometry, target: float, rng: np.random.Generator) -> Iterator[shapely.Polygon]:
    """An area cut along random lines across its length until no part is larger than the target."""
    for part in getattr(area, "geoms", [area]):
        if part.area <= target and not part.interiors:
            yield part
            continue
        if part.area < 0.05 * target:
            continue
        corner, across, *_ = shapely.get_coordinates(part.minimum_rotated_rectangle.exterior)
        other = shapely.get_coordinates(part.minimum_rotated_rectangle.exterior)[3]
        side, end = across - corner, other - corner
        if np.hypot(*side) < np.hypot(*end):
            side, end = end, side
        turn = math.atan2(side[1], side[0]) + float(rng.uniform(-0.4, 0.4))
        middle = corner + 0.5 * end + float(rng.uniform(0.3, 0.7)) * side
        way = np.array([math.cos(turn), math.sin(turn)]) * 1e5
        off = np.array([-way[1], way[0]])
        half = shapely.Polygon([middle - off, middle + off, middle + off + way, middle - off + way])
        yield from _parts(part.intersection(half), target, rng)
        yield from _parts(part.difference(half), target, rng)


class _Enough(Observer):
    """Ends the search some processor seconds after a candidate with everything costs no more than the known plan: when
    it has been made a plan."""

    def __init__(self, known: KnownJob) -> None:
        self.known = known
        self.complete = False
        self.since = math.inf
        self.passes = 0

    def on_best(self, progress):
        self.complete = progress.placed == progress.asked
        self.passes = progress.passes

    def on_candidate(self, placements):
        used = frozenset(placement.hide for placement in placements())
        if self.complete and self.known.cost(used) <= self.known.cost(self.known.known):
            self.since = min(self.since, time.process_time())

    def has_ended(self, progress):
        """The stop rule."""
        return time.process_time() - self.since > SECONDS_TO_PUBLISH


def outcome(
    known: KnownJob,
    *,
    seconds: float | None = None,
    passes: int | None = None,
    ends_when_found: bool = False,
) -> tuple[bool, str]:
    """Whether everything lies as cheaply as known, and the figures in words; the plan is judged by the audit."""
    enough = _Enough(known)
    plan = nest(
        known.job,
        known.hides,
        seconds=seconds,
        passes=passes,
        observer=enough,
        stop=enough.has_ended if ends_when_found else None,
    )
    assert check(plan, known.job, known.hides) == ()
    used = frozenset(placement.hide for placement in plan.placements)
    missing = sum(each.count for each in plan.unplaced)
    cost, least = known.cost(used), known.cost(known.known)
    pieces = f"{len(known.job.cut_pieces)} pieces, {missing} missing"
    words = f"{pieces}, {len(used)} hides for {cost:.2f}, known {least:.2f}, {enough.passes} rounds"
    return not missing and cost <= least + 1e-6, words


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--jobs", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--cpu", action="store_true", help="seconds of processor, not of the clock")
    parser.add_argument("--passes", type=int, default=None, help="rounds instead of seconds")
    parser.add_argument("--kind", choices=KINDS, default=KINDS[0])
    parser.add_argument("--verbose", action="store_true", help="those found as well")
    given = parser.parse_args()
    good, began = 0, time.perf_counter()
    seconds = given.seconds if given.passes is None else None
    if given.cpu:
        time.monotonic = time.process_time
    for seed in range(given.first, given.first + given.jobs):
        start = time.process_time()
        known = known_job(seed, given.kind)
        is_good, words = outcome(known, seconds=seconds, passes=given.passes, ends_when_found=True)
        good += is_good
        if not is_good or given.verbose:
            used = time.process_time() - start
            sys.stdout.write(f"{seed}: {words} ({used:.0f} s of processor)\n")
            sys.stdout.flush()
    sys.stdout.write(f"{given.kind}: {good} of {given.jobs} as known or better, ")
    sys.stdout.write(f"{time.perf_counter() - began:.0f} s\n")


if __name__ == "__main__":
    main()
