from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.estimate.supplies import shopping_list
from nestplan.sheets.folder import file_stem, write_sheets
from tests.sheets.sample_plans import belt_plan


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
