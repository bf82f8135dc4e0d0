"""Pictures as DXF: units, layers, letters of many languages."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from nestplan.drawing.dxf import dxf_document, write_dxf
from nestplan.drawing.pages import Page
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


def test_a_dxf_with_letters_of_many_languages_is_read_back(tmp_path: Path) -> None:
    import ezdxf

    write_dxf(page().picture, tmp_path / "a.dxf")
    texts = [entity.dxf.text for entity in ezdxf.readfile(tmp_path / "a.dxf").modelspace().query("TEXT")]
    assert texts == ["Łódź & <Ω> ½ → 5 °", "upright"]
