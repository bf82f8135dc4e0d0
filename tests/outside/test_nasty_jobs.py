"""Plans of nasty jobs, judged by GEOS from the plan's file alone: nothing of ours takes part in the judgement.

What is wrong by more than 0.01 mm is wrong: shapes that reach into each other, run off the hide, come nearer than the
gap, or lie on a hole.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.model import Article, Disc, Flaw, Hide, Job, LayerCut, Piece, StretchRule, Strip
from nestplan.model.files import to_text
from nestplan.nesting.nest import nest

DEPTH = 0.01


def wrong_in(text: str, job: Job, hides: dict[str, Polygon], holes: dict[str, list[Polygon]]) -> list[str]:
    """What GEOS finds wrong in a plan's file."""
    placed = [
        (each["hide"], "strip" in each, Polygon(each["finished"]), Polygon(each["cut"]))
        for each in json.loads(text).get("placements", [])
    ]
    found = []
    for number, (hide, is_strip, finished, cut) in enumerate(placed):
        if not hides[hide].buffer(DEPTH).covers(cut):
            found.append(f"{number} runs off {hide}")
        if any(finished.intersects(hole.buffer(-DEPTH)) for hole in holes[hide]):
            found.append(f"{number} lies on a hole")
        for other, (there, is_other_strip, _, other_cut) in enumerate(placed[:number]):
            if there != hide:
                continue
            gap = job.strip_gap if is_strip and is_other_strip else job.gap
            if cut.intersects(other_cut.buffer(-DEPTH)) or cut.distance(other_cut) < gap - DEPTH:
                found.append(f"{number} is too near {other}")
    return found


def slanted_hide(chance: np.random.Generator) -> Hide:
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
        name="sheet",
        leather="any",
        outline=tuple((x * cosine - y * sine, x * sine + y * cosine) for x, y in corners),
    )


@pytest.mark.parametrize("seed", range(8))
def test_long_laces_from_a_slanted_edge_are_all_right(seed):
    chance = np.random.default_rng([seed, 1])
    hide = slanted_hide(chance)
    lace = Strip(
        name="lace",
        width=(25.4, 6.35, 5.0, 12.7)[seed % 4],
        length=1016.0 if seed % 3 else float(chance.uniform(600, 1040)),
        count=12,
        along="any",
        use="lace",
    )
    job = Job(name="laces", articles=(Article(name="laces", sets=1, strips=(lace,)),))
    plan = nest(job, [hide], seed=seed)
    assert plan.placements
    assert wrong_in(to_text(plan), job, {"sheet": Polygon(hide.ring)}, {"sheet": []}) == []
    assert all(entry.reason != "taken back" for entry in plan.unplaced)


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
    turns = np.sort(chance.uniform(0, 2 * math.pi, 24))
    turns = np.sort(np.concatenate([turns, turns[:8] + 1e-4]))
    return tuple((float(70 * math.cos(t)), float(50 * math.sin(t))) for t in turns)


def nasty_job(seed: int) -> tuple[Job, Hide]:
    """A few nasty pieces with tight stretch, a strap and a lace, on a thin hide with holes."""
    chance = np.random.default_rng([seed, 2])
    kinds = [str(kind) for kind in chance.choice(["needle", "star", "comb", "near"], 2, replace=False)]
    tight = StretchRule(axis=float(chance.uniform(0, 180)), tolerance=float(chance.choice([0.0, 1.0, 30.0])))
    pieces = tuple(
        Piece(
            name=kind,
            outline=nasty_ring(kind, chance),
            pair=bool(chance.integers(2)),
            turn_over=bool(chance.integers(2)),
            cuts=(LayerCut(stretch=tight if chance.integers(2) else None),),
        )
        for kind in kinds
    )
    strips = (
        Strip(name="strap", width=20.0, length=700.0, joins=1, tolerance=2.0),
        Strip(name="lace", width=6.35, length=float(chance.uniform(300, 900)), count=3, along="any"),
    )
    job = Job(
        name="nasty",
        articles=(Article(name="all", sets=2, pieces=pieces, strips=strips[: int(chance.integers(0, 3))]),),
        gap=float(chance.choice([0.0, 1.5, 4.0])),
    )
    width, length = float(chance.uniform(90, 350)), float(chance.uniform(600, 1100))
    bend = float(chance.uniform(-60, 60))
    outline = (
        (0.0, 0.0),
        (length / 2, bend),
        (length, 0.0),
        (length, width),
        (length / 2, width + bend),
        (0.0, width),
    )
    flaws = []
    for _ in range(4):
        x, share = float(chance.uniform(20, length - 20)), float(chance.uniform(0.1, 0.9))
        lift = bend * (1.0 - abs(2.0 * x / length - 1.0))
        disc = Disc(at=(x, lift + share * width), diameter=9.0)
        flaws.append(Flaw(spoils="through", disc=disc, margin=float(chance.choice([0.0, 3.0]))))
    backbone = ((length, width / 2), (0.0, width / 2))
    return job, Hide(name="thin", leather="any", outline=outline, backbone=backbone, flaws=tuple(flaws))


@pytest.mark.parametrize("seed", range(12))
def test_a_plan_of_a_nasty_job_is_right_and_nothing_is_taken_back(seed):
    job, hide = nasty_job(seed)
    plan = nest(job, [hide], goal=("complete", "fill", "gather")[seed % 3], passes=1, seed=seed)
    holes = [shapely.Polygon(flaw.ring) for flaw in hide.flaws]
    assert wrong_in(to_text(plan), job, {"thin": Polygon(hide.ring)}, {"thin": holes}) == []
    assert all(entry.reason != "taken back" for entry in plan.unplaced)
    placed: dict[Any, int] = {}
    for placement in plan.placements:
        key = (placement.name, placement.layer, placement.copy, placement.part)
        placed[key] = placed.get(key, 0) + 1
    assert set(placed.values()) <= {1}
