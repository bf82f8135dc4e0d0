"""The command `sizes`, as typed at the bench: what it says, writes and refuses."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import size_commands
from nestplan.errors import NestplanError
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece

JOB = Job(
    name="belts",
    units="in",
    articles=(
        Article(
            name="belt",
            sets=2,
            pieces=(
                Piece(name="front", outline=((0, 0), (110, 0), (110, 130), (0, 130)), pair=True),
                Piece(name="side", outline=((0, 0), (140, 0), (140, 130), (0, 130)), pair=True),
                Piece(name="pocket", outline=((0, 0), (80, 0), (80, 90), (0, 90))),
            ),
        ),
    ),
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    write_job(tmp_path / "belts.job.json", JOB)
    return tmp_path / "belts.job.json"


def _run(*words: str | Path) -> str:
    app = typer.Typer()
    size_commands.register(app)
    done = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_sizes_are_made_told_and_added_to(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "sized.job.json"
    told = _run(
        job, "--drawn", "M", "--size", "L: waist +1 1/2, length +1/2 in, sets 3", "--size", "S: waist -40 mm",
        "--seam", "front right = side left", "--fits", "waist: 28 to 31", "--out", out,
    )  # fmt: skip
    assert "belt L: waist +1 1/2 in, length +1/2 in; fits waist 29 1/2 in to 32 1/2 in; 3 sets" in told
    assert "1 seam compared in every size: the edges differ by at most 0 in" in told
    written = read_job(out)
    assert written.piece("pocket L").ring.max(axis=0).tolist() == [80, 90]
    assert '"waist": "1 1/2 in"' in out.read_text()
    again = tmp_path / "more.job.json"
    assert "belt XL: waist +3 in" in _run(out, "--size", "XL: waist +3", "--rows", "pitch", "--out", again)
    assert [article.name for article in read_job(again).articles] == ["belt M", "belt L", "belt S", "belt XL"]


def test_who_takes_part_may_be_said(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "sized.job.json"
    _run(
        job, "--size", "L: chest +40 mm, torso +20 mm", "--takes", "chest: front (right) = 1/2, pocket",
        "--lengthwise", "torso", "--out", out,
    )  # fmt: skip
    sized = read_job(out)
    assert sized.piece("front L").ring.max(axis=0).tolist() == pytest.approx([130, 150])
    assert sized.piece("pocket L").ring.max(axis=0).tolist() == pytest.approx([120, 110])
    assert sized.piece("side L").ring.max(axis=0).tolist() == pytest.approx([140, 150])


def test_edges_may_be_parts_of_an_outline_and_lines_shares(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "sized.job.json"
    seam = "front (110 mm,0 mm to 110 mm,130 mm) = side (0 mm,130 mm to 0 mm,0 mm)"
    takes = "waist: front (0.2 4/5), side"
    told = _run(job, "--size", "L: waist 1, length 1/2", "--seam", seam, "--takes", takes, "--out", out)
    assert "1 seam compared" in told
    written = read_job(out)
    assert written.articles[0].sizes is not None
    assert written.articles[0].sizes.measures[0].pieces[0].lines == (0.2, 0.8)
    start, end = written.articles[1].seams[0].first[0].start, written.articles[1].seams[0].first[0].end
    assert start is not None
    assert end is not None
    assert end[1] - start[1] == pytest.approx(130 + 12.7)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--size", "L waist 40"), "cannot be read"),
        (("--size", "L: waist"), "is no change of a measure"),
        (("--size", "L: waist 40 furlongs"), "is no unit of length"),
        (("--size", "L: sets 0"), "no number of sets"),
        ((), "No size is asked for"),
        (("--size", "L: waist 1", "--takes", "waist: frnt"), "no piece called 'frnt'"),
        (("--size", "L: waist 1", "--takes", "waist: front (inside)"), "does not say who takes part"),
        (("--size", "L: waist 1", "--takes", "waist: front = 1/0"), "is no share"),
        (("--size", "L: waist 1", "--seam", "front right"), "cannot be read"),
        (("--size", "L: waist 1", "--seam", "front right = side inner"), "names no edge"),
        (
            ("--size", "L: waist 1", "--seam", "front right = pocket left"),
            "front, right edge, 5.12 in; pocket, left edge, ",
        ),
        (("--size", "L: waist 1", "--fits", "waist: 1 to 2 to 3"), "is no range"),
        (("--size", "L: waist 1", "--rows", "both"), "Rows cannot keep"),
        (("--size", "L: waist 1", "--article", "bag"), "No article is called"),
    ],
)
def test_wrong_words_are_told_and_nothing_is_written(
    job: Path, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    with pytest.raises(NestplanError, match=said):
        _run(job, *words, "--out", tmp_path / "no.job.json")
    assert not (tmp_path / "no.job.json").exists()


def test_a_row_put_on_a_drawn_piece_comes_to_its_sizes_and_one_on_a_size_lets_it_go(
    job: Path, tmp_path: Path
) -> None:
    from nestplan.cli import lacing_commands

    app, out = typer.Typer(), tmp_path / "sized.job.json"
    lacing_commands.register(app)
    _run(job, "--drawn", "M", "--size", "L: waist 1, length 1", "--out", out)
    row = (
        "edge",
        "--from",
        "lower right",
        "--to",
        "upper right",
        "--inset",
        "10 mm",
        "--pitch",
        "15 mm",
        "--size",
        "4 mm",
    )
    done = CliRunner().invoke(app, ["row", str(out), "front M", *row], catch_exceptions=False)
    assert "look at it again" not in done.output
    assert len(read_job(out).piece("front L").all_marks) > len(read_job(out).piece("front M").all_marks) > 0
    own = CliRunner().invoke(app, ["row", str(out), "side L", *row], catch_exceptions=False)
    assert "belt L was changed by hand and follows belt M no longer" in own.output
