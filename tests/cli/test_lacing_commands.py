"""Rows and lacing on the command line, from a drawn piece to the lace it takes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import lacing_commands
from nestplan.errors import InputError, UnitError
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from tests.small_jobs import SQUARE, laced_job

Run = Callable[..., str]
RIM = ("--inset", "6 mm", "--pitch", "8 mm", "--size", "2 mm")


@pytest.fixture
def run() -> Run:
    app = typer.Typer()
    lacing_commands.register(app)

    def call(*arguments: object) -> str:
        result = CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)
        return result.output

    return call


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "belt.job.json"
    front = Piece(name="front", outline=SQUARE, pair=True, around=((0.0, 50.0), (100.0, 50.0)))
    back = Piece(name="back", outline=SQUARE)
    write_job(path, Job(name="belt", units="in", articles=(Article(name="b", sets=2, pieces=(front, back)),)))
    return path


def test_from_a_drawn_piece_to_a_laced_join_in_two_commands(run: Run, job: Path) -> None:
    edge = ("--from", "lower right", "--to", "upper right", "--inset", "7/16 in", "--pitch", "5/8 in")
    told = run("row", job, "front", "eyelets", *edge, "--size", "3/16 in", "--for", "eyelet 3/16 in")
    # hand count: 100 - 2 x 11.1125 = 77.775 mm hold four steps of 15.875
    assert "front, eyelets: 5 × hole to punch of 3/16 in, 5/8 in apart, 7/16 in from the edge" in told
    lacing = (
        "--row",
        "front:eyelets",
        "--gap",
        "1 in",
        "--widest",
        "2 in",
        "--lace",
        "3/16 in",
        "--tail",
        "6 in",
    )
    told = run("lacing", job, "before", *lacing)
    assert "b: 7 7/8 in round with its joins closed to 9 7/8 in at their widest, 8 7/8 in as worn" in told
    assert "criss-cross, 5 pairs of holes" in told
    read = read_job(job)
    assert read.articles[0].strips[0].laces == "before"
    # hand count in inches: 2 + 7/8 = 2.875 across; 2.875 + 8 x √(2.875² + 0.625²) + 12 of tails = 38.41
    assert read.articles[0].strips[0].length / 25.4 == pytest.approx(38.41, abs=0.05)


def test_rows_and_lacing_are_listed(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "laced.job.json"
    write_job(path, laced_job())
    rows = run("row", path).splitlines()
    assert [line.split(":")[0] for line in rows] == [
        "front, front edge",
        "front, side edge",
        "back, left edge",
        "back, upper edge",
    ]
    assert len(run("row", path, "back").splitlines()) == 2
    told = run("lacing", path)
    for words in (
        "before: front to its mate",
        "beside: front to back, 2 times in a set, spiral",
        "above: back, whip",
    ):
        assert words in told


def test_nothing_there_is_said(run: Run, job: Path) -> None:
    assert "No rows yet" in run("row", job)
    assert "Nothing is laced yet" in run("lacing", job)


def test_a_row_round_a_piece_and_one_on_a_line(run: Run, job: Path) -> None:
    run("row", job, "back", "rim", "--from", "left", "--round", *RIM)
    studs = (
        "--line",
        "--from",
        "20 mm,20 mm",
        "--to",
        "80 mm, 20mm",
        "--number",
        "4",
        "--kind",
        "mark",
        "--for",
        "stud",
    )
    told = run("row", job, "back", "studs", *studs)
    assert "4 × spot to mark" in told
    assert "on a line" in told
    back = read_job(job).piece("back")
    assert back.row("rim").end is None
    assert [mark.at for mark in back.marks_of_rows[1]] == [(20, 20), (40, 20), (60, 20), (80, 20)]


def test_a_changed_row_tells_what_followed_and_what_to_look_at(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "laced.job.json"
    write_job(path, laced_job())
    told = run("row", path, "front", "side edge", "--number", "8")
    assert "with as many holes now: left edge of back" in told
    told = run("row", path, "front", "front edge", "--inset", "6")
    assert "look at it again: front, row 'front edge': 6 of 6 holes" in told


def test_they_are_taken_away_and_written_elsewhere(run: Run, tmp_path: Path) -> None:
    path, out = tmp_path / "laced.job.json", tmp_path / "other.job.json"
    write_job(path, laced_job())
    run("lacing", path, "before", "--remove", "--out", out)
    assert read_job(path) == laced_job()
    assert [join.name for join in read_job(out).articles[0].laced_joins] == ["beside"]
    run("row", out, "front", "front edge", "--remove")
    assert [row.name for row in read_job(out).piece("front").rows] == ["side edge"]
    with pytest.raises(InputError, match="--replace"):
        run("row", path, "front", "side edge", "--number", "4", "--out", out)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("row", "JOB", "front", "e", "--from", "bottom", "--number", "3"), "'bottom' is no spot"),
        (("row", "JOB", "front", "e", "--kind", "star", "--number", "3"), "There is no 'star'"),
        (("row", "JOB", "sleeve"), "No piece is called 'sleeve'"),
        (("row", "JOB", "front", "--from", "left", "--number", "3"), "not said what it is called"),
        (("lacing", "JOB", "--row", "front:e"), "not said what it is called"),
        (("lacing", "JOB", "x", "--row", "front"), "'front' is no row"),
        (("lacing", "JOB", "x", "--row", "front:e", "--skip", "a"), "'a' are no holes"),
        (("lacing", "JOB", "x", "--row", "front:e", "--finish", "knot"), "There is no 'knot'"),
        (("lacing", "JOB", "x"), "Nothing laced is called 'x'"),
    ],
)
def test_what_cannot_be_read_is_said(run: Run, job: Path, arguments: tuple[str, ...], words: str) -> None:
    with pytest.raises(InputError, match=words):
        run(*(job if each == "JOB" else each for each in arguments))


def test_a_length_without_sense_is_refused(run: Run, job: Path) -> None:
    with pytest.raises(UnitError):
        run("row", job, "front", "e", "--from", "left", "--inset", "wide", "--number", "3")


def test_pieces_that_go_round_the_wearer_are_said_and_others_are_told(run: Run, tmp_path: Path) -> None:
    path, out = tmp_path / "laced.job.json", tmp_path / "round.job.json"
    bare = laced_job()
    article = bare.articles[0]
    pieces = tuple(msgspec.structs.replace(piece, around=()) for piece in article.pieces)
    write_job(
        path, msgspec.structs.replace(bare, articles=(msgspec.structs.replace(article, pieces=pieces),))
    )
    assert "round" not in run("lacing", path).splitlines()[0]
    told = run("lacing", path, "--around", "front", "--out", out)
    assert (
        "290 mm round with its joins closed to 310 mm at their widest, 310 mm as worn, without back" in told
    )
    assert "490 mm round with its joins closed" in run("lacing", out, "--around", "back")


def test_bare_numbers_are_in_the_unit_of_the_job(run: Run, job: Path) -> None:
    edge = ("--from", "100,0", "--to", "100,100", "--inset", "10", "--pitch", "16", "--size", "5")
    in_mm = job.with_name("mm.job.json")
    write_job(in_mm, msgspec.structs.replace(read_job(job), units="mm"))
    run("row", in_mm, "front", "eyelets", *edge)
    row = read_job(in_mm).piece("front").rows[0]
    assert (row.start, row.end, row.inset, row.pitch, row.diameter) == ((100, 0), (100, 100), 10, 16, 5)
    assert '"inset": 10.0' in in_mm.read_text()

    # 1 1/2 in from the lower edge to 3 in: the same corner of a square of 100 mm is at 3.937 in
    edge = (
        "--from",
        "3.937, 1 1/2",
        "--to",
        "3.937,3",
        "--inset",
        "7/16",
        "--pitch",
        "0.5",
        "--size",
        "3/16",
    )
    run("row", job, "front", "eyelets", *edge)
    row = read_job(job).piece("front").rows[0]
    assert row.start == pytest.approx((100.0, 38.1), abs=0.01)
    assert row.end == pytest.approx((100.0, 76.2), abs=0.01)
    assert (row.inset, row.pitch, row.diameter) == pytest.approx((11.1125, 12.7, 4.7625))
    assert '"7/16 in"' in job.read_text()
    run("row", job, "front", "eyelets", "--inset", "12 mm")
    assert read_job(job).piece("front").rows[0].inset == 12.0

    run("lacing", job, "before", "--row", "front:eyelets", "--gap", "1", "--tail", "6", "--lace", "1/8")
    article = read_job(job).articles[0]
    assert (article.laced_joins[0].gap, article.laced_joins[0].tail) == pytest.approx((25.4, 152.4))
    assert article.strips[0].width == pytest.approx(3.175)


def test_what_cannot_be_is_told_in_the_unit_of_the_job(run: Run, job: Path) -> None:
    edge = ("--from", "lower right", "--to", "upper right", "--pitch", "1", "--size", "1/8")
    with pytest.raises(InputError, match="nowhere wide enough for a row 3 in from its edge"):
        run("row", job, "front", "eyelets", *edge, "--inset", "3")
    run("row", job, "front", "eyelets", *edge, "--inset", "1/2")
    with pytest.raises(InputError, match="from 2 in closed over 1 in worn to 1 in at the widest"):
        run("lacing", job, "before", "--row", "front:eyelets", "--gap", "1", "--closed", "2")


def test_a_row_takes_the_shorter_way_unless_it_is_said_which(run: Run, job: Path) -> None:
    figures = ("--inset", "1/2", "--pitch", "1/2", "--size", "1/8")
    edge = ("--from", "lower left", "--to", "upper left")
    run("row", job, "front", "side", *edge, *figures)
    row = read_job(job).piece("front").row("side")
    assert row.clockwise
    # hand count: 100 - 2 x 12.7 = 74.6 mm hold five steps of 12.7
    assert len(read_job(job).piece("front").marks_of_rows[0]) == 6
    run("row", job, "front", "side", "--inset", "5/8")
    assert read_job(job).piece("front").row("side").clockwise
    run("row", job, "front", "side", *edge, "--counter-clockwise")
    assert not read_job(job).piece("front").row("side").clockwise
    run(
        "row",
        job,
        "front",
        "line",
        "--line",
        "--from",
        "1,1",
        "--to",
        "3,1",
        "--number",
        "3",
        "--size",
        "1/8",
    )
    run("row", job, "front", "line", "--from", "3,1", "--to", "1,1")
    assert not read_job(job).piece("front").row("line").clockwise
    with pytest.raises(InputError, match="No piece is called 'hat'"):
        run("row", job, "hat", "side", "--from", "1,1", "--to", "3,1", *figures)


def test_what_a_join_does_not_have_is_refused_and_a_name_forgotten_changes_nothing(
    run: Run, job: Path
) -> None:
    write_job(job, laced_job())
    before = job.read_bytes()
    with pytest.raises(InputError, match="a laced join, which has no stitch"):
        run("lacing", job, "before", "--stitch", "whip")
    with pytest.raises(InputError, match="a laced edge, which has no gap"):
        run("lacing", job, "above", "--gap", "3")
    with pytest.raises(InputError, match="NAME"):
        run("lacing", job, "--around", "front", "--gap", "3")
    assert job.read_bytes() == before


def test_a_row_done_when_nothing_is_done_is_refused_and_the_job_stays(run: Run, job: Path) -> None:
    write_job(job, laced_job())
    before = job.read_bytes()
    with pytest.raises(InputError, match="none of the words allowed"):
        run("row", job, "back", "left edge", "--when", "some day", "--replace")
    assert job.read_bytes() == before


def test_a_refused_change_writes_nothing_of_what_else_was_asked(run: Run, job: Path) -> None:
    bare = laced_job()
    article = bare.articles[0]
    pieces = tuple(msgspec.structs.replace(piece, around=()) for piece in article.pieces)
    write_job(job, msgspec.structs.replace(bare, articles=(msgspec.structs.replace(article, pieces=pieces),)))
    before = job.read_bytes()
    with pytest.raises(InputError, match="Nothing laced is called"):
        run("lacing", job, "strange", "--around", "front", "--remove")
    with pytest.raises(InputError, match="which has no stitch"):
        run("lacing", job, "before", "--around", "front", "--stitch", "whip")
    assert job.read_bytes() == before
    run("lacing", job, "before", "--around", "front", "--gap", "12 mm")
    changed = read_job(job).articles[0]
    assert {piece.name for piece in changed.pieces if piece.around} == {"front"}
