"""Random nasty jobs, planned and judged by a second check that shares no code with the program: a run by a command.

    python -m tests.outside.nasty_jobs --jobs 10000 --seed 1 [--first 0] [--small] [--quick] [--rich]
        [--minutes 5]
    python -m tests.outside.nasty_jobs --jobs 200 --laces

Needles, stars, combs and shapes with points almost upon each other, with tight stretch, overcuts, straps and laces, on
thin, slanted and holed hides, with some pieces kept, for every goal. `--rich` adds regions, faces, openings, layers,
spirals, joined straps and what the job may allow beyond the rules; with `--quick` most have a clock of a twentieth of a
second, so that many are planned. `--laces` plans long laces of an inch and less on slanted sheets instead, every
second time with pieces among which they move. A finding is: an exception, a fault by the second check, a piece taken
back by the program's own, more than a minute of processor time. A plan later than its clock by more than a tenth and
three seconds is one too, unless the machine is busy with other work. Ends with 1 where there were any.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import msgspec
import numpy as np
import shapely

from nestplan.errors import NestplanError
from nestplan.model import (
    Article,
    Disc,
    Flaw,
    Hide,
    Job,
    Layer,
    LayerCut,
    Line,
    Overcut,
    Permissions,
    Piece,
    Placement,
    Region,
    StretchRule,
    Strip,
)
from nestplan.model.files import to_text
from nestplan.model.goals import GOALS
from nestplan.nesting.nest import nest
from tests.outside.second_check import faults_in

__all__ = [
    "Case",
    "enriched",
    "findings_of",
    "hurried",
    "laced_case",
    "nasty_case",
    "nasty_ring",
    "slanted_hide",
]

_MOST_SECONDS = 60.0
"""Processor time for one job without a clock."""


@dataclass(frozen=True)
class Case:
    """A job on its hides, and how it is planned. `keeping`: it is planned twice, the second time with some pieces of
    the first plan kept."""

    job: Job
    hides: tuple[Hide, ...]
    goal: str
    seconds: float | None
    passes: int | None
    keeping: bool


def nasty_ring(kind: str, chance: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """A needle, a star, a comb or a blob with points almost upon each other, mm."""
    if kind == "needle":
        return ((0.0, 0.0), (float(chance.uniform(150, 500)), 1.5), (0.0, 3.0))
    if kind == "star":
        count = int(chance.integers(5, 12))
        turns = np.arange(2 * count) * math.pi / count
        radii = np.where(np.arange(2 * count) % 2, chance.uniform(8, 20), chance.uniform(60, 120))
        return tuple(
            (float(r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(radii, turns, strict=True)
        )
    if kind == "comb":
        teeth, high = int(chance.integers(3, 7)), float(chance.uniform(40, 120))
        tooth = ((2.0, 15.0), (4.0, high), (12.0, high), (14.0, 15.0))
        top = [(20.0 * n + dx, y) for n in range(teeth) for dx, y in tooth]
        return ((0.0, 0.0), (20.0 * teeth, 0.0), *reversed(top))
    if kind == "hook":
        wide, thin = float(chance.uniform(60, 160)), float(chance.uniform(2, 12))
        return ((0, 0), (wide, 0), (wide, wide), (wide - thin, wide), (wide - thin, thin), (0, thin))
    turns = np.sort(chance.uniform(0, 2 * math.pi, 24))
    turns = np.sort(np.concatenate([turns, turns[:8] + 1e-4]))
    return tuple((float(70 * math.cos(t)), float(50 * math.sin(t))) for t in turns)


_KINDS = ("needle", "star", "comb", "near", "hook")


def nasty_case(seed: int, number: int, *, small: bool = False) -> Case:
    """The `number`-th case of a seed; a `small` one takes a tenth of a second or so."""
    chance = np.random.default_rng([seed, number, 3])
    kinds = [
        str(kind) for kind in chance.choice(_KINDS, 1 if small else int(chance.integers(1, 4)), replace=False)
    ]
    pieces = tuple(_piece(kind, chance) for kind in kinds)
    strips = (
        Strip(
            name="strap",
            width=20.0,
            length=300.0 if small else 700.0,
            joins=int(chance.integers(0, 2)),
            tolerance=2.0,
        ),
        Strip(
            name="lace",
            width=6.35,
            length=float(chance.uniform(100, 900)),
            count=int(chance.integers(1, 4)),
            along="any",
        ),
    )
    which = int(chance.integers(0, 4))
    article = Article(
        name="all",
        sets=int(chance.integers(1, 3)),
        pieces=pieces,
        strips=strips[:which] if which < 3 else strips[1:],
    )
    job = Job(
        name="nasty",
        articles=(article,),
        gap=float(chance.choice([0.0, 1.5, 4.0])),
        strip_gap=float(chance.choice([0.0, 0.0, 1.0])),
    )
    hides = tuple(
        _thin_hide(f"thin {n}", chance, small) for n in range(1 if small else int(chance.integers(1, 4)))
    )
    how = chance.random()
    return Case(
        job,
        hides,
        goal=str(GOALS.names[number % len(GOALS.names)]),
        seconds=float(chance.uniform(0.2, 1.5)) if not small and how < 0.3 else None,
        passes=1 if not small and how > 0.6 else None,
        keeping=bool(chance.random() < 0.3),
    )


def slanted_hide(chance: np.random.Generator, name: str = "sheet") -> Hide:
    """A long sheet at any turn, its edges not quite parallel."""
    turn, length, width = chance.uniform(0, math.pi), chance.uniform(1050, 1600), chance.uniform(200, 500)
    corners = [
        (0, 0),
        (length, chance.uniform(-20, 20)),
        (length, width),
        (0, width + chance.uniform(-20, 20)),
    ]
    cosine, sine = math.cos(turn), math.sin(turn)
    return Hide(
        name=name,
        leather="any",
        outline=tuple((x * cosine - y * sine, x * sine + y * cosine) for x, y in corners),
    )


def laced_case(seed: int, number: int) -> Case:
    """Twelve long laces on a slanted sheet; every second time fewer on two or three, with pieces that they move among
    while the sheets are emptied."""
    chance = np.random.default_rng([seed, number, 6])
    moving = number % 2 == 1
    hides = tuple(
        slanted_hide(chance, f"sheet {n}") for n in range(int(chance.integers(2, 4)) if moving else 1)
    )
    lace = Strip(
        name="lace",
        width=(25.4, 6.35, 25.4, 12.7)[number % 4],
        length=1016.0 if number % 3 else float(chance.uniform(600, 1040)),
        count=4 if moving else 12,
        along="any",
        use="lace",
    )
    sheet = float(np.mean([hide.gross_area for hide in hides]))
    side = round(float(chance.uniform(60, 180)), 2)
    panel = Piece(
        name="panel",
        outline=((0.0, 0.0), (side, 0.0), (0.9 * side, 0.8 * side), (0.0, 0.7 * side)),
        count=max(int(0.5 * sheet / (0.71 * side**2)), 1),
    )
    article = Article(name="laces", sets=1, pieces=(panel,) if moving else (), strips=(lace,))
    gap = float(chance.choice([0.0, 1.5])) if moving else 1.5
    job = Job(name="laces", articles=(article,), gap=gap, strip_gap=float(chance.choice([0.0, 0.0, 1.0])))
    passes = 4 + 40 * (number % 8 == 7) if moving else 1
    return Case(job, hides, goal="complete", seconds=None, passes=passes, keeping=False)


def enriched(case: Case, seed: int, number: int) -> Case:
    """The case with what rules there are: regions, faces, openings, layers, spirals, joined straps, permissions."""
    chance = np.random.default_rng([seed, number, 4])
    hides = tuple(_rich_hide(hide, chance) for hide in case.hides)
    (article,) = case.job.articles
    lined = bool(chance.random() < 0.25)
    made = msgspec.structs.replace(
        article,
        pieces=tuple(_rich_piece(piece, chance, lined=lined) for piece in article.pieces),
        strips=tuple(_rich_strip(strip, chance) for strip in article.strips),
    )
    job = msgspec.structs.replace(
        case.job,
        articles=(made,),
        layers=tuple(Layer(name=name) for name in (("leather", "lining") if lined else ("leather",))),
        permissions=Permissions(
            run_off=float(chance.choice([0.0, 0.0, 5.0])), through_flaws_in_overcut=bool(chance.integers(2))
        ),
        mates_price=float(chance.choice([0.0, 20.0])),
        useful_width=float(chance.choice([10.0, 50.0, 200.0])),
    )
    return replace(case, job=job, hides=hides)


def hurried(case: Case, seed: int, number: int) -> Case:
    """The case with hardly any time, four times of five: what is laid by then is told, and no more is looked for."""
    chance = np.random.default_rng([seed, number, 5])
    return replace(case, seconds=0.05, passes=None) if chance.random() < 0.8 else case


def _rich_hide(hide: Hide, chance: np.random.Generator) -> Hide:
    """The hide with regions across it, faces spoiled, a hole, points almost upon each other; at times no backbone."""
    ring = np.array(hide.outline)
    if chance.random() < 0.5:
        near = ring + (np.roll(ring, -1, axis=0) - ring) * chance.choice([1e-8, 1e-6, 1e-4])
        ring = np.insert(ring, [1, 2], near[:2], axis=0)
    low, middle, high = ring.min(axis=0), ring.mean(axis=0), ring.max(axis=0)
    across = chance.random() < 0.5
    cut_at = float(chance.uniform(0.2, 0.8)) * (high - low)[0 if across else 1] + low[0 if across else 1]
    corner = (cut_at, high[1] + 9.0) if across else (high[0] + 9.0, cut_at)
    box = ((low[0] - 9, low[1] - 9), (corner[0], low[1] - 9), corner, (low[0] - 9, corner[1]))
    regions = [
        Region(
            name="one",
            outline=tuple((float(x), float(y)) for x, y in box),
            firmness=int(chance.integers(1, 6)),
            stretch=[None, "all", float(chance.uniform(0, 180))][int(chance.integers(3))],
        )
    ]
    if chance.random() < 0.4:
        disc = [(50.0 * math.cos(t), 50.0 * math.sin(t)) for t in np.arange(24) * math.pi / 12]
        outline = tuple((float(middle[0] + x), float(middle[1] + y)) for x, y in disc)
        regions.append(Region(name="two", outline=outline, firmness=int(chance.integers(1, 6))))
    flaws = tuple(
        msgspec.structs.replace(flaw, spoils=str(chance.choice(["through", "grain", "flesh"])))
        for flaw in hide.flaws
    )
    knows = chance.random()
    return msgspec.structs.replace(
        hide,
        outline=tuple((float(x), float(y)) for x, y in ring),
        regions=tuple(regions[: int(chance.integers(0, 3))]),
        flaws=flaws,
        backbone=hide.backbone if knows < 0.8 else None,
        stretch=float(chance.uniform(-90, 270)) if chance.random() < 0.3 else None,
        firmness=int(chance.integers(1, 6)),
        price=float(chance.uniform(1, 300)) if chance.random() < 0.5 else None,
    )


def _rich_piece(piece: Piece, chance: np.random.Generator, *, lined: bool) -> Piece:
    """The piece with an opening where it is roomy, a face to show, regions to keep to, and a lining at times."""
    whole = shapely.Polygon(piece.outline).buffer(-4.0)
    holes: tuple[tuple[tuple[float, float], ...], ...] = ()
    if chance.random() < 0.4 and not whole.is_empty:
        spot = shapely.maximum_inscribed_circle(whole, tolerance=0.5)
        (x, y), _ = shapely.get_coordinates(spot)[:2]
        half = max(spot.length / 3.0, 0.5)
        holes = (((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)),)
    named = {"regions": ("one",), "not_regions": ("two",)}
    wish = dict([list(named.items())[int(chance.integers(2))]]) if chance.random() < 0.4 else {}
    (cut,) = piece.cuts
    outer = msgspec.structs.replace(
        cut,
        shows=str(chance.choice(["grain", "flesh", "both", "hidden"])),
        least_firmness=int(chance.choice([1, 1, 1, 3])),
        overcut=Overcut(least=float(chance.choice([0.0, 1.0, 3.0])), wished=6.0)
        if chance.random() < 0.4
        else None,
        **wish,
    )
    lining = LayerCut(layer="lining", reversed=True, shows="flesh", stretch=cut.stretch)
    return msgspec.structs.replace(
        piece, holes=holes, count=int(chance.integers(1, 3)), cuts=(outer, lining) if lined else (outer,)
    )


def _rich_strip(strip: Strip, chance: np.random.Generator) -> Strip:
    return msgspec.structs.replace(
        strip,
        joins=int(chance.integers(0, 4)) if strip.use == "strap" else 0,
        least_part=float(chance.choice([30.0, 100.0])),
        lap=float(chance.choice([0.0, 25.0])),
        source=str(chance.choice(["edge", "disc", "either"])),
        use=str(chance.choice(["strap", "lace"])),
        tolerance=float(chance.choice([0.0, 2.0, 30.0, 90.0])),
        over_flaws=bool(chance.integers(2)),
        not_regions=("one",) if chance.random() < 0.3 else (),
        least_firmness=int(chance.choice([1, 1, 4])),
    )


def _piece(kind: str, chance: np.random.Generator) -> Piece:
    tight = StretchRule(
        axis=float(chance.uniform(0, 180)), tolerance=float(chance.choice([0.0, 0.5, 1.0, 30.0]))
    )
    overcut = Overcut(least=2.0, wished=4.0) if chance.random() < 0.2 and kind in ("near", "hook") else None
    return Piece(
        name=kind,
        outline=nasty_ring(kind, chance),
        pair=bool(chance.integers(2)),
        turn_over=bool(chance.integers(2)),
        cuts=(LayerCut(stretch=tight if chance.integers(2) else None, overcut=overcut),),
    )


def _thin_hide(name: str, chance: np.random.Generator, small: bool) -> Hide:
    """A bent strip of leather at any turn, with holes, scratches and a spoilt margin here and there."""
    width = float(chance.uniform(60, 150) if small else chance.uniform(90, 350))
    length = float(chance.uniform(200, 450) if small else chance.uniform(400, 1100))
    bend, turn = float(chance.uniform(-60, 60)), float(chance.choice([0.0, chance.uniform(0, 2 * math.pi)]))
    cosine, sine = math.cos(turn), math.sin(turn)

    def placed(x: float, y: float) -> tuple[float, float]:
        return x * cosine - y * sine, x * sine + y * cosine

    lower = [(0.0, 0.0), (length / 2, bend), (length, 0.0)]
    outline = [*lower, *((x, y + width) for x, y in reversed(lower))]
    flaws = []
    for _ in range(int(chance.integers(0, 3 if small else 6))):
        x, share = float(chance.uniform(20, length - 20)), float(chance.uniform(0.1, 0.9))
        at = placed(x, bend * (1.0 - abs(2.0 * x / length - 1.0)) + share * width)
        margin = float(chance.choice([0.0, 3.0]))
        if chance.random() < 0.7:
            flaws.append(Flaw(spoils="through", disc=Disc(at=at, diameter=9.0), margin=margin))
        else:
            end = (at[0] + 5.0 * cosine, at[1] + 5.0 * sine)
            flaws.append(Flaw(spoils="through", line=Line(points=(at, end), width=1.0), margin=margin))
    return Hide(
        name=name,
        leather="any",
        outline=tuple(placed(x, y) for x, y in outline),
        backbone=(placed(length, width / 2), placed(0.0, width / 2)),
        flaws=tuple(flaws),
    )


def findings_of(case: Case, seed: int) -> list[str]:
    """What is wrong with the plan of a case."""
    start, worked = time.monotonic(), time.process_time()
    try:
        keep: tuple[Placement, ...] = ()
        if case.keeping:
            first = nest(case.job, case.hides, goal=case.goal, seed=seed)
            keep = tuple(
                msgspec.structs.replace(placed, locked=True)
                for placed in first.placements
                if placed.part == 0
            )[::2]
        start = time.monotonic()
        plan = nest(
            case.job,
            case.hides,
            goal=case.goal,
            seconds=case.seconds,
            passes=case.passes,
            seed=seed,
            keep=keep,
        )
    except NestplanError as error:
        return [f"refused: {error}"]
    except Exception as error:
        return [f"exception: {type(error).__name__}: {error}"]
    took, cost = time.monotonic() - start, time.process_time() - worked
    text = to_text(plan)
    # As the plan's file writes them.
    kept = json.loads(to_text(msgspec.structs.replace(plan, placements=keep))).get("placements", [])
    found = faults_in(text, to_text(case.job), [to_text(hide) for hide in case.hides], kept)
    if case.seconds is not None and took > case.seconds * 1.1 + 3.0:
        busy = os.getloadavg()[0] > (os.cpu_count() or 1)
        found += [f"{'busy machine, ' if busy else ''}late: {took:.1f} s of {case.seconds:.1f} s asked"]
    if case.seconds is None and cost > _MOST_SECONDS:
        found.append(f"slow: {cost:.0f} s of processor time")
    return found


def _case(given: argparse.Namespace, number: int) -> Case:
    if given.laces:
        return laced_case(given.seed, number)
    case = nasty_case(given.seed, number, small=given.small)
    case = enriched(case, given.seed, number) if given.rich else case
    return hurried(case, given.seed, number) if given.quick else case


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--rich", action="store_true")
    parser.add_argument("--laces", action="store_true")
    parser.add_argument("--minutes", type=float, default=math.inf)
    given = parser.parse_args(arguments)
    began, wrong, late, done = time.monotonic(), 0, 0, 0
    for number in range(given.first, given.first + given.jobs):
        if time.monotonic() - began > 60.0 * given.minutes:
            break
        for finding in findings_of(_case(given, number), number):
            if finding.startswith("busy machine"):
                late += 1
            else:
                wrong += 1
            print(f"{given.seed} {number}: {finding}", flush=True)
        done += 1
        if done % 500 == 0:
            print(f"… {done} jobs, {wrong} findings, {time.monotonic() - began:.0f} s", flush=True)
    print(f"{done} jobs, {wrong} findings, {late} late on a busy machine, {time.monotonic() - began:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
