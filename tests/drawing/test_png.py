"""Pages as PNG: what lies where, and at which resolution."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from nestplan.drawing.pages import Page
from nestplan.drawing.png import png_image, write_png
from nestplan.drawing.primitives import Fill, Hatch, LineStyle


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
