from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import msgspec
import numpy as np
import pytest
import shapely

from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.errors import InputError
from nestplan.model import LayerCut, Overcut
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.drawing_files import PLAN_LAYERS, hide_lines, piece_lines, plan_lines, write_drawing_file
from tests.sheets.looking import layers_of
from tests.sheets.sample_plans import belt_job, belt_plan, layered_plan, side


def length_of(line: np.ndarray, closed: bool) -> float:
    path = np.vstack((line, line[:1])) if closed else line
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def test_shapes_are_written_in_cutting_order_with_inner_cuts_first() -> None:
    plan, job, hides = layered_plan()
    numbers = [
        item.words for item in plan_lines(plan, job, hides[0]).on("note_numbers") if isinstance(item, Text)
    ]
    order = cutting_steps(plan, job, hides[0])
    assert numbers == [str(cut.number + k) for cut in order for k in range(len(cut.members))]
    layers = [item.layer for item in plan_lines(plan, job, hides[0]) if item.layer.startswith("cut_")]
    first_outline = layers.index("cut_outline")
    assert layers[first_outline - 1] == "cut_inside"


def test_all_areas_are_the_plans_and_no_line_is_double() -> None:
    plan, job, hides = belt_plan()
    for hide in hides:
        picture = plan_lines(plan, job, hide)
        lines = [
            np.vstack((item.rings[0], item.rings[0][:1])) if item.closed else item.rings[0]
            for layer in ("cut_outline", "cut_strips")
            for item in picture.on(layer)
            if isinstance(item, Outline)
        ]
        merged = shapely.union_all([shapely.LineString(line) for line in lines])
        assert merged.length == pytest.approx(sum(length_of(line, False) for line in lines), rel=1e-6)
        faces = shapely.get_parts(shapely.polygonize([merged]))
        for placed in plan.placements:
            if placed.hide == hide.name and not placed.done and not placed.spiral:
                wanted = shapely.Polygon(placed.cut_ring)
                inside = [face for face in faces if wanted.contains(face.representative_point())]
                assert sum(face.area for face in inside) == pytest.approx(wanted.area, rel=1e-3)


def test_holes_of_a_lined_piece_are_drawn_not_cut_and_on_the_outer_only() -> None:
    plan, job, hides = belt_plan()
    outer, lining = plan_lines(plan, job, hides[0]), plan_lines(plan, job, hides[1])
    assert not any(isinstance(item, Circle) for item in outer.on("cut_inside"))
    assert any(isinstance(item, Circle) for item in outer.on("draw_marks"))
    assert not lining.on("cut_inside")
    assert not lining.on("draw_marks")
    assert lining.on("draw_finished")
    assert not outer.on("draw_finished")


def test_a_single_layer_has_its_holes_cut_unless_it_is_trimmed() -> None:
    plan, job, hides = belt_plan()
    piece = job.piece("front")
    for overcut, layer in ((None, "cut_inside"), (Overcut(least=3.0, wished=3.0), "draw_marks")):
        single = msgspec.structs.replace(piece, cuts=(LayerCut(layer="outer", overcut=overcut),))
        article = msgspec.structs.replace(job.articles[0], pieces=(single, *job.articles[0].pieces[1:]))
        picture = plan_lines(plan, msgspec.structs.replace(job, articles=(article,)), hides[0])
        assert any(isinstance(item, Circle) and item.radius == 2.5 for item in picture.on(layer))


def test_a_slit_of_a_turned_over_piece_lies_where_the_mirrored_drawing_has_it() -> None:
    plan, job, hides = layered_plan()
    picture = plan_lines(plan, job, hides[0])
    slits = [
        item.rings[0] for item in picture.on("cut_inside") if isinstance(item, Outline) and not item.closed
    ]
    piece = job.piece("front")
    (mark,) = (mark for mark in piece.marks if mark.do == "slit")
    for placed in plan.placements:
        if placed.piece == "front" and placed.hide == hides[0].name:
            assert mark.length is not None
            ends = np.array(
                ((mark.at[0], mark.at[1] - mark.length / 2), (mark.at[0], mark.at[1] + mark.length / 2))
            )
            wanted = shapely.LineString(placed.pose.apply(ends))
            assert min(shapely.hausdorff_distance(wanted, shapely.LineString(slit)) for slit in slits) < 1e-6


def test_a_lace_is_a_spiral_as_long_as_its_disc_gives() -> None:
    plan, job, hides = belt_plan()
    spiral = max(
        (
            item.rings[0]
            for item in plan_lines(plan, job, hides[0]).on("cut_strips")
            if isinstance(item, Outline)
        ),
        key=len,
    )
    assert length_of(spiral, False) == pytest.approx(job.strip("lace").length, rel=0.12)


def test_what_is_already_cut_is_left_out() -> None:
    plan, job, hides = belt_plan()
    done = next(placed for placed in plan.placements if placed.done)
    centers = [
        shapely.Polygon(item.rings[0]).centroid
        for item in plan_lines(plan, job, hides[0]).on("cut_outline")
        if isinstance(item, Outline)
    ]
    assert all(center.distance(shapely.Polygon(done.cut_ring).centroid) > 1.0 for center in centers)


def test_svg_is_as_large_as_the_lines_in_millimetres(tmp_path: Path) -> None:
    picture = hide_lines(side())
    write_drawing_file(picture, tmp_path / "hide.svg", title="hide")
    root = ElementTree.parse(tmp_path / "hide.svg").getroot()
    size = side().ring.max(axis=0) - side().ring.min(axis=0)
    assert float(str(root.get("width")).removesuffix("mm")) == pytest.approx(size[0] + 2.0, abs=0.01)
    assert root.get("viewBox") == f"0 0 {root.get('width')} {root.get('height')}".replace("mm", "")


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written as"):
        write_drawing_file(hide_lines(side()), tmp_path / "hide.xyz")


def test_pieces_lie_side_by_side_without_touching() -> None:
    boxes = [
        shapely.Polygon(item.rings[0])
        for item in piece_lines(belt_job()).on("outline")
        if isinstance(item, Outline)
    ]
    assert len(boxes) == 3
    assert all(one.distance(other) > 5.0 for one in boxes for other in boxes if one is not other)


def test_every_layer_of_a_plan_is_explained() -> None:
    plan, job, hides = belt_plan()
    for hide in hides:
        assert set(layers_of(plan_lines(plan, job, hide))) <= set(PLAN_LAYERS)
