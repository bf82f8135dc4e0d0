from __future__ import annotations

import io
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from nestplan.drawing.dxf import dxf_document, write_dxf
from nestplan.drawing.pages import Booklet, Page, paper_named
from nestplan.drawing.pdf import pdf_bytes, write_pdf
from nestplan.drawing.png import png_image, write_png
from nestplan.drawing.primitives import Fill, Hatch, LineStyle
from nestplan.drawing.svg import svg_text, write_svg
from nestplan.errors import InputError
from nestplan.sheets.plan_pictures import plan_picture, write_plan_png, write_plan_svg
from tests.sheets.looking import beyond, overprinted
from tests.sheets.pdf_reading import read_pdf
from tests.sheets.sample_plans import belt_plan


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


def test_pdf_keeps_millimetres_and_text_as_text() -> None:
    (read,) = read_pdf(pdf_bytes(Booklet("A title", [page()])))
    assert (read.width, read.height) == pytest.approx((100.0, 60.0), abs=0.01)
    assert "Łódź & <Ω> ½ → 5 °" in read.words
    assert "upright" in read.words
    box = next(line for line in read.lines if np.allclose(line.max(axis=0), (50, 40), atol=0.01))
    assert box.min(axis=0) == pytest.approx((10, 10), abs=0.01)
    assert read.fonts
    assert all(read.fonts.values())


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


def test_svg_leaves_out_letters_that_xml_forbids() -> None:
    sheet = Page(10.0, 10.0)
    sheet.picture.text(1, 1, "a\x00b\x0bc", layer="x\x01y")
    assert "abc" in "".join(ElementTree.fromstring(svg_text(sheet)).itertext())


def test_png_shows_fills_holes_and_smooth_edges_at_the_right_place() -> None:
    image = png_image(page(), dots_per_inch=254.0)
    assert image.size == (1000, 600)
    assert image.getpixel((200, 300)) == (0x56, 0xB4, 0xE9)
    assert image.getpixel((650, 250)) == (0, 0, 0)
    assert image.getpixel((750, 350)) == (255, 255, 255)
    assert image.getpixel((20, 580)) == (255, 255, 255)
    letters = np.asarray(image.convert("L"))[20:62, 350:650]
    assert (letters < 60).sum() > 200
    assert ((letters > 80) & (letters < 200)).sum() > 100


def test_png_notes_its_resolution_and_a_huge_page_is_drawn_coarser(tmp_path: Path) -> None:
    write_png(page(), tmp_path / "a.png", dots_per_inch=100.0)
    with Image.open(tmp_path / "a.png") as image:
        assert image.info["dpi"] == pytest.approx((100.0, 100.0), abs=0.1)
    assert png_image(Page(1000.0, 1000.0), dots_per_inch=150.0).size == (5906, 5906)


def test_dxf_has_units_named_layers_and_no_errors() -> None:
    document = dxf_document(page().picture, layer_colors={"box": 3})
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    assert document.units == 4
    assert document.layers.get("box").color == 3
    kinds = [(entity.dxftype(), entity.dxf.layer) for entity in document.modelspace()]
    assert kinds[:4] == [
        ("LWPOLYLINE", "box"), ("LWPOLYLINE", "frame"), ("LWPOLYLINE", "frame"), ("CIRCLE", "round")
    ]  # fmt: skip
    assert ("LINE", "dashes") in kinds
    assert ("TEXT", "words") in kinds


@pytest.mark.parametrize("write", [
    lambda path: write_pdf(Booklet("t", [page()]), path),
    lambda path: write_svg(page(), path),
    lambda path: write_png(page(), path),
    lambda path: write_dxf(page().picture, path),
])  # fmt: skip
def test_a_file_that_cannot_be_written_is_told_as_such(tmp_path: Path, write: object) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write(tmp_path / "no" / "such" / "folder")  # type: ignore[operator]


def test_a_dxf_with_letters_of_many_languages_is_read_back(tmp_path: Path) -> None:
    import ezdxf

    write_dxf(page().picture, tmp_path / "a.dxf")
    texts = [entity.dxf.text for entity in ezdxf.readfile(tmp_path / "a.dxf").modelspace().query("TEXT")]
    assert texts == ["Łódź & <Ω> ½ → 5 °", "upright"]


@pytest.mark.parametrize("look", ["light", "dark", "paper"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_picture_has_nothing_printed_over_or_cut_off(look: str, units: str) -> None:
    picture = plan_picture(*belt_plan(), look=look, units=units)  # type: ignore[arg-type]
    assert overprinted(picture.picture) == []
    assert beyond(picture, margin=4.0) == []


def test_pictures_are_written_as_svg_and_png(tmp_path: Path) -> None:
    write_plan_svg(*belt_plan(), tmp_path / "plan.svg", units="in", look="dark")
    write_plan_png(*belt_plan(), tmp_path / "plan.png", look="light", dots_per_inch=60.0)
    root = ElementTree.parse(tmp_path / "plan.svg").getroot()
    assert str(root.get("width")).endswith("mm")
    with Image.open(io.BytesIO((tmp_path / "plan.png").read_bytes())) as image:
        assert image.size[0] == round(400 * 60 / 25.4)


def test_papers_have_their_sizes_and_a_roll_its_own_width() -> None:
    assert (paper_named(" A4 ").width, paper_named("a4").height) == (210.0, 297.0)
    assert paper_named("roll", roll_width=914.4).width == 914.4
    with pytest.raises(InputError, match="cannot be used"):
        paper_named("roll", roll_width=10.0)
