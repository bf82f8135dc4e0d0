"""Pages as PDF: true millimetres, text that stays text."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.drawing.pages import Booklet, Page
from nestplan.drawing.pdf import pdf_bytes
from nestplan.drawing.primitives import Fill, Hatch, LineStyle
from tests.sheets.pdf_reading import read_pdf


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
