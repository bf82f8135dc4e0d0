"""The catalogue of sheets and files: the folder of all of them, and what an entry from outside is found in."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import msgspec
import pytest
from typer.testing import CliRunner

from nestplan.cli.app import build_app
from nestplan.drawing.pages import Booklet, Page
from nestplan.drawing.pdf import write_pdf
from nestplan.errors import InputError
from nestplan.estimate.supplies import shopping_list
from nestplan.model import Hide, Job, Plan
from nestplan.model.files import write_hide, write_job, write_plan
from nestplan.model.plan import Source
from nestplan.sheets.catalogue import (
    EXPORTS,
    SHEETS,
    Export,
    Sheet,
    contents_words,
    everything_to_export,
    register_export,
    register_sheet,
    unregister_export,
    unregister_sheet,
    write_sheets,
)
from nestplan.sheets.export_files import FolderFile
from nestplan.sheets.sheet_input import SheetInput
from nestplan.storage import file_stem
from tests.sheets.sample_plans import belt_plan, many_plan

pdfium = pytest.importorskip("pypdfium2")


def given(plan: Plan, job: Job, hides: tuple[Hide, ...], *, paper: str = "a4") -> SheetInput:
    """What the sheets of a plan are made from."""
    return SheetInput(plan, job, hides, shopping=partial(shopping_list, job), paper=paper)


def test_everything_is_written_and_named(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    written = write_sheets(given(plan, job, hides), tmp_path / "out")
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
        write_sheets(given(plan, job, hides, paper="b5"), tmp_path)
    assert not list(tmp_path.rglob("*.pdf"))


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError, match="cannot be made"):
        write_sheets(given(plan, job, hides), tmp_path / "file")


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
    written = write_sheets(given(both, job, (hides[0], twin)), tmp_path)
    assert {"cow-side-a.plan.dxf", "cow-side-a-2.plan.dxf"} <= {path.name for path in written}


def test_the_sheets_of_five_hundred_pieces_take_less_than_five_seconds(tmp_path: Path) -> None:
    whole = given(*many_plan(500))
    start = time.process_time()
    for sheet in SHEETS:
        write_pdf(sheet.booklet(whole), tmp_path / sheet.file_name)
    # Time of this process alone: other work on the machine is not the sheets' fault.
    assert time.process_time() - start < 5.0


def toy_booklet(sheet_input: SheetInput) -> Booklet:
    page = Page(100.0, 100.0)
    page.picture.text(20.0, 50.0, f"{len(sheet_input.the_plan.placements)} things")
    return Booklet("Toy", [page])


@pytest.fixture
def toys() -> Iterator[None]:
    """A toy sheet and a toy file in the catalogue for as long as a test runs."""
    register_sheet(Sheet("toy", "toy sheet", "Toy sheet", "Toy sheet (PDF)", "toy.pdf", toy_booklet))
    register_export(
        Export(
            "tally",
            "Tally of the pieces (TXT)",
            (".txt",),
            lambda sheet_input, path: path.write_text(str(len(sheet_input.the_plan.placements))) and None,
            folder_words="tallies",
            in_folder=lambda sheet_input: [
                FolderFile("tallies/all.txt", lambda path: path.write_text(sheet_input.the_job.name) and None)
            ],
        ),
    )
    yield
    unregister_sheet("toy")
    unregister_export("tally")


@pytest.mark.usefixtures("toys")
def test_a_new_sheet_and_a_new_file_are_found_in_the_folder_and_for_export(tmp_path: Path) -> None:
    whole = given(*belt_plan())
    written = write_sheets(whole, tmp_path)
    assert {tmp_path / "toy.pdf", tmp_path / "tallies" / "all.txt"} <= set(written)
    document = pdfium.PdfDocument(tmp_path / "toy.pdf")
    assert document[0].get_textpage().get_text_range() == f"{len(whole.the_plan.placements)} things"
    document.close()
    assert (tmp_path / "tallies" / "all.txt").read_text() == whole.the_job.name
    offered = everything_to_export()
    assert [offered[key].words for key in ("toy", "tally")] == [
        "Toy sheet (PDF)",
        "Tally of the pieces (TXT)",
    ]
    offered["toy"].write(whole, tmp_path / "other.pdf")
    assert (tmp_path / "other.pdf").read_bytes() == (tmp_path / "toy.pdf").read_bytes()


@pytest.mark.usefixtures("toys")
def test_a_new_sheet_and_a_new_file_are_told_by_the_command_line(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    write_job(tmp_path / "belt.job.json", job)
    for number, hide in enumerate(hides):
        write_hide(tmp_path / f"{number}.hide.json", hide)
    sources = (Source(name=hide.name, file=f"{number}.hide.json") for number, hide in enumerate(hides))
    named = msgspec.structs.replace(
        plan, job=Source(name=job.name, file="belt.job.json"), hides=tuple(sources)
    )
    write_plan(tmp_path / "plan.json", named)
    runner, app = CliRunner(), build_app()
    told = " ".join(runner.invoke(app, ["sheet", "--help"]).output.split())
    assert (
        "Write cut sheet, full-size sheets, job, lesson and toy sheet, pictures, DXF and SVG, tallies of a"
        in told
    )
    done = runner.invoke(app, ["sheet", str(tmp_path / "plan.json"), "--out", str(tmp_path / "sheets")])
    assert done.exit_code == 0, done.output
    assert "lesson-sheet.pdf, toy.pdf, plan-light.svg" in done.output
    assert (tmp_path / "sheets" / "toy.pdf").exists()


def test_the_folder_is_told_in_the_words_of_the_catalogue() -> None:
    assert contents_words() == "cut sheet, full-size sheets, job and lesson sheet, pictures, DXF and SVG"


def test_a_name_is_given_once_only() -> None:
    with pytest.raises(ValueError, match="registered already"):
        register_sheet(SHEETS["cut sheet"])
    assert "toy" not in SHEETS
    assert "tally" not in EXPORTS


def test_what_is_lacking_is_known_before_anything_is_laid_out() -> None:
    plan, job, hides = belt_plan()
    nothing, only_job = SheetInput(None, None, ()), SheetInput(None, job, ())
    assert all(nothing.lacks(needs) for needs in ("plan", "plan on hide", "job", "hide"))
    assert [only_job.lacks(needs) for needs in ("plan", "plan on hide", "job", "hide")] == [
        True,
        True,
        False,
        True,
    ]
    whole = SheetInput(plan, job, hides, hides[0])
    assert not any(whole.lacks(needs) for needs in ("plan", "plan on hide", "job", "hide"))


@pytest.mark.parametrize("text", ["README.md", "resources/guide/guide.md"])
def test_the_readme_and_the_guide_name_every_sheet(text: str) -> None:
    markup = (Path(__file__).parents[2] / text).read_text(encoding="utf-8").lower()
    words = " ".join(markup.replace("*", "").split())
    assert [sheet.words for sheet in SHEETS if sheet.words not in words] == []
