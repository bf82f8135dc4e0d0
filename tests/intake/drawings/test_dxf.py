"""DXF files: every kind of line, units, blocks, layers, and what is refused."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ezdxf.math import rational_bspline_from_arc

from nestplan.errors import InputError, ShapeError, UnitError
from nestplan.intake.drawings.reader import read_drawing
from tests.intake.small_drawings import CENTIMETRES, INCHES, UNITLESS, areas, dxf

RECTANGLE = [(0, 0), (200, 0), (200, 100), (0, 100)]


def rectangle(_document: Any, space: Any) -> None:
    space.add_lwpolyline(RECTANGLE, close=True)


@pytest.mark.parametrize(
    ("units", "scale", "name"),
    [(INCHES, 25.4, "in"), (CENTIMETRES, 10.0, "cm"), (4, 1.0, "mm"), (6, 1000.0, "m")],
)
def test_the_units_of_the_file_are_read(tmp_path: Path, units: int, scale: float, name: str) -> None:
    def small(_document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (2, 0), (2, 1), (0, 1)], close=True)

    drawing = read_drawing(dxf(tmp_path / "a.dxf", small, units=units))
    assert drawing.units == name
    assert areas(drawing) == pytest.approx([2.0 * scale**2])


def test_a_drawing_without_units_is_asked_for_them(tmp_path: Path) -> None:
    path = dxf(tmp_path / "a.dxf", rectangle, units=UNITLESS)
    with pytest.raises(UnitError, match="does not say its unit") as caught:
        read_drawing(path)
    assert "in" in caught.value.mend
    assert caught.value.file == str(path)
    assert areas(read_drawing(path, units="in")) == pytest.approx([20_000 * 25.4**2])


def test_units_that_overrule_the_file_are_told(tmp_path: Path) -> None:
    drawing = read_drawing(dxf(tmp_path / "a.dxf", rectangle, units=INCHES), units="mm")
    assert areas(drawing) == pytest.approx([20_000])
    assert "says its unit is in" in drawing.repairs[0].found


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_every_dxf_version_gives_the_same_ring(tmp_path: Path, version: str) -> None:
    def old(_document: Any, space: Any) -> None:
        space.add_polyline2d([(0, 0, 0), (200, 0, 1), (200, 100, 0), (0, 100, 0)], format="xyb", close=True)

    drawing = read_drawing(dxf(tmp_path / "a.dxf", old, version=version), units="mm")
    assert areas(drawing) == pytest.approx([20_000 + math.pi * 50**2 / 2], rel=1e-3)


def test_lines_and_arcs_in_any_order_and_direction_close_to_one_outline(tmp_path: Path) -> None:
    def loose(_document: Any, space: Any) -> None:
        space.add_line((0, 100), (200, 100))
        space.add_line((200, 0), (0, 0))
        space.add_arc((200, 50), 50, -90, 90)
        space.add_line((0, 0), (0, 100))

    drawing = read_drawing(dxf(tmp_path / "a.dxf", loose))
    assert areas(drawing) == pytest.approx([20_000 + math.pi * 50**2 / 2], rel=1e-3)
    assert drawing.repairs == ()


def test_a_bulge_turns_to_the_side_its_sign_says(tmp_path: Path) -> None:
    half = math.pi * 50**2 / 2

    def bulged(_document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0, 0), (200, 0, 1), (200, 100, 0), (0, 100, 0)], format="xyb", close=True)
        space.add_lwpolyline(
            [(0, 200, 0), (200, 200, -1), (200, 300, 0), (0, 300, 0)], format="xyb", close=True
        )

    assert areas(read_drawing(dxf(tmp_path / "a.dxf", bulged))) == pytest.approx(
        [20_000 + half, 20_000 - half], rel=1e-3
    )


def test_a_circle_is_known_as_one_with_its_diameter(tmp_path: Path) -> None:
    def holes(_document: Any, space: Any) -> None:
        space.add_lwpolyline(RECTANGLE, close=True)
        space.add_circle((50, 50), 2)
        space.add_lwpolyline([(100, 50, 1), (110, 50, 1)], format="xyb", close=True)
        space.add_arc((150, 50), 3, 0, 360)

    (outline,) = read_drawing(dxf(tmp_path / "a.dxf", holes)).outlines
    circles = sorted(hole.circle for hole in outline.holes if hole.circle)
    assert np.array(circles) == pytest.approx(np.array([(50, 50, 4), (105, 50, 10), (150, 50, 6)]))


def test_ellipses_and_splines_keep_their_area(tmp_path: Path) -> None:
    def curves(_document: Any, space: Any) -> None:
        space.add_ellipse((0, 0), (30, 0), 0.5)
        space.add_ellipse((100, 0), (0, 30), 0.5, math.pi / 2, 2.5 * math.pi)
        space.add_spline().apply_construction_tool(rational_bspline_from_arc((200, 0), 20, 0, 360))

    drawing = read_drawing(dxf(tmp_path / "a.dxf", curves))
    ellipse = math.pi * 30 * 15
    assert areas(drawing) == pytest.approx([ellipse, ellipse, math.pi * 20**2], rel=1e-3)


def test_a_closed_spline_of_uniform_knots_is_read_where_it_is_defined(tmp_path: Path) -> None:
    corners = [
        (100 * math.cos(t), 100 * math.sin(t), 0) for t in np.linspace(0, 2 * math.pi, 12, endpoint=False)
    ]

    def periodic(_document: Any, space: Any) -> None:
        space.add_spline().set_closed(corners)

    (outline,) = read_drawing(dxf(tmp_path / "a.dxf", periodic)).outlines
    # A uniform cubic B-spline goes through (a + 4 b + c) / 6 of three control points in a row.
    radius = 100 * (4 + 2 * math.cos(math.radians(30))) / 6
    assert np.hypot(*outline.ring.T) == pytest.approx(radius, abs=0.1)


def test_nested_blocks_are_scaled_turned_and_mirrored(tmp_path: Path) -> None:
    def blocks(document: Any, space: Any) -> None:
        inner = document.blocks.new("INNER")
        inner.add_lwpolyline([(0, 0, 0), (10, 0, 1), (10, 10, 0), (0, 10, 0)], format="xyb", close=True)
        outer = document.blocks.new("OUTER", base_point=(5, 5))
        outer.add_blockref("INNER", (0, 0), dxfattribs={"xscale": 2, "yscale": 1, "rotation": 30})
        space.add_blockref("OUTER", (100, 100), dxfattribs={"xscale": -3, "yscale": 3, "rotation": 45})

    drawing = read_drawing(dxf(tmp_path / "a.dxf", blocks))
    assert areas(drawing) == pytest.approx([(100 + math.pi * 25 / 2) * 2 * 9], rel=1e-3)


def test_the_layer_0_of_a_block_is_the_layer_it_is_placed_on(tmp_path: Path) -> None:
    def blocks(document: Any, space: Any) -> None:
        block = document.blocks.new("B")
        block.add_lwpolyline(RECTANGLE, close=True)
        block.add_circle((50, 50), 5, dxfattribs={"layer": "MARKS"})
        space.add_blockref("B", (0, 0), dxfattribs={"layer": "OUTLINE"})

    drawing = read_drawing(dxf(tmp_path / "a.dxf", blocks))
    assert dict(drawing.layers) == {"MARKS": 1, "OUTLINE": 1}
    assert [(mark.kind, mark.diameter) for mark in drawing.marks] == [("spot", 10.0)]


def test_rows_of_a_block_are_all_read(tmp_path: Path) -> None:
    def rows(document: Any, space: Any) -> None:
        document.blocks.new("B").add_circle((0, 0), 4)
        grid = {"row_count": 3, "column_count": 4, "row_spacing": 20, "column_spacing": 30}
        space.add_blockref("B", (0, 0), dxfattribs=grid)

    assert len(read_drawing(dxf(tmp_path / "a.dxf", rows)).outlines) == 12


def test_a_mirrored_plane_mirrors_and_a_tilted_one_is_refused(tmp_path: Path) -> None:
    def mirrored(_document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (10, 0), (0, 20)], close=True, dxfattribs={"extrusion": (0, 0, -1)})

    (outline,) = read_drawing(dxf(tmp_path / "a.dxf", mirrored)).outlines
    assert outline.ring.min(axis=0).tolist() == [-10.0, 0.0]

    def tilted(_document: Any, space: Any) -> None:
        space.add_circle((0, 0), 10, dxfattribs={"extrusion": (0, 1, 1)})

    with pytest.raises(ShapeError, match="tilted plane"):
        read_drawing(dxf(tmp_path / "b.dxf", tilted))


def test_what_is_not_flat_is_refused(tmp_path: Path) -> None:
    def rising(_document: Any, space: Any) -> None:
        space.add_polyline3d([(0, 0, 0), (10, 0, 0), (10, 10, 5)], close=True)

    def tilted_block(document: Any, space: Any) -> None:
        document.blocks.new("B").add_circle((0, 0), 10)
        space.add_blockref("B", (0, 0), dxfattribs={"extrusion": (1, 0, 1)})

    for build, words in ((rising, "rises by 5 mm"), (tilted_block, "tilted plane")):
        with pytest.raises(ShapeError, match=words):
            read_drawing(dxf(tmp_path / "a.dxf", build))

    def stacked(_document: Any, space: Any) -> None:
        space.add_polyline3d([(0, 0, 7), (10, 0, 7), (10, 10, 7)], close=True)
        space.add_circle((50, 0, 3), 10)

    assert areas(read_drawing(dxf(tmp_path / "b.dxf", stacked))) == pytest.approx(
        [math.pi * 100, 50], rel=1e-3
    )


def test_layers_switched_off_and_what_is_no_line_are_told(tmp_path: Path) -> None:
    def hidden(document: Any, space: Any) -> None:
        rectangle(document, space)
        document.layers.add("SECRET").off()
        space.add_line((0, 0), (5, 5), dxfattribs={"layer": "SECRET"})
        space.add_solid([(0, 0), (1, 0), (0, 1)])
        space.add_text("front", dxfattribs={"insert": (20, 20)})

    drawing = read_drawing(dxf(tmp_path / "a.dxf", hidden))
    assert drawing.skipped == ("1 × SOLID", "1 × things on the layer SECRET, which is switched off")
    assert [label.text for label in drawing.texts] == ["front"]


def test_a_point_kilometres_away_is_refused(tmp_path: Path) -> None:
    def far(_document: Any, space: Any) -> None:
        space.add_line((0, 0), (1e9, 0))

    with pytest.raises(ShapeError, match="100 m away"):
        read_drawing(dxf(tmp_path / "a.dxf", far))


def test_a_damaged_file_is_refused_and_read_only_when_repairs_are_allowed(tmp_path: Path) -> None:
    path = dxf(tmp_path / "a.dxf", rectangle)
    # A group code with a stray letter: a strict reader stops there.
    path.write_bytes(path.read_bytes().replace(b"\n 90\n4\n", b"\n 90\n4x\n", 1))
    with pytest.raises(InputError, match="DXF"):
        read_drawing(path)
    drawing = read_drawing(path, repair=True)
    assert areas(drawing) == pytest.approx([20_000])
    assert not drawing.repairs[0].slight


@pytest.mark.parametrize("content", [b"", b"no drawing", b"\x00" * 100, b"  0\nSECTION\n"])
def test_what_is_no_dxf_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(content)
    for repair in (False, True):
        with pytest.raises(InputError) as caught:
            read_drawing(path, repair=repair, units="mm")
        assert caught.value.mend
        assert caught.value.file == str(path)
