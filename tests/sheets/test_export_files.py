"""The files that are handed on, each by itself and in the folder of sheets."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import msgspec
import pytest
from PIL import Image

from nestplan.sheets.export_files import (
    hide_drawings_in_folder,
    pictures_in_folder,
    piece_drawings_in_folder,
    plan_drawings_in_folder,
    write_hide_drawing,
    write_picture,
    write_piece_drawing,
    write_plan_drawing,
)
from nestplan.sheets.sheet_input import SheetInput
from tests.sheets.sample_plans import belt_plan


def given() -> SheetInput:
    plan, job, hides = belt_plan()
    return SheetInput(plan, job, hides, hides[0])


def test_a_picture_is_written_as_its_ending_says(tmp_path: Path) -> None:
    write_picture(given(), tmp_path / "plan.png")
    write_picture(given(), tmp_path / "plan.svg")
    with Image.open(tmp_path / "plan.png") as image:
        assert image.format == "PNG"
    assert "<svg" in (tmp_path / "plan.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("write", "layer"),
    [
        (write_plan_drawing, "cut_outline"),
        (write_hide_drawing, "backbone"),
        (write_piece_drawing, "slit (outer+lining) after trimming"),
    ],
)
def test_a_drawing_is_written_with_its_layers(write, layer: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    write(given(), tmp_path / "a.dxf")
    assert layer in ezdxf.readfile(tmp_path / "a.dxf").layers


def test_the_folder_has_files_for_the_hides_that_are_used_only() -> None:
    plan, job, hides = belt_plan()
    only = tuple(placed for placed in plan.placements if placed.hide == hides[0].name)
    less = msgspec.structs.replace(plan, placements=only, figures=None)
    for files, ending in ((plan_drawings_in_folder, "plan"), (hide_drawings_in_folder, "hide")):
        paths = [file.path for file in files(SheetInput(less, job, hides))]
        assert paths == [f"drawings/cow-side-a.{ending}.dxf", f"drawings/cow-side-a.{ending}.svg"]


def test_nothing_is_written_where_nothing_is_drawn() -> None:
    plan, job, hides = belt_plan()
    bare = msgspec.structs.replace(job.articles[0], pieces=())
    empty = SheetInput(plan, msgspec.structs.replace(job, articles=(bare,)), hides)
    assert list(piece_drawings_in_folder(empty)) == []


def test_both_looks_are_written_as_svg_and_png() -> None:
    assert [file.path for file in pictures_in_folder(given())] == [
        "plan-light.svg",
        "plan-light.png",
        "plan-dark.svg",
        "plan-dark.png",
    ]
