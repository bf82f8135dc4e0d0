"""SVG files: shapes, paths, transforms, view boxes, `use`, units, and what is refused."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from nestplan.errors import InputError, ShapeError, UnitError
from nestplan.intake.drawings.reader import read_drawing
from tests.intake.small_drawings import areas, svg


@pytest.mark.parametrize(
    ("size", "millimetres"),
    [
        ('width="200mm" height="100mm" viewBox="0 0 200 100"', 1.0),
        ('width="20cm" height="10cm" viewBox="0 0 100 50"', 2.0),
        ('width="2in" height="1in" viewBox="0 0 2000 1000"', 0.0254),
        ('width="72pt" height="72pt" viewBox="0 0 10 10"', 2.54),
        ('width="50mm" height="50mm"', 25.4 / 96),
        ('width="96px" height="96px" viewBox="0 0 1 1"', 25.4),
        ('width="100mm" height="100mm" viewBox="0 0 200 100"', 0.5),
        ('width="100mm" height="100mm" viewBox="0 0 200 100" preserveAspectRatio="xMidYMid slice"', 1.0),
        ('width="30mm" viewBox="5 5 10 10"', 3.0),
    ],
)
def test_page_and_view_box_give_the_scale(tmp_path: Path, size: str, millimetres: float) -> None:
    drawing = read_drawing(svg(tmp_path / "a.svg", '<rect x="1" y="2" width="4" height="3"/>', size=size))
    assert areas(drawing) == pytest.approx([12 * millimetres**2])


def test_a_stretched_page_stretches_both_ways_apart(tmp_path: Path) -> None:
    size = 'width="100mm" height="10mm" viewBox="0 0 10 10" preserveAspectRatio="none"'
    (outline,) = read_drawing(svg(tmp_path / "a.svg", '<circle cx="5" cy="5" r="2"/>', size=size)).outlines
    assert np.ptp(outline.ring, axis=0) == pytest.approx([40, 4], abs=0.01)
    assert outline.circle is None


@pytest.mark.parametrize(
    "size", ["", 'width="200" height="100"', 'width="100%" height="100%" viewBox="0 0 1 1"']
)
def test_a_page_without_units_is_asked_for_them(tmp_path: Path, size: str) -> None:
    path = svg(tmp_path / "a.svg", '<rect width="4" height="3"/>', size=size)
    with pytest.raises(UnitError, match="does not say how large"):
        read_drawing(path)
    assert areas(read_drawing(path, units="in")) == pytest.approx([12 * 25.4**2])


def test_the_y_axis_is_turned_upward(tmp_path: Path) -> None:
    (outline,) = read_drawing(svg(tmp_path / "a.svg", '<polygon points="10,0 30,0 10,40"/>')).outlines
    corners = {tuple(point) for point in outline.ring.round(6).tolist()}
    assert corners == {(10.0, 100.0), (30.0, 100.0), (10.0, 60.0)}


def test_nested_transforms_are_applied_from_the_inside_out(tmp_path: Path) -> None:
    body = (
        '<g transform="translate(100,50)"><g transform="rotate(90) scale(2,1)">'
        '<rect width="10" height="5" transform="skewX(45)"/></g></g>'
    )
    (outline,) = read_drawing(svg(tmp_path / "a.svg", body)).outlines
    # skewX(45): (10, 5) -> (15, 5); scale: (30, 5); rotate(90): (-5, 30); translate: (95, 80); up: 100 - 80.
    corners = {tuple(point) for point in outline.ring.round(6).tolist()}
    assert corners == {(100.0, 50.0), (100.0, 30.0), (95.0, 20.0), (95.0, 40.0)}


def test_use_and_symbol_place_copies(tmp_path: Path) -> None:
    body = (
        '<defs><path id="p" d="M0 0h10v10h-10z"/></defs><symbol id="s"><rect width="5" height="4"/></symbol>'
        '<use xlink:href="#p" x="20" y="10"/><use href="#p" transform="translate(50 50) scale(2)"/>'
        '<use href="#s" x="100"/>'
    )
    drawing = read_drawing(svg(tmp_path / "a.svg", body))
    assert areas(drawing) == pytest.approx([400, 100, 20])
    assert {tuple(shape.ring.min(axis=0).round(6)) for shape in drawing.outlines} == {
        (20, 80),
        (50, 30),
        (100, 96),
    }


def test_every_kind_of_curve_keeps_its_area(tmp_path: Path) -> None:
    body = (
        '<rect width="40" height="20" rx="5"/><ellipse cx="80" cy="20" rx="15" ry="8"/>'
        '<path d="M110 20 a10 10 0 1 0 20 0 a10 10 0 1 0 -20 0"/>'
        '<path d="M0 50 q20 -20 40 0 t40 0 v30 h-80 z"/>'
        '<path d="M100 60 c0 -20 30 -20 30 0 s-30 20 -30 0 z"/>'
    )
    found = areas(read_drawing(svg(tmp_path / "a.svg", body)))
    rounded = 40 * 20 - (4 - math.pi) * 25
    # A wave of two opposite parabolas adds nothing; a cubic bow of chord a and handles h square to it holds 3/5 a h.
    bows = 2 * 0.6 * 30 * 20
    expected = [80 * 30, rounded, bows, math.pi * 15 * 8, math.pi * 100]
    assert found == pytest.approx(sorted(expected, reverse=True), rel=1e-3)


def test_a_path_of_arcs_that_close_to_a_circle_is_known_as_one(tmp_path: Path) -> None:
    body = '<rect width="100" height="90"/><path d="M40 50 a10 10 0 1 0 20 0 a10 10 0 1 0 -20 0 z"/>'
    (outline,) = read_drawing(svg(tmp_path / "a.svg", body)).outlines
    assert outline.holes[0].circle == pytest.approx((50, 50, 20))


def test_a_circle_drawn_as_four_bezier_curves_is_known_as_one(tmp_path: Path) -> None:
    k = 4 * 0.5522847498
    body = (
        '<rect width="100" height="90"/>'
        f'<path d="M54 50 C54 {50 + k} {50 + k} 54 50 54 S46 {50 + k} 46 50 S{50 - k} 46 50 46 S54 {50 - k} 54 50z"/>'
    )
    (outline,) = read_drawing(svg(tmp_path / "a.svg", body)).outlines
    assert outline.holes[0].circle == pytest.approx((50, 50, 8), abs=0.01)


def test_groups_are_layers_and_labels_are_names(tmp_path: Path) -> None:
    body = (
        '<g id="layer1" xmlns:x="urn:x" x:label="Outline"><rect id="front" width="50" height="40"/></g>'
        '<g id="marks"><circle cx="10" cy="10" r="1"/></g><g id="notes"><line x2="5" y2="5"/></g>'
    )
    drawing = read_drawing(svg(tmp_path / "a.svg", body))
    assert [(shape.layer, shape.name) for shape in drawing.outlines] == [("Outline", "front")]
    assert [mark.diameter for mark in drawing.marks] == [2.0]


def test_a_group_without_a_name_goes_by_its_class(tmp_path: Path) -> None:
    body = '<rect width="50" height="40"/><g class="slit"><line x1="9" y1="9" x2="20" y2="9"/></g>'
    assert [mark.kind for mark in read_drawing(svg(tmp_path / "a.svg", body)).marks] == ["slit"]


def test_hidden_things_clips_and_definitions_are_not_read(tmp_path: Path) -> None:
    body = (
        '<defs><clipPath id="c"><rect width="9" height="9"/></clipPath></defs>'
        '<g style="display: none"><rect width="7" height="7"/></g><rect width="50" height="40"/>'
        '<image href="x.png" width="5" height="5"/>'
    )
    drawing = read_drawing(svg(tmp_path / "a.svg", body))
    assert areas(drawing) == pytest.approx([2000])
    assert drawing.skipped == ("1 × hidden things", "1 × image")


@pytest.mark.parametrize(
    ("body", "error", "words"),
    [
        ('<path d="M0 0 L10 x"/>', ShapeError, "no path data"),
        ('<path d="M0 0 C 1 2 3"/>', ShapeError, "breaks off"),
        ('<path d="bogus"/>', ShapeError, "no path data"),
        ('<rect width="10%" height="5"/>', InputError, "no length"),
        ('<rect width="5" height="5" transform="bogus(1)"/>', InputError, "transform"),
        ('<rect width="5" height="5" transform="rotate(1"/>', InputError, "transform"),
        ('<rect width="5" height="5" style="transform: scale(2)"/>', InputError, "by its style"),
        ('<use href="other.svg#a"/>', InputError, "another file"),
        ('<g id="a"><use href="#a"/></g>', InputError, "made of itself"),
        ('<rect width="1e9" height="5"/>', ShapeError, "100 m away"),
        ('<svg viewBox="0 0 1 1"><rect width="5" height="5"/></svg>', InputError, "view box of its own"),
    ],
)
@pytest.mark.security
def test_what_cannot_be_read_rightly_is_refused(
    tmp_path: Path, body: str, error: type[InputError], words: str
) -> None:
    path = svg(tmp_path / "a.svg", body)
    with pytest.raises(error, match=words) as caught:
        read_drawing(path)
    assert caught.value.file == str(path)
    assert caught.value.mend


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<svg",
        b"<html></html>",
        b"\x1f\x8b\x08\x00",
        b'<svg xmlns="http://www.w3.org/2000/svg" width="1mm" viewBox="0 0 0 1"/>',
        b'<svg xmlns="http://www.w3.org/2000/svg" width="wide"/>',
        b'<?xml version="1.0" encoding="nonsense"?><svg/>',
    ],
)
@pytest.mark.security
def test_what_is_no_svg_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_drawing(path, units="mm" if b"viewBox" not in content else None)
    assert caught.value.mend
