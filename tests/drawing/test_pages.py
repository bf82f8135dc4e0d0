"""Papers, pages, and files that cannot be written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from nestplan.drawing.dxf import write_dxf
from nestplan.drawing.pages import Booklet, Page, paper_named
from nestplan.drawing.pdf import write_pdf
from nestplan.drawing.png import write_png
from nestplan.drawing.primitives import Fill, Hatch, LineStyle
from nestplan.drawing.svg import write_svg
from nestplan.errors import InputError


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


@pytest.mark.parametrize("write", [
    lambda path: write_pdf(Booklet("t", [page()]), path),
    lambda path: write_svg(page(), path),
    lambda path: write_png(page(), path),
    lambda path: write_dxf(page().picture, path),
])  # fmt: skip
def test_a_file_that_cannot_be_written_is_told_as_such(tmp_path: Path, write: object) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write(tmp_path / "no" / "such" / "folder")  # type: ignore[operator]


def test_papers_have_their_sizes_and_a_roll_its_own_width() -> None:
    assert (paper_named(" A4 ").width, paper_named("a4").height) == (210.0, 297.0)
    assert paper_named("roll", roll_width=914.4).width == 914.4
    with pytest.raises(InputError, match="cannot be used"):
        paper_named("roll", roll_width=10.0)
