"""Hide jobs: what the goals gain over Lay, against the area bound and a packer of rectangles. All in one run.

    python -m tests.benchmarks.hides [--seconds 60] [--seed 0] [--hides 5] [--first 0] [--demo FOLDER]

Hides: the demo's first cow side and four generated ones; on each a generated job of panels, its rules of stretch and
face included. For each hide:

- fill: cut area over usable area by Lay alone (nothing but laying, no piece moved afterwards: the best of up to four
  layings, with the seconds they took), and within the seconds; the gain of the second over the first;
- sets: whole sets by each, and the proven bound;
- boxes: the same pieces as bounding boxes with half the gap round them, packed by rectpack (maximal rectangles, best
  short side, turns by 90 degrees) on the largest rectangle of the hide's usable leather: the plain baseline;
- gather: with the pieces of a third and of half of the hide's area, the largest useful offcut by Lay alone, and
  gathered; `most` is the gain if nothing but the pieces' cut area were lost, which no plan reaches.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import rectpack
import shapely

from nestplan.geometry.inscribed import largest_rectangle
from nestplan.model import Hide, Job
from nestplan.model.audit import check
from nestplan.model.files import read_hide
from nestplan.model.plan import Plan
from nestplan.model.rules import PlacementRules
from nestplan.nesting.nest import nest
from tests.generated_hides import generated_hide, generated_job

GATHERED = (1 / 3, 1 / 2)
"""Shares of a hide's area that the pieces of the jobs to be gathered have."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--hides", type=int, default=5)
    parser.add_argument("--first", type=int, default=0, help="which of the hides to begin with, from 0")
    parser.add_argument("--demo", type=Path, default=Path("demo_hides"))
    given = parser.parse_args()
    hides = [read_hide(path) for path in sorted(given.demo.glob("cow_side*.hide.json"))[:1]]
    hides += [generated_hide(seed) for seed in range(1, 1 + given.hides - len(hides))]
    print(
        f"{'hide':<18} {'boxes':>6} {'lay':>6} {'s':>4} {'fill':>6} {'gain':>6} {'sets: lay fill bound':>21}",
        end="",
    )
    for share in GATHERED:
        print(f" {f'offcut dm² at {share:.0%}: lay gather gain most':>43}", end="")
    print()
    nest(generated_job(0, pieces=8), hides[:1], goal="fill", passes=2)
    for number, hide in list(enumerate(hides))[given.first :]:
        job = generated_job(number + 20, pieces=12)
        began = time.perf_counter()
        lay = judged(nest(job, [hide], goal="fill", seed=given.seed), job, hide)
        took = time.perf_counter() - began
        fill = judged(nest(job, [hide], goal="fill", seed=given.seed, seconds=given.seconds), job, hide)
        usable = usable_area(job, hide)
        areas = [cut_area(plan) / usable for plan in (lay, fill)]
        sets = fill.figures.sets[0]
        print(
            f"{hide.name:<18.18} {boxes(job, hide, lay) / usable:>6.1%} {areas[0]:>6.1%} {took:>4.1f} {areas[1]:>6.1%}"
            f" {areas[1] / areas[0] - 1:>6.1%} {lay.figures.sets[0].whole:>11} {sets.whole:>4} {sets.bound:>4}",
            end="",
            flush=True,
        )
        for share in GATHERED:
            few = generated_job(number + 20, pieces=some(job, hide, share))
            plain = judged(nest(few, [hide], seed=given.seed), few, hide)
            gathered = judged(
                nest(few, [hide], goal="gather", seed=given.seed, seconds=given.seconds), few, hide
            )
            offcuts = [max((o.area for o in plan.figures.offcuts), default=0.0) for plan in (plain, gathered)]
            whole = all(plan.figures.placed == plan.figures.asked for plan in (plain, gathered))
            first = max(offcuts[0], 1e-9)
            most = (PlacementRules(hide, few).leather.area - cut_area(gathered)) / first - 1
            print(
                f" {offcuts[0] / 1e4:>24.1f} {offcuts[1] / 1e4:>6.1f} {offcuts[1] / first - 1:>6.1%} {most:>4.0%}"
                + ("" if whole else "*"),
                end="",
                flush=True,
            )
        print()
    print("* not all pieces found a place")


def judged(plan: Plan, job: Job, hide: Hide) -> Plan:
    """The plan, if the audit passes it."""
    faults = check(plan, job, [hide])
    if faults:
        raise SystemExit(f"{hide.name}: {faults[0]}")
    return plan


def cut_area(plan: Plan) -> float:
    """Area of all cut shapes, mm²."""
    return sum(shapely.Polygon(placement.cut_ring).area for placement in plan.placements)


def usable_area(job: Job, hide: Hide) -> float:
    """Area on which some piece of the job may lie, mm²: the bound that area alone gives."""
    rules = PlacementRules(hide, job)
    areas = [allowed.constraints[0].area for piece in job.cut_pieces for allowed in rules.for_piece(piece)]
    return float(shapely.union_all(areas).area)


def some(job: Job, hide: Hide, share: float) -> int:
    """Pieces whose net area is about a share of the hide's."""
    pieces = [p for p in job.cut_pieces for _ in range(p.piece.count)]
    return max(
        round(hide.gross_area * share / (sum(p.piece.net_area for p in pieces) / len(pieces))), len(pieces)
    )


def boxes(job: Job, hide: Hide, plan: Plan) -> float:
    """Cut area of what rectpack places of the plan's pieces, twice over, as bounding boxes, mm²."""
    rules = PlacementRules(hide, job)
    area = shapely.union_all(
        [allowed.constraints[0].area for piece in job.cut_pieces for allowed in rules.for_piece(piece)]
    )
    room = largest_rectangle(area)
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline, pack_algo=rectpack.MaxRectsBssf, rotation=True
    )
    by_key = {piece.key: piece for piece in job.cut_pieces}
    shapes = {}
    for number, placement in enumerate(plan.placements * 2):
        piece = by_key.get((placement.piece, placement.layer, placement.mirrored))
        piece = piece or by_key[placement.piece, placement.layer, not placement.mirrored]
        low, high = piece.shape.min(axis=0), piece.shape.max(axis=0)
        wide, tall = high - low + job.gap
        shapes[number] = shapely.Polygon(piece.shape).area
        packer.add_rect(int(wide * 100) + 1, int(tall * 100) + 1, rid=number)
    packer.add_bin(int((room.width + job.gap) * 100), int((room.height + job.gap) * 100))
    packer.pack()
    return sum(shapes[rid] for *_, rid in packer.rect_list())


if __name__ == "__main__":
    main()
