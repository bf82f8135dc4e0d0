"""A lined, laced belt from a drawing to its sheets, as someone new does it: drawn once, made in three sizes, planned on
two hides, all by commands.

Six panels (three pairs) with two rows of eyelets, laced before and behind, spots on the outer alone, a lining of other
leather, overcut on both. The drawing is our own.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from nestplan.cli.app import build_app
from nestplan.model.files import read_job, read_plan
from nestplan.model.job import Job
from nestplan.model.layer_work import work_after_trimming, work_at_table

PANELS = """<svg xmlns="http://www.w3.org/2000/svg" width="440mm" height="160mm" viewBox="0 0 440 160">
 <g id="outline">
  <path id="front" d="M10,20 L120,20 L124,140 Q67,150 10,140 Z"/>
  <path id="side" d="M150,20 L280,20 L288,140 Q215,152 142,140 Z"/>
  <path id="back" d="M310,20 L420,20 L420,140 Q363,150 306,140 Z"/>
 </g>
 <g id="spot">
  <circle cx="65" cy="60" r="2"/><circle cx="65" cy="80" r="2"/><circle cx="65" cy="100" r="2"/>
  <circle cx="215" cy="70" r="2"/><circle cx="200" cy="80" r="2"/><circle cx="230" cy="80" r="2"/>
 </g>
</svg>"""

LACED = (
    "--gap",
    "40 mm",
    "--closed",
    "10 mm",
    "--widest",
    "70 mm",
    "--lace",
    "3/16 in",
    "--lace-layer",
    "outer",
)
EYELETS = ("--inset", "12 mm", "--pitch", "18 mm", "--ends", "8 mm", "--size", "5 mm", "--for", "eyelet 5 mm")

COMMANDS: tuple[tuple[str, ...], ...] = (
    (
        "pieces", "panels.svg", "--out", "belt.job.json", "--pairs", "--overcut", "6 mm", "--overcut-wish", "12 mm",
        "--layer", "outer = cow side, 2-2.4 mm", "--layer", "lining = goat skin, 0.8-1 mm",
    ),
    ("row", "belt.job.json", "front", "eyelets", "--from", "upper left", "--to", "lower left", *EYELETS),
    ("row", "belt.job.json", "back", "eyelets", "--from", "lower right", "--to", "upper right", *EYELETS),
    ("lacing", "belt.job.json", "before", "--row", "front:eyelets", *LACED),
    ("lacing", "belt.job.json", "behind", "--row", "back:eyelets", *LACED),
    (
        "sizes", "belt.job.json", "--out", "sizes.job.json", "--drawn", "M",
        "--size", "S: waist -60 mm, length -10 mm", "--size", "L: waist +60 mm, length +10 mm, sets 2",
        "--seam", "front right = side left", "--seam", "side right = back left",
    ),
    ("measure", "side", "--out", "cow.hide.json", "--leather", "cow side", "--area", "22 ft2", "--thickness", "2 mm"),
    ("measure", "goat", "--out", "goat.hide.json", "--leather", "goat skin", "--area", "8 ft2", "--thickness", "1 mm"),
    ("plan", "sizes.job.json", "cow.hide.json", "goat.hide.json", "--out", "plan", "--passes", "0", "--workers", "1"),
    ("sheet", "plan/plan.json", "--out", "sheets"),
)  # fmt: skip
"""Everything that is typed, in order."""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder in which all commands were given."""
    folder = tmp_path_factory.mktemp("bench")
    (folder / "panels.svg").write_text(PANELS)
    app = build_app()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for words in COMMANDS:
            done = CliRunner().invoke(app, list(words), catch_exceptions=False)
            assert done.exit_code == 0, (words, done.output)
    return folder


def _hole_counts(job: Job) -> list[int]:
    return [job.worked_joins(article)[0].pairs for article in job.articles]


def test_it_takes_fewer_than_fifteen_commands(bench: Path) -> None:
    assert len(COMMANDS) < 15
    assert (bench / "sheets" / "job-sheet.pdf").is_file()


def test_every_size_is_an_article_with_a_range_that_follows_the_waist(bench: Path) -> None:
    job = read_job(bench / "sizes.job.json")
    assert [(article.name, article.sets) for article in job.articles] == [
        ("belt M", 1),
        ("belt S", 1),
        ("belt L", 2),
    ]
    ranges = [article.wearer_range for article in job.articles]
    worn = [each.worn for each in ranges if each is not None]
    assert worn == pytest.approx([worn[0], worn[0] - 60.0, worn[0] + 60.0], abs=0.01)
    # By hand: two joins of 40 mm, and twice the panels at half their length.
    panels = sum(piece.around_length for piece in job.articles[0].pieces)
    assert worn[0] == pytest.approx(2 * panels + 2 * 40.0)


def test_eyelets_keep_pitch_and_inset_and_their_number_follows_the_length(bench: Path) -> None:
    job = read_job(bench / "sizes.job.json")
    medium, small, large = _hole_counts(job)
    assert small < medium < large
    for article in job.articles:
        row = article.pieces[0].rows[0]
        assert (row.pitch, row.inset) == (18.0, 12.0)
        joins = job.worked_joins(article)
        assert joins[0].pairs == joins[1].pairs


def test_spots_are_the_outers_alone_and_eyelets_go_through_both_layers(bench: Path) -> None:
    job = read_job(bench / "sizes.job.json")
    for name in ("front S", "front M", "front L"):
        piece = job.piece(name)
        assert len(work_at_table(piece, "outer").marks) == 3
        assert not work_at_table(piece, "lining")
        assert all(mark.do == "punch" for mark in work_after_trimming(piece).marks)


def test_what_was_typed_in_inches_is_written_so_in_every_size(bench: Path) -> None:
    assert (bench / "belt.job.json").read_text().count('"3/16 in"') == 2
    assert (bench / "sizes.job.json").read_text().count('"3/16 in"') == 6


def test_all_of_it_is_laid_each_layer_on_its_own_leather(bench: Path) -> None:
    plan = read_plan(bench / "plan" / "plan.json")
    assert not plan.unplaced
    assert {(placed.layer, placed.hide) for placed in plan.placements} == {
        ("outer", "cow"),
        ("lining", "goat"),
    }
    sets = plan.figures.sets if plan.figures is not None else ()
    assert [each.whole for each in sets] == [1, 1, 2]


def test_the_job_sheet_says_what_each_size_fits(bench: Path) -> None:
    pdfium = pytest.importorskip("pypdfium2")
    document = pdfium.PdfDocument(bench / "sheets" / "job-sheet.pdf")
    words = " ".join(document[number].get_textpage().get_text_bounded() for number in range(len(document)))
    job = read_job(bench / "sizes.job.json")
    for article in job.articles:
        fits = article.wearer_range
        assert fits is not None
        assert f"{fits.closed:.1f} mm to {fits.widest:.1f} mm round".replace(".0 mm", " mm") in words
    for name in ("front S", "side L", "back M"):
        assert name in words
