"""Patterns by the open apparel standard (ASTM D6673, layer numbers from memory), drawn here by ezdxf."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shapely

from nestplan.errors import InputError
from nestplan.intake.drawings.reader import read_drawing
from nestplan.intake.drawings.to_model import pieces_from_drawing, read_piece_drawing
from tests.intake.small_drawings import MILLIMETRES, UNITLESS, dxf

Draw = Callable[[Any], None]


def layer(number: int) -> dict[str, str]:
    return {"layer": str(number)}


def pattern(path: Path, *blocks: tuple[str, Draw], units: str = "METRIC", insunits: int = UNITLESS) -> Path:
    """A file of the standard: each piece a block, all placed at the origin, texts of the style outside."""

    def build(document: Any, space: Any) -> None:
        for text in ("STYLE NAME: TRY", "CREATION DATE: 2020-01-01", f"UNITS: {units}"):
            space.add_text(text, dxfattribs=layer(1))
        for name, draw in blocks:
            draw(document.blocks.new(name))
            space.add_blockref(name, (0, 0), dxfattribs=layer(1))

    return dxf(path, build, units=insunits)


def front(block: Any) -> None:
    """200 × 100 with a notch, a drill hole, a cutout, an internal line, a grain line along x, and sew lines."""
    for text in (
        "PIECE NAME: FRONT",
        "SIZE: M",
        "QUANTITY: 1,1",
        "MATERIAL: COW SIDE",
        "ANNOTATION: SHOWS GRAIN",
    ):
        block.add_text(text, dxfattribs=layer(1))
    block.add_polyline2d([(0, 0), (200, 0), (200, 100), (0, 100)], close=True, dxfattribs=layer(1))
    for x, y in ((0, 0), (200, 0), (200, 100), (0, 100)):
        block.add_point((x, y), dxfattribs=layer(2))
    block.add_point((50, 100.4), dxfattribs=layer(4))
    block.add_point((30, 30), dxfattribs=layer(13))
    block.add_circle((60, 30), 3, dxfattribs=layer(13))
    block.add_line((20, 50), (180, 50), dxfattribs=layer(7))
    block.add_line((20, 80), (60, 80), dxfattribs=layer(8))
    block.add_polyline2d([(120, 20), (160, 20), (160, 40), (120, 40)], close=True, dxfattribs=layer(11))
    block.add_polyline2d([(5, 5), (195, 5), (195, 95), (5, 95)], close=True, dxfattribs=layer(14))


def half_back(block: Any) -> None:
    """Half of a piece of 160 × 80, folded at x = 0, with one drill hole."""
    block.add_text("PIECE NAME: BACK", dxfattribs=layer(1))
    block.add_text("QUANTITY: 2", dxfattribs=layer(1))
    block.add_polyline2d([(0, 0), (80, 0), (80, 80), (0, 80)], close=True, dxfattribs=layer(1))
    block.add_line((0, 0), (0, 80), dxfattribs=layer(6))
    block.add_point((40, 40), dxfattribs=layer(13))


def test_a_pattern_of_the_standard_becomes_pieces_with_what_is_on_them(tmp_path: Path) -> None:
    drawing = read_drawing(pattern(tmp_path / "bag.dxf", ("FRONT-M", front), ("BACK-M", half_back)))
    assert drawing.units == "mm"
    pieces = {piece.name: piece for piece in pieces_from_drawing(drawing)}
    assert set(pieces) == {"FRONT", "BACK"}
    piece = pieces["FRONT"]
    assert (piece.count, piece.pair) == (1, True)
    assert piece.note == "SHOWS GRAIN; COW SIDE"
    assert piece.net_area == pytest.approx(200 * 100 - 40 * 20)
    assert len(piece.holes) == 1
    marks = sorted((mark.do, mark.what) for mark in piece.marks)
    assert marks == [
        ("mark", "drill hole"),
        ("mark", "internal line"),
        ("mark", "notch"),
        ("punch", "drill hole"),
    ]
    notch = next(mark for mark in piece.marks if mark.what == "notch")
    assert notch.at == pytest.approx((50, 100), abs=0.1)
    punch = next(mark for mark in piece.marks if mark.do == "punch")
    assert (punch.at, punch.diameter) == (pytest.approx((60, 30)), pytest.approx(6))


def test_the_stretch_axis_lies_square_to_the_grain_line(tmp_path: Path) -> None:
    (piece,) = read_piece_drawing(pattern(tmp_path / "a.dxf", ("F", front)))
    assert piece.cuts[0].stretch is not None
    assert piece.cuts[0].stretch.axis == pytest.approx(90)


def test_a_piece_drawn_half_is_unfolded_at_its_mirror_line_and_told(tmp_path: Path) -> None:
    drawing = read_drawing(pattern(tmp_path / "a.dxf", ("B", half_back)))
    assert any("mirror line" in repair.found for repair in drawing.repairs)
    (piece,) = pieces_from_drawing(drawing)
    assert piece.count == 2
    assert piece.net_area == pytest.approx(160 * 80, rel=1e-4)
    assert sorted(mark.at[0] for mark in piece.marks) == pytest.approx([40, 120], abs=0.05)
    assert shapely.Polygon(piece.ring).minimum_rotated_rectangle.area == pytest.approx(160 * 80, rel=1e-4)


def test_english_patterns_are_in_inches_whatever_the_header_says(tmp_path: Path) -> None:
    path = pattern(tmp_path / "a.dxf", ("B", half_back), units="ENGLISH", insunits=MILLIMETRES)
    (piece,) = read_piece_drawing(path)
    assert piece.net_area == pytest.approx(160 * 80 * 25.4**2, rel=1e-4)


def test_pieces_of_several_sizes_are_told_apart_by_their_size(tmp_path: Path) -> None:
    def of_size(size: str) -> Draw:
        def draw(block: Any) -> None:
            block.add_text("PIECE NAME: TAB", dxfattribs=layer(1))
            block.add_text(f"SIZE: {size}", dxfattribs=layer(1))
            block.add_polyline2d([(0, 0), (40, 0), (40, 20), (0, 20)], close=True, dxfattribs=layer(1))

        return draw

    path = pattern(tmp_path / "a.dxf", ("T1", of_size("S")), ("T2", of_size("L")))
    assert [piece.name for piece in read_piece_drawing(path)] == ["TAB S", "TAB L"]


def test_what_is_not_used_is_told(tmp_path: Path) -> None:
    drawing = read_drawing(pattern(tmp_path / "a.dxf", ("F", front)))
    assert "1 × sew lines (layer 14)" in drawing.skipped
    assert "4 × turn points (layer 2)" in drawing.skipped


def test_a_drawing_with_numbered_layers_that_is_no_such_pattern_is_read_as_before(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (50, 0), (50, 30), (0, 30)], close=True, dxfattribs=layer(1))

    (piece,) = read_piece_drawing(dxf(tmp_path / "a.dxf", build))
    assert piece.name == "a"
    assert piece.count == 1


def test_a_frame_round_everything_is_offered_to_be_left_out(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_lwpolyline(
            [(-10, -10), (210, -10), (210, 110), (-10, 110)], close=True, dxfattribs={"layer": "HELP"}
        )
        for x in (0, 100):
            space.add_lwpolyline(
                [(x, 0), (x + 80, 0), (x + 60, 90), (x, 80)], close=True, dxfattribs={"layer": "KNIFE"}
            )
            space.add_circle((x + 30, 40), 3, dxfattribs={"layer": "KNIFE"})

    path = dxf(tmp_path / "a.dxf", build)
    with pytest.raises(InputError, match="looks like a frame") as refused:
        read_piece_drawing(path)
    assert "--ignore-layer 'HELP'" in refused.value.mend
    pieces = read_piece_drawing(path, layers={"HELP": "ignore"})
    assert [len(piece.marks) for piece in pieces] == [1, 1]
    (whole,) = read_piece_drawing(path, layers={"HELP": "outline", "KNIFE": "hole"})
    assert len(whole.holes) == 2


def test_a_frame_on_a_construction_layer_is_left_out_and_told(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_line((-50, -50), (500, -50), dxfattribs={"layer": "CONSTRUCTION"})
        space.add_lwpolyline([(0, 0), (80, 0), (60, 90), (0, 80)], close=True, dxfattribs={"layer": "KNIFE"})

    drawing = read_drawing(dxf(tmp_path / "a.dxf", build))
    assert len(drawing.outlines) == 1
    assert any("CONSTRUCTION" in words for words in drawing.skipped)
