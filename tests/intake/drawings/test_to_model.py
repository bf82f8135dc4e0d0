"""Drawings as hides and pieces: names, holes, marks, parts, stretch, flaws, regions, backbone."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from nestplan.errors import InputError, NestplanError, ShapeError
from nestplan.geometry.ring import area
from nestplan.intake.drawings.to_model import read_hide_drawing, read_piece_drawing
from nestplan.model.files import read_hide, to_text, write_hide
from tests.intake.small_drawings import INCHES, dxf, svg

PANEL = [(10, 20), (110, 20), (110, 80), (10, 80)]


def panel(document: Any, space: Any) -> None:
    space.add_lwpolyline(PANEL, close=True)
    space.add_circle((20, 30), 2.5)
    space.add_circle((60, 50), 15)
    space.add_line((30, 70), (50, 70), dxfattribs={"layer": "SLITS"})
    space.add_lwpolyline([(90, 30), (90, 50), (100, 60)], dxfattribs={"layer": "MARKS"})
    space.add_point((15, 75), dxfattribs={"layer": "MARKS"})
    space.add_line((40, 25), (40, 35), dxfattribs={"layer": "STRETCH"})
    space.add_lwpolyline([(12, 22), (30, 22), (30, 40)], close=True, dxfattribs={"layer": "PARTS"})
    space.add_text("front", dxfattribs={"insert": (80, 60)})


def test_a_piece_keeps_its_holes_marks_parts_stretch_and_name(tmp_path: Path) -> None:
    (piece,) = read_piece_drawing(dxf(tmp_path / "a.dxf", panel))
    assert piece.name == "front"
    assert piece.ring.min(axis=0).tolist() == [0.0, 0.0]
    assert len(piece.holes) == 1
    assert piece.net_area == pytest.approx(100 * 60 - math.pi * 15**2, rel=1e-3)
    punched, slit, *marked = piece.marks
    assert (punched.do, punched.at, punched.diameter) == ("punch", (10.0, 10.0), 5.0)
    assert (slit.do, slit.at, slit.length, slit.angle) == ("slit", (30.0, 50.0), 20.0, 0.0)
    assert [(mark.do, round(mark.length or 0, 2), mark.angle) for mark in marked] == [
        ("mark", 0, 0.0),
        ("mark", 20.0, 90.0),
        ("mark", 14.14, 45.0),
    ]
    assert area(piece.parts[0].ring) == pytest.approx(18 * 18 / 2)
    assert piece.cuts[0].stretch is not None
    assert piece.cuts[0].stretch.axis == 90.0


def test_several_outlines_are_several_pieces_in_reading_order(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        for x, y in ((0, 0), (200, 0), (0, 200)):
            space.add_lwpolyline([(x, y), (x + 2, y), (x + 2, y + 3), (x, y + 3)], close=True)

    pieces = read_piece_drawing(dxf(tmp_path / "belt.dxf", build, units=INCHES))
    assert [piece.name for piece in pieces] == ["belt 1", "belt 2", "belt 3"]
    assert [piece.net_area for piece in pieces] == pytest.approx([6 * 25.4**2] * 3)


def test_names_that_stand_twice_are_told_apart(tmp_path: Path) -> None:
    body = "".join(f'<rect id="panel" x="{x}" width="20" height="10"/>' for x in (0, 50))
    pieces = read_piece_drawing(svg(tmp_path / "a.svg", body))
    assert [piece.name for piece in pieces] == ["panel", "panel 2"]


def test_a_mark_on_no_piece_is_refused_or_left_out(tmp_path: Path) -> None:
    def build(document: Any, space: Any) -> None:
        panel(document, space)
        space.add_line((500, 0), (510, 0), dxfattribs={"layer": "MARKS"})

    path = dxf(tmp_path / "a.dxf", build)
    with pytest.raises(ShapeError, match="lies on no piece") as caught:
        read_piece_drawing(path)
    assert caught.value.file == str(path)
    assert len(read_piece_drawing(path, repair=True)[0].marks) == 5


def test_a_drawing_without_an_outline_is_refused(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_line((0, 0), (10, 0), dxfattribs={"layer": "MARKS"})

    with pytest.raises(InputError, match="no closed outline"):
        read_piece_drawing(dxf(tmp_path / "a.dxf", build))


def hide_features(**changes: Any) -> dict[str, Any]:
    def feature(role: str, kind: str, coordinates: Any, **more: Any) -> dict[str, Any]:
        return {
            "type": "Feature",
            "properties": {"role": role, **more},
            "geometry": {"type": kind, "coordinates": coordinates},
        }

    box = [[0, 0], [80, 0], [80, 40], [0, 40], [0, 0]]
    features = [
        feature("outline", "Polygon", [box, [[10, 30], [12, 30], [12, 32], [10, 30]]]),
        feature("through", "Point", [20, 20], name="hole", diameter=0.5),
        feature("grain", "LineString", [[30, 20], [35, 25]], name="scratch"),
        feature("flesh", "Polygon", [[[40, 20], [42, 20], [42, 22], [40, 20]]]),
        feature("blemish", "Polygon", [[[50, 20], [52, 20], [52, 22], [50, 20]]]),
        feature("region", "Polygon", [box], name="belly"),
        feature("region", "Polygon", [[[0, 10], [60, 10], [60, 40], [0, 40], [0, 10]]], name="bend"),
        feature("backbone", "LineString", [[80, 40], [0, 40]]),
    ]
    return {"type": "FeatureCollection", "units": "in", "features": features, **changes}


def test_a_hide_keeps_its_flaws_regions_and_backbone(tmp_path: Path) -> None:
    path = tmp_path / "side.geojson"
    path.write_text(json.dumps(hide_features()))
    hide = read_hide_drawing(path, leather="cow side")
    assert (hide.name, hide.leather) == ("side", "cow side")
    assert hide.gross_area == pytest.approx((80 * 40 - 2) * 25.4**2)
    assert sorted(flaw.spoils for flaw in hide.flaws) == ["flesh", "grain", "mark", "through"]
    disc = next(flaw.disc for flaw in hide.flaws if flaw.disc)
    assert (disc.at, disc.diameter) == ((508.0, 508.0), 12.7)
    # The larger region comes first, so that the smaller lies on top of it.
    assert [(region.name, region.firmness) for region in hide.regions] == [("belly", 1), ("bend", 5)]
    assert hide.backbone_angle == 180.0
    assert hide.origin is not None
    assert (hide.origin.how, hide.origin.tolerance) == ("drawing", 0.05)
    write_hide(tmp_path / "side.hide.json", hide)
    assert to_text(read_hide(tmp_path / "side.hide.json")) == to_text(hide)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda s: [s.add_circle((x, 0), 10) for x in (0, 50)], "holds 2 outlines"),
        (lambda s: s.add_line((0, 0), (9, 9), dxfattribs={"layer": "MARKS"}), "holds no outlines"),
        (
            lambda s: (
                [s.add_circle((0, 0), 90)]
                + [s.add_circle((x, 0), 5, dxfattribs={"layer": "REGION belly"}) for x in (-20, 20)]
            ),
            "Two regions are called 'belly'",
        ),
        (
            lambda s: (
                [s.add_circle((0, 0), 90)]
                + [s.add_line((0, y), (9, y), dxfattribs={"layer": "BACKBONE"}) for y in (0, 20)]
            ),
            "2 lines for the backbone",
        ),
        (
            lambda s: [s.add_circle((0, 0), 90), s.add_point((0, 0), dxfattribs={"layer": "FLAWS"})],
            "drawn as a point",
        ),
    ],
)
def test_a_drawing_that_is_no_single_hide_is_refused(tmp_path: Path, build: Any, words: str) -> None:
    path = dxf(tmp_path / "a.dxf", lambda _document, space: build(space))
    with pytest.raises(NestplanError, match=words) as caught:
        read_hide_drawing(path, leather="cow side")
    assert caught.value.file == str(path)
    assert caught.value.mend
