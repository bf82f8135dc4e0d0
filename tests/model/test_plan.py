from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model import Placement, Plan, Source
from nestplan.model.files import read_plan, to_text, write_plan
from nestplan.model.plan import HideFigures, SetFigures
from tests.small_jobs import laid, one_piece_job, plain_hide, plan_of

RING = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0))


def placement(**changes: Any) -> Placement:
    return Placement(**{"hide": "h", "piece": "p", "finished": RING, "cut": RING, **changes})


def test_a_placement_is_the_piece_at_its_pose() -> None:
    job = one_piece_job()
    piece = job.articles[0].pieces[0]
    pose = Pose(30.0, 40.0, 25.0)
    placed = laid(job, piece, pose)
    assert placed.pose == pose
    assert np.allclose(placed.finished_ring, pose.apply(piece.ring))
    assert placed.name == piece.name


def test_a_placement_names_a_piece_or_a_strip_and_not_both() -> None:
    assert placement(piece="", strip="s").name == "s"
    for names in ({"piece": ""}, {"strip": "s"}):
        with pytest.raises(InputError, match="names a piece or a strip"):
            placement(**names)


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"x": math.nan}, "pose"),
        ({"length": math.inf}, "pose"),
        ({"finished": RING[:2]}, "finished"),
        ({"cut": ((0.0, 0.0), (1.0, 0.0), (math.nan, 1.0))}, "cut"),
    ],
)
def test_a_placement_that_cannot_be_is_refused_with_its_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises(InputError) as caught:
        placement(**fields)
    assert caught.value.place == place


@pytest.mark.parametrize(
    ("asked", "whole", "bound", "gap"), [(4, 4, 9, 0), (4, 3, 9, 1), (9, 3, 5, 2), (4, 6, 5, 0)]
)
def test_the_gap_of_sets_is_what_no_proof_rules_out(asked: int, whole: int, bound: int, gap: int) -> None:
    assert SetFigures(article="a", asked=asked, whole=whole, bound=bound).gap == gap


def test_the_sellers_mark_less_the_measured_area_is_known_where_there_is_a_mark() -> None:
    row = {name: 0.0 for name in HideFigures.__struct_fields__ if name not in ("hide", "pieces", "strips")}
    figures = HideFigures(**{**row, "hide": "h", "gross": 100.0, "stated": 103.0})
    assert figures.stated_less_gross == 3.0
    assert HideFigures(**{**row, "hide": "h", "stated": None}).stated_less_gross is None


@pytest.mark.parametrize("goal", ["complete", "fill", "gather"])
def test_what_a_plan_aims_at_is_always_written(goal: str, tmp_path: Any) -> None:
    plan = Plan(name="p", job=Source(name="j"), hides=(Source(name="h"),), goal=goal)
    path = tmp_path / "plan.json"
    write_plan(path, plan)
    assert f'"goal": "{goal}"' in path.read_text()
    assert read_plan(path) == plan


def test_fields_are_written_in_the_order_of_the_record() -> None:
    job, hide = one_piece_job(), plain_hide()
    text = to_text(plan_of(job, (hide,), [laid(job, job.articles[0].pieces[0], Pose(10, 10))]))
    places = [
        text.index(f'"{name}"') for name in ("nestplan", "kind", "name", "job", "hides", "goal", "placements")
    ]
    assert places == sorted(places)
