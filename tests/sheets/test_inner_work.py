"""What is done inside the outlines, layer by layer: nothing of the outer on the lining, on any paper."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from nestplan.drawing.primitives import Circle, Outline, Picture
from nestplan.geometry.pose import Pose
from nestplan.model import Mark, Opening
from nestplan.model.layer_work import layers_of
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.drawing_files import plan_lines, write_drawing_file
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import PAPER_STYLE
from nestplan.sheets.inner_work import clear_of_work, inner_lines
from nestplan.sheets.legend import legend_entries
from nestplan.sheets.projector import projector_steps
from tests.sheets.sample_plans import layered_plan, rowed_plan

SIDE, SHOULDER = 0, 1
"""The hide that the outer is cut from, and that of the lining."""


def things(layer: str, *, later: bool) -> list[tuple[str, str]]:
    """What is drawn on a layer of the front: its shape and what it is for."""
    _, job, _ = layered_plan()
    found = inner_lines(job.piece("front"), layer, Pose(0.0, 0.0))
    return [(line.symbol, line.item.what) for line in found if line.later == later]


def test_each_layer_has_its_own_work_now_and_later() -> None:
    assert things("outer", later=False) == [("opening", ""), ("bar", "strap slit"), ("spot", "badge")]
    assert things("outer", later=True) == [("circle", "eyelet 5 mm")] * 4
    assert things("lining", later=False) == [("opening", ""), ("spot", "label")]
    assert things("lining", later=True) == []


def test_lines_lie_where_the_piece_lies_also_turned_over() -> None:
    _, job, _ = layered_plan()
    piece = job.piece("front")
    pose = Pose(500.0, 300.0, 30.0, True)
    laid = list(inner_lines(piece, "outer", pose))
    slit = next(line for line in laid if line.symbol == "bar")
    mark = next(mark for mark in piece.marks if mark.do == "slit")
    assert np.allclose(slit.points, pose.apply(mark.ends))
    assert np.hypot(*(slit.points[1] - slit.points[0])) == pytest.approx(mark.length)
    finished = shapely.Polygon(pose.apply(piece.ring))
    assert all(finished.covers(shapely.MultiPoint(line.points)) for line in laid)


def test_words_keep_off_the_work_of_their_own_layer_only() -> None:
    _, job, _ = layered_plan()
    piece = job.piece("front")
    window, pocket = (shapely.Polygon(opening.ring) for opening in piece.openings)
    assert not clear_of_work(piece, "outer").intersects(window.buffer(-0.1))
    assert clear_of_work(piece, "outer").contains(pocket.centroid)
    assert clear_of_work(piece, "lining").contains(window.centroid)
    assert not clear_of_work(piece, "lining").intersects(pocket.buffer(-0.1))


def places(item: Opening | Mark) -> list[shapely.Point]:
    """Where an opening or a mark of the front lies on each of its linings, hide coordinates."""
    plan, _, hides = layered_plan()
    at = np.mean(item.outline, axis=0) if isinstance(item, Opening) else np.array(item.at)
    return [
        shapely.Point(placed.pose.apply(at.reshape(1, 2))[0])
        for placed in plan.placements
        if placed.piece == "front" and placed.hide == hides[SHOULDER].name
    ]


def outer_only() -> list[shapely.Point]:
    """Where the outer's work would lie on the linings."""
    _, job, _ = layered_plan()
    piece = job.piece("front")
    items = [item for item in (*piece.openings, *piece.marks) if "lining" not in item.layers]
    assert len(items) == 7
    return [point for item in items for point in places(item)]


def drawn_at(picture: Picture, layers: tuple[str, ...]) -> list[shapely.Point]:
    """The middle of everything on these layers."""
    found = []
    for layer in layers:
        for item in picture.on(layer):
            if isinstance(item, Circle):
                found.append(shapely.Point(item.x, item.y))
            elif isinstance(item, Outline):
                found.append(shapely.Point(np.mean(item.rings[0], axis=0)))
    return found


def near(points: list[shapely.Point], others: list[shapely.Point]) -> int:
    """How many of the points lie within a millimetre of one of the others."""
    return sum(any(point.distance(other) < 1.0 for other in others) for point in points)


def test_the_picture_of_the_lining_shows_no_work_of_the_outer() -> None:
    plan, job, hides = layered_plan()
    steps = [cutting_steps(plan, job, hide) for hide in hides]
    outer, lining = (
        draw_planned_hide(plan, job, hide, order, style=PAPER_STYLE, ratio=5.0)
        for hide, order in zip(hides, steps, strict=True)
    )
    there = [shapely.Point(lining.view.turned(np.array(point.coords))[0]) for point in outer_only()]
    assert near(there, drawn_at(lining.picture, ("inside", "later", "spots"))) == 0
    # Two sets, two hands: a window, a slit and a spot now, four eyelets later; a pocket and a spot on the lining.
    assert [len(outer.picture.on(layer)) for layer in ("inside", "later", "spots")] == [8, 16, 4]
    assert [len(lining.picture.on(layer)) for layer in ("inside", "later", "spots")] == [4, 0, 4]
    words = [words for _, words in legend_entries(lining, plan, steps[SHOULDER])]
    assert "openings, holes and slits: cut now" in words
    assert "holes and slits: mark now, cut after gluing and trimming" not in words
    assert "holes and slits: mark now, cut after gluing and trimming" in [
        words for _, words in legend_entries(outer, plan, steps[SIDE])
    ]


@pytest.mark.parametrize("ending", [".dxf", ".svg"])
def test_the_drawing_file_of_the_lining_holds_no_work_of_the_outer(ending: str, tmp_path: Path) -> None:
    plan, job, hides = layered_plan()
    lining = plan_lines(plan, job, hides[SHOULDER])
    inside = drawn_at(lining, ("cut_inside", "draw_marks"))
    assert len(inside) == 8
    assert near(outer_only(), inside) == 0
    piece = job.piece("front")
    own = [item for item in (*piece.openings, *piece.marks) if "lining" in item.layers]
    assert near([point for item in own for point in places(item)], inside) == 8
    write_drawing_file(lining, tmp_path / f"lining{ending}")
    if ending == ".dxf":
        layers = [entity.dxf.layer for entity in ezdxf.readfile(tmp_path / "lining.dxf").modelspace()]
        assert (layers.count("cut_inside"), layers.count("draw_marks")) == (4, 4)
    else:
        text = (tmp_path / "lining.svg").read_text(encoding="utf-8")
        # A circle is a spot here: the eyelets of the outer would be further ones.
        assert text.count("<circle") == 4


def test_the_projector_shows_no_work_of_the_outer_on_the_lining() -> None:
    plan, job, hides = layered_plan()
    linings = [step for step in projector_steps(plan, job, hides[SHOULDER]) if "front" in step.words]
    outers = [step for step in projector_steps(plan, job, hides[SIDE]) if "front" in step.words]
    assert [(len(step.inside), len(step.marked)) for step in linings] == [(1, 1)] * 4
    assert [(len(step.inside), len(step.marked)) for step in outers] == [(2, 5)] * 4
    shown = [
        shapely.Point(np.mean(ring, axis=0)) for step in linings for ring in (*step.inside, *step.marked)
    ]
    assert near(outer_only(), shown) == 0


def row_spots(layer: str, *, on: str) -> list[shapely.Point]:
    """Where the marks of the front's rows that `layer` alone has, or the outer shows for later, lie on the hide that
    `on` is cut from."""
    plan, job, _ = rowed_plan()
    piece = job.piece("front")
    return [
        shapely.Point(placed.pose.apply(np.array((mark.at,)))[0])
        for placed in plan.placements
        if placed.piece == "front" and placed.layer == on
        for mark in piece.all_marks
        if layers_of(piece, mark)[0] == layer
    ]


def test_rows_are_drawn_on_the_layer_they_are_done_to_in_both_hands_and_nowhere_else() -> None:
    plan, job, hides = rowed_plan()
    count = len(job.piece("front").all_marks)
    slits = len(job.piece("front").marks_of_rows[1])
    assert count == 4 + slits + 5 + 3
    steps = [cutting_steps(plan, job, hide) for hide in hides]
    outer, lining = (
        draw_planned_hide(plan, job, hide, order, style=PAPER_STYLE, ratio=5.0)
        for hide, order in zip(hides, steps, strict=True)
    )
    assert [len(outer.picture.on(layer)) for layer in ("inside", "later", "spots")] == [4 * slits, 16, 20]
    assert [len(lining.picture.on(layer)) for layer in ("inside", "later", "spots")] == [0, 0, 12]
    there = [
        shapely.Point(lining.view.turned(np.array(p.coords))[0]) for p in row_spots("outer", on="lining")
    ]
    assert len(there) == 4 * (count - 3)
    assert near(there, drawn_at(lining.picture, ("inside", "later", "spots"))) == 0


@pytest.mark.parametrize("ending", [".dxf", ".svg"])
def test_the_drawing_file_of_the_lining_holds_no_row_of_the_outer(ending: str, tmp_path: Path) -> None:
    plan, job, hides = rowed_plan()
    lining, outer = (plan_lines(plan, job, hides[number]) for number in (SHOULDER, SIDE))
    inside = drawn_at(lining, ("cut_inside", "draw_marks"))
    assert near(row_spots("outer", on="lining"), inside) == 0
    assert near(row_spots("lining", on="lining"), inside) == 12
    done = drawn_at(outer, ("cut_inside", "draw_marks", "draw_later"))
    spots = row_spots("outer", on="outer")
    assert near(spots, done) == len(spots)
    write_drawing_file(lining, tmp_path / f"lining{ending}")
    if ending == ".dxf":
        layers = [entity.dxf.layer for entity in ezdxf.readfile(tmp_path / "lining.dxf").modelspace()]
        assert (layers.count("cut_inside"), layers.count("draw_marks")) == (0, 12)
    else:
        assert (tmp_path / "lining.svg").read_text(encoding="utf-8").count("<circle") == 12


def test_the_projector_shows_no_row_of_the_outer_on_the_lining() -> None:
    plan, job, hides = rowed_plan()
    linings = [step for step in projector_steps(plan, job, hides[SHOULDER]) if "front" in step.words]
    assert [(len(step.inside), len(step.marked)) for step in linings] == [(0, 3)] * 4
    shown = [
        shapely.Point(np.mean(ring, axis=0)) for step in linings for ring in (*step.inside, *step.marked)
    ]
    assert near(row_spots("outer", on="lining"), shown) == 0
