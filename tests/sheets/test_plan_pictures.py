"""Pictures of a plan: nothing printed over, written as SVG and PNG."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from PIL import Image

from nestplan.sheets.plan_pictures import plan_picture, write_plan_png, write_plan_svg
from tests.sheets.looking import beyond, overprinted
from tests.sheets.sample_plans import belt_plan


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
