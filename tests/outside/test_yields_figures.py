"""A plan's figures against plain shapely and against counting a point in each square millimetre."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import shapely

from nestplan.model import Disc, Flaw, Strip
from nestplan.yields.figures import figures_of
from tests.yields.small_plans import Laid, hide, hole_at, job_of, panel, plan_of, strap_at

STEP = 1.0


def test_every_square_millimetre_is_counted_once_and_rightly() -> None:
    front, strap = panel("front", overcut=6), Strip(name="strap", width=40, length=500)
    flaws = [
        hole_at(420, 300, 50, margin=8),
        Flaw(spoils="grain", disc=Disc(at=(150, 470), diameter=80), margin=4),
        Flaw(spoils="flesh", disc=Disc(at=(850, 480), diameter=30)),
    ]
    job = job_of(front, strips=[strap], gap=4, useful_width=55)
    laid = [
        Laid(front, x, y, turn) for x, y, turn in ((20, 20, 0), (150, 30, 5), (300, 20, 0), (560, 200, 40))
    ]
    straps = [strap_at(strap, 440, 8, copy=1), strap_at(strap, 440, 48, copy=2)]
    plan = plan_of(job, laid, straps)
    # Read back from text, as anyone would: only outlines are used below.
    places = msgspec.json.decode(msgspec.json.encode(plan))["placements"]
    figures = figures_of(plan, job, [hide(flaws=flaws)])

    cuts = shapely.union_all([shapely.Polygon(place["cut"]) for place in places])
    net = sum(shapely.Polygon(place["finished"]).area for place in places)
    assert figures.net == pytest.approx(net, rel=1e-9)
    assert figures.cut == pytest.approx(sum(shapely.Polygon(place["cut"]).area for place in places), rel=1e-9)
    assert figures.net_yield == pytest.approx(net / 600_000, rel=1e-9)

    # The straps are hindered by every flaw, marks and both faces, so all three count as lost where not cut over.
    # One spot somewhere in each square millimetre, so that thin bands are met as often as they should be.
    corners = np.stack(np.meshgrid(np.arange(0, 1000, STEP), np.arange(0, 600, STEP)))
    x, y = corners + STEP * np.random.default_rng(5).random(corners.shape)
    spots = shapely.points(x.ravel(), y.ravel())
    shapely.prepare(cuts)
    cut = shapely.contains(cuts, spots)
    spoiled = np.zeros(len(spots), dtype=bool)
    for flaw in flaws:
        (cx, cy), reach = flaw.disc.at, flaw.disc.diameter / 2 + flaw.margin
        spoiled |= np.hypot(x.ravel() - cx, y.ravel() - cy) <= reach
    kept = np.zeros(len(spots), dtype=bool)
    for offcut in figures.offcuts:
        kept |= shapely.contains(shapely.Polygon(offcut.outline, offcut.holes), spots)
    rest = ~cut & ~spoiled & ~kept
    near = np.zeros(len(spots), dtype=bool)
    near[rest] = shapely.distance(cuts, spots[rest]) <= 2.0
    found = figures.hides[0]
    for said, counted in (
        (found.net + found.overcut, cut),
        (found.flaws, ~cut & spoiled),
        (found.offcuts, kept),
        (found.gaps, rest & near),
        (found.small_offcuts, rest & ~near),
    ):
        assert said == pytest.approx(float(counted.sum()) * STEP**2, rel=0.01, abs=150)
    assert not (kept & (cut | spoiled)).any()
    for offcut in figures.offcuts:
        outline = shapely.Polygon(offcut.outline, offcut.holes)
        assert outline.covers(shapely.Polygon(offcut.rectangle))
        # Any spot of an offcut is within a disc of the useful width that lies in it, but for rounding.
        middle = outline.buffer(-55 / 2 + 1)
        own = spots[::40][shapely.contains(outline, spots[::40])]
        assert shapely.distance(middle, own).max() <= 55 / 2 + 1


def test_whole_sets_and_money_are_plain_arithmetic() -> None:
    front, strap = panel("front", count=2), Strip(name="strap", width=40, length=500, count=1)
    job = job_of(front, strips=[strap], sets=3)
    laid = [Laid(front, 110.0 * k, 0) for k in range(5)]
    straps = [strap_at(strap, 0, 120 + 40 * k, copy=k + 1) for k in range(3)]
    figures = figures_of(plan_of(job, laid, straps), job, [hide(price=61.0)])
    assert (figures.placed, figures.asked) == (8, 9)
    assert figures.sets[0].whole == min(5 // 2, 3)
    assert figures.cost_per_set == 61.0 / 2
    assert figures.value_left == pytest.approx(61.0 * figures.offcut_area / 600_000)
    assert figures.lace == pytest.approx(sum(offcut.lace for offcut in figures.offcuts))
    widest = max(figures.offcuts, key=lambda offcut: offcut.area)
    assert widest.disc is not None
    spiral = math.pi / 4 * ((2 * widest.disc[2]) ** 2 - 50.8**2) / 6.35 - 101.6
    strips = math.floor(widest.rectangle_height / 6.35) * widest.rectangle_width
    assert widest.lace == pytest.approx(max(spiral, strips))
