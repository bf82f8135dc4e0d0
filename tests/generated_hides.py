"""Hides and jobs drawn by chance from a seed, for benchmarks and random tests. All invented.

The outline of a kind is that of `nestplan.model.anatomy`, made uneven by a few waves; flaws lie anywhere on it.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import shapely

from nestplan.model import (
    Article,
    Disc,
    Flaw,
    Hide,
    Job,
    LayerCut,
    Line,
    Overcut,
    Piece,
    Region,
    StretchRule,
    Strip,
)
from nestplan.model.tape_shape import hide_template

Ring = npt.NDArray[np.float64]


def generated_hide(seed: int, kind: str = "cow-side", *, flaws: int = 15, name: str = "") -> Hide:
    """A hide of a kind with so many flaws, its regions and backbone."""
    rng = np.random.default_rng([seed, 7])
    like = hide_template(kind, area=9e5) if kind in ("goat", "deer") else hide_template(kind)
    outline = uneven(like.ring, rng, 0.008 * like.length)
    whole = shapely.Polygon(outline)
    x0, y0, x1, y1 = whole.bounds
    found: list[Flaw] = []
    while len(found) < flaws:
        x, y = round(rng.uniform(x0, x1), 1), round(rng.uniform(y0, y1), 1)
        if not whole.contains(shapely.Point(x, y)):
            continue
        spoils = ("through", "grain", "grain", "flesh", "mark")[int(rng.integers(5))]
        margin = round(float(rng.uniform(0, 6)), 1)
        if rng.random() < 0.7:
            size = round(float(rng.uniform(6, 50)), 1)
            found.append(Flaw(spoils=spoils, disc=Disc(at=(x, y), diameter=size), margin=margin))
        else:
            turn, long = rng.uniform(0, math.pi), rng.uniform(40, 180)
            end = (round(x + long * math.cos(turn), 1), round(y + long * math.sin(turn), 1))
            line = Line(points=((x, y), end), width=round(float(rng.uniform(2, 8)), 1))
            found.append(Flaw(spoils=spoils, line=line, margin=margin))
    regions = tuple(
        Region(
            name=f"{zone.name} {number}" if number else zone.name,
            outline=points(zone.ring),
            firmness=int(zone.firmness),
            stretch="all" if zone.stretch is None else zone.stretch,
        )
        for number, zone in enumerate(like.regions)
    )
    (tail_x, tail_y), (neck_x, neck_y) = like.backbone
    return Hide(
        name=name or f"{kind} {seed}",
        leather=kind,
        outline=points(outline),
        flaws=tuple(found),
        regions=regions,
        backbone=((neck_x, neck_y), (tail_x, tail_y)),
        price=round(float(rng.uniform(60, 240)), 2),
        currency="EUR",
    )


def generated_job(seed: int, *, pieces: int = 40, size: float = 220.0, rules: bool = True) -> Job:
    """A job of about so many cut pieces: a few kinds of rounded panel, some paired, lined or bound to a stretch."""
    rng = np.random.default_rng([seed, 11])
    kinds = []
    per_set = 0
    for number in range(int(rng.integers(3, 6))):
        long = size * float(rng.uniform(0.5, 1.4))
        outline = panel(long, long * float(rng.uniform(0.35, 0.9)), rng)
        pair = bool(rng.random() < 0.5)
        stretch = (
            StretchRule(axis=90.0, tolerance=float(rng.integers(10, 60)))
            if rules and rng.random() < 0.5
            else None
        )
        overcut = Overcut(least=3.0, wished=9.0) if rules and rng.random() < 0.4 else None
        cut = LayerCut(
            shows=("grain", "hidden", "both")[int(rng.integers(3))], stretch=stretch, overcut=overcut
        )
        kinds.append(
            Piece(
                name=f"panel {number}",
                outline=points(outline),
                cuts=(cut,),
                pair=pair,
                turn_over=bool(rng.random() < 0.2),
            )
        )
        per_set += 2 if pair else 1
    return Job(
        name=f"generated {seed}",
        articles=(Article(name="thing", sets=max(1, round(pieces / per_set)), pieces=tuple(kinds)),),
        gap=float(rng.choice([0.0, 1.0, 1.5, 3.0])) if rules else 1.5,
    )


def generated_strips(seed: int) -> tuple[Strip, ...]:
    """One or two straps, at times with joins, or a lace."""
    rng = np.random.default_rng([seed, 13])
    straps = [
        Strip(
            name=f"strap {number}",
            width=round(float(rng.uniform(15, 45)), 1),
            length=round(float(rng.uniform(400, 1300)), 0),
            joins=int(rng.integers(0, 2)),
            tolerance=float(rng.integers(0, 15)),
        )
        for number in range(int(rng.integers(1, 3)))
    ]
    if rng.random() < 0.5:
        straps.append(Strip(name="lace", width=6.0, length=2500.0, use="lace", source="either", joins=1))
    return tuple(straps)


def panel(long: float, high: float, rng: np.random.Generator) -> Ring:
    """A panel with a hollow upper edge and a wavy lower one, (n, 2), mm."""
    x = np.linspace(0.0, long, 17)
    waves = int(rng.integers(0, 4))
    low = -0.08 * high * np.sin(np.pi * x / long * max(waves, 1)) ** 2 if waves else np.zeros_like(x)
    top = high - float(rng.uniform(0.0, 0.25)) * high * np.sin(np.pi * x / long)
    slant = float(rng.uniform(0.0, 0.12)) * long
    inset = slant * (1.0 - 2.0 * x / long)
    return np.round(np.vstack([np.column_stack([x, low]), np.column_stack([x + inset, top])[::-1]]), 2)


def uneven(ring: Ring, rng: np.random.Generator, height: float) -> Ring:
    """A ring pushed in and out by a few waves of about `height` mm."""
    outline = shapely.segmentize(shapely.Polygon(ring), 40.0)
    here = shapely.get_coordinates(outline.exterior)[:-1]
    turn = np.linspace(0.0, 2.0 * np.pi, len(here), endpoint=False)
    waves = sum(rng.normal() / k * np.sin(k * turn + rng.uniform(0, 6)) for k in range(2, 9))
    away = here - here.mean(axis=0)
    moved = here + away / np.linalg.norm(away, axis=1, keepdims=True) * (height * waves)[:, None]
    sound = shapely.buffer(shapely.Polygon(moved), 0.0)
    largest = max(getattr(sound, "geoms", [sound]), key=lambda part: part.area)
    return np.round(shapely.get_coordinates(largest.exterior)[:-1], 1)


def points(ring: Ring) -> tuple[tuple[float, float], ...]:
    """A ring as the model takes it."""
    return tuple((float(x), float(y)) for x, y in ring)
