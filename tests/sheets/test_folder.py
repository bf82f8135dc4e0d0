from __future__ import annotations

import time
from pathlib import Path

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.estimate.supplies import shopping_list
from nestplan.sheets import write_cut_sheet, write_full_size, write_job_sheet, write_lesson_sheet
from nestplan.sheets.sheet_folder import write_sheets
from nestplan.storage import file_stem
from tests.sheets.sample_plans import belt_plan, many_plan


def test_everything_is_written_and_named(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    written = write_sheets(plan, job, hides, tmp_path / "out", shopping=shopping_list(job))
    assert all(path.stat().st_size > 200 for path in written)
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "cut-sheet.pdf", "drawings", "full-size.pdf", "job-sheet.pdf", "lesson-sheet.pdf", "plan-dark.png",
        "plan-dark.svg", "plan-light.png", "plan-light.svg",
    ]  # fmt: skip
    assert sorted(path.name for path in (tmp_path / "out" / "drawings").iterdir()) == sorted(
        f"{name}{ending}"
        for name in ("pieces", "cow-side-a.plan", "cow-side-a.hide", "shoulder-b.plan", "shoulder-b.hide")
        for ending in (".dxf", ".svg")
    )


def test_an_unknown_paper_leaves_no_sheet_behind(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    with pytest.raises(InputError, match="no paper"):
        write_sheets(plan, job, hides, tmp_path, shopping=shopping_list(job), paper="b5")
    assert not list(tmp_path.rglob("*.pdf"))


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError, match="cannot be made"):
        write_sheets(plan, job, hides, tmp_path / "file", shopping=shopping_list(job))


def test_names_become_plain_stems_and_alike_ones_are_told_apart(tmp_path: Path) -> None:
    assert file_stem("Cow side: A/B") == "cow-side-a-b"
    assert file_stem("…") == "unnamed"
    assert file_stem("Kuhhälfte 3") == "kuhhälfte-3"
    plan, job, hides = belt_plan()
    twin = msgspec.structs.replace(hides[1], name="cow side a!")
    moved = tuple(
        msgspec.structs.replace(placed, hide=twin.name) if placed.hide == hides[1].name else placed
        for placed in plan.placements
    )
    both = msgspec.structs.replace(plan, placements=moved, figures=None)
    written = write_sheets(both, job, (hides[0], twin), tmp_path, shopping=shopping_list(job))
    assert {"cow-side-a.plan.dxf", "cow-side-a-2.plan.dxf"} <= {path.name for path in written}


def test_the_sheets_of_five_hundred_pieces_take_less_than_five_seconds(tmp_path: Path) -> None:
    plan, job, hides = many_plan(500)
    shopping = shopping_list(job)
    start = time.process_time()
    write_cut_sheet(plan, job, hides, tmp_path / "cut.pdf")
    write_full_size(job, tmp_path / "full.pdf")
    write_job_sheet(job, shopping, tmp_path / "job.pdf", plan=plan)
    write_lesson_sheet(plan, job, hides, tmp_path / "lesson.pdf")
    # Time of this process alone: other work on the machine is not the sheets' fault.
    assert time.process_time() - start < 5.0
