"""CSV and JSON rings: units, several rings, roles, and what is refused with its line or key."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from nestplan.errors import InputError, UnitError
from nestplan.intake.drawings.reader import read_drawing
from tests.intake.small_drawings import areas

SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]


def csv(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def rings(path: Path, content: Any) -> Path:
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("head", "scale"), [("x_mm,y_mm", 1.0), ("x (in),y (in)", 25.4), ("X [cm],Y [cm],ring", 10.0)]
)
def test_a_csv_header_names_the_unit(tmp_path: Path, head: str, scale: float) -> None:
    path = csv(tmp_path / "a.csv", f"{head}\n0,0\n10,0\n10,10\n0,10\n")
    assert areas(read_drawing(path)) == pytest.approx([100 * scale**2])


def test_a_csv_without_a_unit_is_asked_for_it(tmp_path: Path) -> None:
    path = csv(tmp_path / "a.csv", "x,y\n0,0\n10,0\n10,10\n")
    with pytest.raises(UnitError):
        read_drawing(path)
    assert areas(read_drawing(path, units="mm")) == pytest.approx([50])


def test_a_csv_may_hold_several_rings_with_semicolons_and_remarks(tmp_path: Path) -> None:
    text = "# two rings\n0;0;a\n10;0;a\n10;10;a\n0;10;a\n0;0;a\n\n2;2;b\n4;2;b\n4;4;b\n"
    (outline,) = read_drawing(csv(tmp_path / "a.csv", text), units="mm").outlines
    assert outline.name == "a"
    assert len(outline.holes) == 1


@pytest.mark.parametrize("text", [
    "x_mm;y_mm\n0,0;0\n10,5;0\n10,5;10,5\n0;10,5\n",
    "x_mm\ty_mm\n0\t0\n10,5\t0\n10,5\t10,5\n0\t10,5\n",
    "0.0\t0\n10.5\t0\n10.5\t10.5\n0\t10.5\n",
    'x_mm,y_mm\n"0","0"\n"10,5","0"\n"10,5","10,5"\n"0","10,5"\n',
])  # fmt: skip
def test_decimal_commas_and_tabs_are_read_where_they_can_mean_one_thing(tmp_path: Path, text: str) -> None:
    assert areas(read_drawing(csv(tmp_path / "a.csv", text), units="mm")) == pytest.approx([110.25])


def test_commas_between_numbers_and_in_them_are_refused_with_how_to_mend(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="semicolon or a tab") as caught:
        read_drawing(csv(tmp_path / "a.csv", "0,0,0,0\n10,5,0,0\n10,5,10,5\n"), units="mm")
    assert "line 1" in caught.value.place
    with pytest.raises(InputError, match="'10,5,0' has commas between the numbers") as caught:
        read_drawing(csv(tmp_path / "b.csv", "0,0\n10,5,0\n10,5,20\n0,20\n"), units="mm")
    assert caught.value.place == "line 2"
    named = "0,0,1\n10,0,1\n10,10,1\n0,10,1\n20,0,2\n30,0,2\n30,5,2\n"
    assert areas(read_drawing(csv(tmp_path / "c.csv", named), units="mm")) == pytest.approx([100.0, 25.0])


def test_commas_that_may_part_thousands_are_refused(tmp_path: Path) -> None:
    text = "0;0\n1,250;0\n1,250;1,100\n"
    with pytest.raises(InputError, match="decimals or thousands"):
        read_drawing(csv(tmp_path / "a.csv", text), units="mm")
    assert areas(read_drawing(csv(tmp_path / "b.csv", text + "0;10,5\n"), units="mm"))
    with pytest.raises(InputError, match="decimals or thousands"):
        read_drawing(csv(tmp_path / "c.csv", '0,0\n"1,250",0\n"1,250","1,100"\n'), units="mm")


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("0,0\n1,a\n2,2\n", "line 2"),
        ("0,0\n1\n", "line 2"),
        ("0,0\n1,0\nnan,1\n", ""),
        ("", ""),
        ("0,0\n1,1\n", ""),
    ],
)
def test_a_bad_csv_is_refused_with_its_line(tmp_path: Path, text: str, place: str) -> None:
    path = csv(tmp_path / "a.csv", text)
    with pytest.raises(InputError) as caught:
        read_drawing(path, units="mm")
    assert place in caught.value.place
    assert caught.value.file == str(path)


def test_x_and_y_in_two_units_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="two units"):
        read_drawing(csv(tmp_path / "a.csv", "x_mm,y_in\n0,0\n1,0\n1,1\n"))


@pytest.mark.parametrize(
    "content",
    [
        {"type": "Polygon", "coordinates": [SQUARE, [[2, 2], [4, 2], [4, 4], [2, 4], [2, 2]]]},
        {"type": "MultiPolygon", "coordinates": [[SQUARE, [[2, 2], [2, 4], [4, 4], [4, 2]]]]},
        {"type": "Feature", "properties": None, "geometry": {"type": "Polygon", "coordinates": [SQUARE]}},
        [SQUARE, [[2, 2], [4, 2], [4, 4], [2, 4]]],
        {"units": "mm", "rings": [SQUARE]},
    ],
)
def test_rings_are_read_in_every_wrapping(tmp_path: Path, content: Any) -> None:
    (outline,) = read_drawing(rings(tmp_path / "a.json", content), units="mm").outlines
    assert areas(read_drawing(tmp_path / "a.json", units="mm")) == pytest.approx(
        [100 - 4 * len(outline.holes)]
    )


def test_the_unit_stands_at_the_top_level(tmp_path: Path) -> None:
    path = rings(tmp_path / "a.geojson", {"type": "Polygon", "units": "in", "coordinates": [SQUARE]})
    assert areas(read_drawing(path)) == pytest.approx([100 * 25.4**2])
    with pytest.raises(UnitError, match="top-level"):
        read_drawing(rings(tmp_path / "b.geojson", {"type": "Polygon", "coordinates": [SQUARE]}))
    with pytest.raises(UnitError, match="no unit of length"):
        read_drawing(
            rings(tmp_path / "c.geojson", {"type": "Polygon", "units": "ell", "coordinates": [SQUARE]})
        )


@pytest.mark.parametrize(
    ("content", "place"),
    [
        ({"type": "Polygon"}, "coordinates"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1, "a"], [2, 2]]]}, "coordinates[1]"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1], [2, 2]]]}, "coordinates[1]"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [True, 1], [2, 2]]]}, "coordinates[1]"),
        ({"type": "Blob", "coordinates": []}, "type"),
        ({"type": "FeatureCollection", "features": [{"type": "Feature"}]}, "features[0].geometry"),
        ({"type": "FeatureCollection"}, ""),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1e300, 0], [2, 2]]]}, "coordinates"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [10**400, 0], [2, 2]]]}, ""),
        (7, ""),
        ([], ""),
    ],
)
def test_bad_rings_are_refused_with_their_key(tmp_path: Path, content: Any, place: str) -> None:
    path = rings(tmp_path / "a.json", content)
    with pytest.raises(InputError) as caught:
        read_drawing(path, units="mm")
    assert place in caught.value.place
    assert caught.value.mend


def test_unknown_roles_and_files_are_refused(tmp_path: Path) -> None:
    feature = {
        "type": "Feature",
        "properties": {"role": "knife"},
        "geometry": {"type": "Point", "coordinates": [0, 0]},
    }
    with pytest.raises(InputError, match="no role"):
        read_drawing(rings(tmp_path / "a.json", feature), units="mm")
    with pytest.raises(InputError, match="no drawing we read"):
        read_drawing(tmp_path / "a.pdf")
    with pytest.raises(InputError, match="no such file"):
        read_drawing(tmp_path / "none.dxf")
    (tmp_path / "folder.dxf").mkdir()
    with pytest.raises(InputError, match="no such file"):
        read_drawing(tmp_path / "folder.dxf")


def test_a_file_of_ones_own_is_named_as_such_and_not_asked_for_its_unit(tmp_path: Path) -> None:
    path = rings(tmp_path / "a.json", {"nestplan": 1, "kind": "job", "units": "mm", "name": "a"})
    with pytest.raises(InputError, match="a job of nestplan's own, no drawing"):
        read_drawing(path)
