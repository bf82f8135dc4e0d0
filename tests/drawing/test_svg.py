"""Pages as SVG: valid, in millimetres, a group for each layer."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest

from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import Fill, Hatch, LineStyle
from nestplan.drawing.svg import svg_text


def page() -> Page:
    sheet = Page(100.0, 60.0)
    sheet.picture.area([(10, 10), (50, 10), (50, 40), (10, 40)], LineStyle(0.5), Fill("#56b4e9"), layer="box")
    ring, hole = [(60, 10), (90, 10), (90, 40), (60, 40)], [(70, 20), (80, 20), (80, 30), (70, 30)]
    sheet.picture.area([np.array(ring), np.array(hole)], None, Fill("#000000"), layer="frame")
    sheet.picture.circle(30, 25, 5, LineStyle(0.3), Fill(None, Hatch("cross", 1.0)), layer="round")
    sheet.picture.line([(10, 50), (90, 50)], LineStyle(1.0, "#d55e00", (4.0, 2.0)), layer="dashes")
    sheet.picture.text(50, 54, "Łódź & <Ω> ½ → 5 °", 4.0, anchor="middle", halo="#ffffff", layer="words")
    sheet.picture.text(5, 30, "upright", 4.0, anchor="middle", angle=90.0, bold=True, layer="words")
    return sheet


def test_svg_is_valid_xml_in_millimetres_with_named_groups() -> None:
    root = ElementTree.fromstring(svg_text(page(), title="a & b"))
    assert root.get("width") == "100mm"
    assert root.get("height") == "60mm"
    assert root.get("viewBox") == "0 0 100 60"
    space = "{http://www.w3.org/2000/svg}"
    assert [group.get("class") for group in root.findall(f"{space}g")] == [
        "box",
        "frame",
        "round",
        "dashes",
        "words",
    ]
    texts = [text.text for text in root.iter(f"{space}text")]
    assert texts == ["Łódź & <Ω> ½ → 5 °", "upright"]
    first = next(root.iter(f"{space}path"))
    assert first.get("d") == "M10,50 50,50 50,20 10,20Z"


@pytest.mark.security
def test_svg_leaves_out_letters_that_xml_forbids() -> None:
    sheet = Page(10.0, 10.0)
    sheet.picture.text(1, 1, "a\x00b\x0bc", layer="x\x01y")
    assert "abc" in "".join(ElementTree.fromstring(svg_text(sheet)).itertext())


@pytest.mark.security
def test_names_with_characters_that_xml_forbids_make_a_valid_file() -> None:
    nasty = "a\x00\x1b\ufffe\uffff\ud800b <&> 皮 \U0001fffe"
    sheet = Page(100.0, 60.0)
    sheet.picture.text(5, 30, nasty, 4.0, layer="w\uffffords")
    text = svg_text(sheet, title=nasty)
    root = ElementTree.fromstring(text.encode())
    assert "ab <&> 皮 \U0001fffe" in "".join(root.itertext())
