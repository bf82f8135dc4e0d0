"""A piece and the layers that one template serves."""

from __future__ import annotations

import msgspec

from nestplan.model import LayerCut, Overcut
from nestplan.sheets.piece_layers import piece_layers, planned_overcuts
from tests.sheets.sample_plans import belt_plan, layered_plan


def test_layers_with_different_work_are_apart_and_named() -> None:
    _, job, _ = layered_plan()
    outer, lining = piece_layers(job.articles[0], job.piece("front"))
    assert (outer.title, lining.title) == ("front, outer", "front, lining")
    assert [mark.what for mark in outer.at_table.marks] == ["strap slit", "badge"]
    assert [mark.what for mark in outer.for_later.marks] == ["eyelet 5 mm"] * 4
    assert [mark.what for mark in lining.at_table.marks] == ["label"]
    assert not lining.for_later


def test_layers_without_work_are_one_template() -> None:
    _, job, _ = layered_plan()
    plain = msgspec.structs.replace(job.piece("front"), holes=(), marks=())
    (both,) = piece_layers(job.articles[0], plain)
    assert both.title == "front"
    assert both.least_overcuts() == {6.0: ["lining"]}
    assert both.widest_overcuts({}) == {10.0: ["lining"]}
    assert both.widest_overcuts({("front", "lining"): 6.0}) == {}
    assert both.widest_overcuts({("front", "lining"): 7.0}) == {7.0: ["lining"]}


def test_an_overcut_that_may_be_nothing_has_its_widest_line_alone() -> None:
    _, job, _ = layered_plan()
    wide = msgspec.structs.replace(
        job.piece("front"),
        holes=(),
        marks=(),
        cuts=(LayerCut(layer="outer", overcut=Overcut(least=0.0, wished=4.0)),),
    )
    (subject,) = piece_layers(job.articles[0], wide)
    assert subject.least_overcuts() == {}
    assert subject.widest_overcuts({}) == {4.0: ["outer"]}


def test_the_widest_overcut_of_a_plan_is_found_for_each_layer() -> None:
    plan, _, _ = belt_plan()
    widest = planned_overcuts(plan)
    assert widest["front", "lining"] == 6.0
    assert widest["front", "outer"] == 0.0
    assert planned_overcuts(None) == {}
