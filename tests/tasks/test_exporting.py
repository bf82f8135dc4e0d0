from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.sheets.catalogue import SHEETS, everything_to_export
from nestplan.tasks.contents import Contents
from nestplan.tasks.exporting import export, pages_to_print, sheet_input, write_picture, write_sheet_folder
from nestplan.tasks.opening import open_plan
from tests.small_jobs import one_piece_job, plain_hide
from tests.tasks.small_rack import small_rack


@pytest.fixture
def contents(tmp_path: Path) -> Contents:
    opened = open_plan(small_rack(tmp_path / "rack"))
    return Contents(opened.hides, opened.job, opened.plan)


@pytest.mark.parametrize("name", sorted(everything_to_export()))
def test_every_sheet_and_file_is_written(contents: Contents, tmp_path: Path, name: str) -> None:
    given = sheet_input(contents, contents.hides[0], units="in", paper="letter")
    for ending in everything_to_export()[name].endings or ("",):
        path = tmp_path / f"made{ending}"
        export(name, given, path)
        made = [path] if path.is_file() else [each for each in path.rglob("*") if each.is_file()]
        assert made
        assert all(each.stat().st_size > 300 for each in made)


@pytest.mark.parametrize("name", sorted(SHEETS.names))
def test_what_is_printed_has_pages_of_the_paper(contents: Contents, name: str) -> None:
    pages = pages_to_print(name, sheet_input(contents, paper="letter")).pages
    assert pages
    assert {round(min(page.width, page.height), 1) for page in pages} == {215.9}


def test_figures_are_counted_before_sheets_are_made(contents: Contents) -> None:
    assert contents.plan is not None
    assert contents.plan.figures is None
    figures = sheet_input(contents).the_plan.figures
    assert figures is not None
    assert figures.placed == 2
    assert sheet_input(Contents()).plan is None


def test_what_is_lacking_is_known_before_it_is_asked_for(contents: Contents) -> None:
    needs = ("plan", "plan on hide", "job", "hide")
    whole = sheet_input(contents, contents.hides[0])
    assert [whole.lacks(each) for each in needs] == [False] * 4
    job_alone = sheet_input(Contents((plain_hide(),), one_piece_job()))
    assert [job_alone.lacks(each) for each in needs] == [True, True, False, True]
    assert sheet_input(Contents((plain_hide(),))).lacks("job")


def test_a_folder_that_is_not_there_is_told(contents: Contents, tmp_path: Path) -> None:
    with pytest.raises(InputError):
        export("picture", sheet_input(contents), tmp_path / "none" / "a.png")


def test_the_sheets_of_a_plans_file_and_its_picture_are_written(tmp_path: Path) -> None:
    opened = open_plan(small_rack(tmp_path))
    written = write_sheet_folder(opened, tmp_path / "bench", paper="a4", roll_width=None, units="mm")
    assert {path.name for path in written} >= {"cut-sheet.pdf", "full-size.pdf", "barley.plan.dxf"}
    for name in ("a.png", "b.svg"):
        write_picture(opened, tmp_path / name, look="dark", units="mm")
        assert (tmp_path / name).stat().st_size > 1000
    with pytest.raises(InputError, match="no look"):
        write_picture(opened, tmp_path / "c.svg", look="sepia", units="mm")
