"""Patterns by the open apparel standard (ASTM D6673, layer numbers from memory), drawn here by ezdxf."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shapely

from nestplan.errors import InputError
from nestplan.intake.drawings.polylines import FrameError
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
    assert "Leave out the layer 'HELP'" in refused.value.mend
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


def closed(block: Any, *points: tuple[float, float], number: int = 1) -> None:
    block.add_polyline2d(points, close=True, dxfattribs=layer(number))


def half_of_lines(block: Any) -> None:
    """Half of 160 × 80, folded at x = 0: lines that miss each other by a hair, and the fold drawn with them."""
    block.add_text("PIECE NAME: YOKE", dxfattribs=layer(1))
    for start, end in (
        ((0, 0), (80, 0)),
        ((80, 0.02), (80, 80)),
        ((80, 80), (0.03, 80)),
        ((0.03, 80), (0.03, 0)),
    ):
        block.add_line(start, end, dxfattribs=layer(1))
    block.add_line((0, -5), (0, 85), dxfattribs=layer(6))


def half_without_its_fold(block: Any) -> None:
    """The same, the boundary one line from the fold back to it; a cutout and lines that reach the fold."""
    block.add_text("PIECE NAME: YOKE", dxfattribs=layer(1))
    block.add_polyline2d([(0.05, 0), (80, 0), (80, 80), (-0.05, 80)], dxfattribs=layer(1))
    block.add_line((0, 0), (0, 80), dxfattribs=layer(6))
    block.add_polyline2d([(0, 20), (20, 20), (20, 30), (0, 30)], dxfattribs=layer(11))
    block.add_line((0, 50), (30, 50), dxfattribs=layer(8))


@pytest.mark.parametrize("draw", [half_of_lines, half_without_its_fold])
def test_a_half_is_unfolded_however_its_boundary_is_drawn(draw: Draw, tmp_path: Path) -> None:
    (piece,) = read_piece_drawing(pattern(tmp_path / "a.dxf", ("Y", draw)))
    outline = shapely.Polygon(piece.ring)
    assert outline.area == pytest.approx(160 * 80, rel=1e-3)
    assert outline.minimum_rotated_rectangle.area == pytest.approx(160 * 80, rel=1e-3)
    if draw is half_without_its_fold:
        assert outline.area - piece.net_area == pytest.approx(40 * 10, rel=1e-3)
        assert sorted(mark.at[0] for mark in piece.marks) == pytest.approx([65, 95], abs=0.1)


def test_a_half_that_stays_off_its_mirror_line_is_refused(tmp_path: Path) -> None:
    def draw(block: Any) -> None:
        block.add_text("PIECE NAME: YOKE", dxfattribs=layer(1))
        closed(block, (3, 0), (80, 0), (80, 80), (3, 80))
        block.add_line((0, 0), (0, 80), dxfattribs=layer(6))

    with pytest.raises(InputError, match="'YOKE' is drawn half and does not reach its mirror line"):
        read_drawing(pattern(tmp_path / "a.dxf", ("Y", draw)))


def test_a_piece_drawn_whole_is_not_doubled_by_its_mirror_line(tmp_path: Path) -> None:
    def draw(block: Any) -> None:
        block.add_text("PIECE NAME: YOKE", dxfattribs=layer(1))
        closed(block, (-80, 0), (80, 0), (80, 80), (-80, 80))
        block.add_line((0, 0), (0, 80), dxfattribs=layer(6))
        block.add_point((40, 40), dxfattribs=layer(13))

    drawing = read_drawing(pattern(tmp_path / "a.dxf", ("Y", draw)))
    (piece,) = pieces_from_drawing(drawing)
    assert len(piece.marks) == 1
    assert piece.net_area == pytest.approx(160 * 80)
    assert "1 × mirror lines of pieces drawn whole (layer 6)" in drawing.skipped


def test_a_notch_is_as_deep_as_its_point_says(tmp_path: Path) -> None:
    def draw(block: Any) -> None:
        block.add_text("PIECE NAME: N", dxfattribs=layer(1))
        closed(block, (0, 0), (100, 0), (100, 50), (0, 50))
        block.add_point((50, 50, 0.25), dxfattribs=layer(4))
        block.add_point((20, 0), dxfattribs={**layer(80), "thickness": 0.125})
        block.add_point((70, 0), dxfattribs=layer(4))

    (piece,) = read_piece_drawing(pattern(tmp_path / "a.dxf", ("N", draw), units="ENGLISH"))
    inch = 25.4
    marks = sorted((round(mark.at[0] / inch), mark.length, mark.at[1] / inch) for mark in piece.marks)
    assert [(x, length) for x, length, _ in marks] == [
        (20, pytest.approx(inch / 8, abs=0.1)),
        (50, pytest.approx(inch / 4, abs=0.1)),
        (70, None),
    ]
    assert [y for _, _, y in marks] == pytest.approx([1 / 16, 50 - 1 / 8, 0], abs=0.01)
    assert {mark.what for mark in piece.marks} == {"notch", "T notch"}


def test_an_open_line_among_the_cutouts_is_a_slit_and_lines_that_meet_are_an_opening(tmp_path: Path) -> None:
    def draw(block: Any) -> None:
        block.add_text("PIECE NAME: S", dxfattribs=layer(1))
        closed(block, (0, 0), (100, 0), (100, 50), (0, 50))
        block.add_line((10, 40), (40, 40), dxfattribs=layer(11))
        corners = [(60, 10), (80, 10), (80, 20), (60, 20)]
        for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
            block.add_line(start, end, dxfattribs=layer(11))

    (piece,) = read_piece_drawing(pattern(tmp_path / "a.dxf", ("S", draw)))
    assert [(mark.do, mark.length) for mark in piece.marks] == [("slit", pytest.approx(30))]
    assert piece.net_area == pytest.approx(100 * 50 - 20 * 10)


def test_sizes_drawn_over_each_other_are_refused_and_layers_of_others_told(tmp_path: Path) -> None:
    def nest(block: Any) -> None:
        block.add_text("PIECE NAME: TAB", dxfattribs=layer(1))
        for k in range(3):
            closed(block, (-k, -k), (100 + k, -k), (100 + k, 50 + k), (-k, 50 + k))

    with pytest.raises(InputError, match="Of the 3 boundaries of the piece 'TAB' one lies in another"):
        read_drawing(pattern(tmp_path / "a.dxf", ("T", nest)))

    def more(block: Any) -> None:
        front(block)
        block.add_line((0, 0), (5, 5), dxfattribs=layer(50))
        block.add_text("ANNOTATION: DYED", dxfattribs=layer(1))

    drawing = read_drawing(pattern(tmp_path / "b.dxf", ("F", more)))
    assert "1 × things that the standard does not know (layer 50)" in drawing.skipped
    assert pieces_from_drawing(drawing)[0].note == "SHOWS GRAIN; DYED; COW SIDE"


@pytest.mark.parametrize("outer", ["KNIFE", "BORDER"])
def test_a_frame_round_outlines_with_openings_is_offered_to_be_left_out(outer: str, tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        for k in (1, 2):
            corners = [
                (-5 * k, -5 * k),
                (300 + 5 * k, -5 * k),
                (300 + 5 * k, 95 + 5 * k),
                (-5 * k, 95 + 5 * k),
            ]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": outer})
        for x in (0, 150):
            corners = [(x, 0), (x + 100, 0), (x + 80, 90), (x, 80)]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "KNIFE"})
            space.add_circle((x + 30, 40), 3, dxfattribs={"layer": "KNIFE"})

    path = dxf(tmp_path / "a.dxf", build)
    with pytest.raises(FrameError, match="it looks like a frame") as refused:
        read_drawing(path)
    assert refused.value.layer == ("BORDER" if outer == "BORDER" else "(frame)")
    drawing = read_drawing(path, layers={refused.value.layer: "ignore"})
    assert [len(piece.marks) for piece in pieces_from_drawing(drawing)] == [1, 1]
    if outer == "KNIFE":
        assert "2 × frames (on the layer KNIFE)" in drawing.skipped


def test_sizes_drawn_over_each_other_are_no_piece_with_an_opening(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        for k in range(3):
            corners = [(-k, -k), (100 + k, -k), (80 + k, 50 + k), (-k, 50 + k)]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "KNIFE"})

    path = dxf(tmp_path / "a.dxf", build)
    with pytest.raises(InputError, match="as of sizes drawn over each other"):
        read_drawing(path)
    assert len(read_drawing(path, layers={"KNIFE": "outline"}).outlines) == 2


def test_a_layer_of_a_pattern_can_be_left_out(tmp_path: Path) -> None:
    path = pattern(tmp_path / "a.dxf", ("F", front))
    (piece,) = read_piece_drawing(path, layers={"13": "ignore"})
    assert piece.name == "FRONT"
    assert {mark.what for mark in piece.marks} == {"notch", "internal line"}
