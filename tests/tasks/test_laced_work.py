"""Rows and laced joins put into a job file and taken out of it."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.laced_joins import LacedRow
from nestplan.model.piece import Piece, Strip
from nestplan.tasks.laced_work import (
    LaceWish,
    facing_rows,
    line_across,
    put_around,
    put_laced,
    put_row,
    remove_laced,
    remove_row,
    spot_on_edge,
)
from tests.small_jobs import SQUARE, laced_job

TENT = Piece(name="tent", outline=((0, 0), (80, 0), (80, 60), (40, 100), (0, 60)))


@pytest.fixture
def laced(tmp_path: Path) -> Path:
    path = tmp_path / "laced.job.json"
    write_job(path, laced_job())
    return path


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    path = tmp_path / "plain.job.json"
    pieces = (Piece(name="front", outline=SQUARE, pair=True), Piece(name="back", outline=SQUARE))
    write_job(path, Job(name="plain", articles=(Article(name="belt", sets=1, pieces=pieces),)))
    return path


def _lace(job: Job, name: str) -> Strip:
    return job.strip(name)


@pytest.mark.parametrize(
    ("name", "spot"),
    [("lower left", (0, 0)), ("right", (80, 50)), ("upper middle", (40, 100)), ("upper right", (60, 80))],
)
def test_a_spot_has_the_name_of_its_place_and_lies_on_the_edge(name: str, spot: tuple[float, float]) -> None:
    assert spot_on_edge(TENT, name) == pytest.approx(spot)


def test_another_name_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError, match="lower left, lower middle, lower right, left, right"):
        spot_on_edge(TENT, "bottom")


def test_a_row_is_added_then_changed_where_it_is_said(plain: Path) -> None:
    added = put_row(
        plain,
        "front",
        "edge",
        {"start": (100.0, 0.0), "end": (100.0, 100.0), "inset": 10.0, "pitch": 16.0, "diameter": 4.0},
    )
    assert len(added.piece.marks_of_rows[0]) == 6
    changed = put_row(plain, "front", "edge", {"number": 4})
    assert (changed.piece.rows[0].number, changed.piece.rows[0].pitch) == (4, None)
    assert read_job(plain) == changed.job
    assert not remove_row(plain, "front", "edge").piece("front").rows


def test_a_row_that_is_not_there_needs_a_start(plain: Path) -> None:
    with pytest.raises(InputError, match="has no row 'edge' yet"):
        put_row(plain, "front", "edge", {"number": 4})
    with pytest.raises(InputError, match="No piece is called 'sleeve'"):
        put_row(plain, "sleeve", "edge", {"number": 4})


def test_what_is_written_elsewhere_leaves_the_file_alone(plain: Path, tmp_path: Path) -> None:
    before = plain.read_bytes()
    out = tmp_path / "other.job.json"
    put_row(
        plain,
        "back",
        "edge",
        {"start": (0.0, 0.0), "end": None, "number": 8, "do": "mark", "inset": 9.0},
        out=out,
    )
    assert plain.read_bytes() == before
    assert len(read_job(out).piece("back").all_marks) == 8


def test_a_join_is_added_with_its_lace_then_changed_and_taken_away(laced: Path) -> None:
    rows = (LacedRow(piece="front", row="front edge", skip=(2, 5)),)
    job, article = put_laced(laced, "second", {"rows": rows, "gap": 20.0}, lace=LaceWish(4.0, "lining"))
    strip = _lace(job, "lace second")
    assert (strip.laces, strip.width, strip.layer, strip.use) == ("second", 4.0, "lining", "lace")
    assert [join.name for join in article.laced_joins] == ["before", "beside", "second"]
    wider, _ = put_laced(laced, "second", {"gap": 60.0}, lace=LaceWish(5.0))
    assert _lace(wider, "lace second").length > strip.length
    assert (_lace(wider, "lace second").width, _lace(wider, "lace second").layer) == (5.0, "lining")
    after = remove_laced(laced, "second")
    assert _lace(after, "lace second").laces == ""
    assert _lace(after, "lace second").length == _lace(wider, "lace second").length
    assert read_job(laced) == after


def test_an_edge_is_added_and_changed(laced: Path) -> None:
    given = {"piece": "front", "row": "front edge"}
    job, _ = put_laced(laced, "rim", given, edge=True, lace=LaceWish(3.0))
    running, article = put_laced(laced, "rim", {"stitch": "running"})
    assert _lace(running, "lace rim").length < _lace(job, "lace rim").length
    assert article.laced_edges[-1].stitch == "running"


def test_what_is_not_laced_yet_needs_its_rows(laced: Path, plain: Path) -> None:
    with pytest.raises(InputError, match=r"'before', 'beside', 'above'"):
        put_laced(laced, "hem", {"gap": 3.0})
    with pytest.raises(InputError, match="no laced joins yet"):
        remove_laced(plain, "hem")


def test_a_line_across_runs_from_edge_to_edge_at_half_height(laced: Path) -> None:
    assert line_across(TENT) == ((0.0, 50.0), (80.0, 50.0))
    arrow = Piece(name="arrow", outline=((0, 0), (60, 30), (0, 60), (20, 30)))
    assert line_across(arrow) == ((20.0, 30.0), (60.0, 30.0))
    job = put_around(laced, ("front", "back"))
    assert job.articles[0].wearer_range == laced_job().articles[0].wearer_range
    with pytest.raises(InputError, match="No piece is called 'sleeve'"):
        put_around(laced, ("sleeve",))


def test_rows_that_run_against_each_other_are_laced_the_same_way_up(laced: Path) -> None:
    article = laced_job().articles[0]
    side, left = LacedRow(piece="front", row="side edge"), LacedRow(piece="back", row="left edge")
    assert facing_rows(article, side, left) == (side, left)
    down = msgspec.structs.replace(
        article.pieces[1].rows[0], start=(0.0, 90.0), end=(0.0, 0.0), clockwise=False
    )
    put_row(laced, "back", "left edge", {"start": down.start, "end": down.end, "clockwise": False})
    _, changed = put_laced(laced, "sides", {"rows": (side, left)})
    assert [row.backward for row in changed.laced_joins[-1].rows] == [False, True]
    assert facing_rows(article, side, LacedRow(piece="back", row="none"))[1].row == "none"
