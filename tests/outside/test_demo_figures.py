"""The demo's figures recomputed from plan.json alone, with shapely and nothing of ours."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from shapely.geometry import Polygon
from shapely.strtree import STRtree

from nestplan.model.files import read_hides, read_job, write_plan
from nestplan.nesting.nest import nest
from nestplan.resources import demo_folder


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    hides = read_hides(sorted(demo_folder().glob("*.hide.json")))
    made = nest(read_job(demo_folder() / "quillmere.job.json"), hides, goal="complete", passes=0, seed=0)
    path = tmp_path_factory.mktemp("demo") / "plan.json"
    write_plan(path, made)
    return json.loads(path.read_text())


def test_net_and_cut_yield_are_what_the_outlines_say(plan: dict) -> None:
    used = {place["hide"] for place in plan["placements"]}
    gross = sum(
        Polygon(hide["outline"]).area
        for hide in map(_read, sorted(demo_folder().glob("*.hide.json")))
        if hide["name"] in used
    )
    net = sum(Polygon(place["finished"]).area for place in plan["placements"])
    cut = sum(Polygon(place["cut"]).area for place in plan["placements"])
    figures = plan["figures"]
    assert figures["gross"] == pytest.approx(gross, rel=1e-6)
    assert figures["net"] == pytest.approx(net, rel=1e-4)
    assert figures["cut"] == pytest.approx(cut, rel=1e-4)
    assert figures["net_yield"] == pytest.approx(net / gross, abs=1e-4)
    assert figures["cut_yield"] == pytest.approx(cut / gross, abs=1e-4)


def test_no_two_cut_shapes_of_the_demo_overlap(plan: dict) -> None:
    for name in {place["hide"] for place in plan["placements"]}:
        shapes = [Polygon(place["cut"]) for place in plan["placements"] if place["hide"] == name]
        tree = STRtree(shapes)
        for first, second in tree.query(shapes, predicate="intersects").T:
            if first < second:
                assert shapes[first].intersection(shapes[second]).area <= 0.01


def test_the_demo_is_planned_whole(plan: dict) -> None:
    assert plan.get("unplaced", []) == []


def _read(path: Path) -> dict:
    return json.loads(path.read_text(encoding="utf-8"))
