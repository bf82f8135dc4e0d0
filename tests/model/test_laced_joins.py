"""Laced joins and edges of a job: the lace they take, the wearer's range, and what is refused."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.model.files import content_hash, read_job, to_text, write_job
from nestplan.model.job import Article, Job
from nestplan.model.laced_joins import LacedEdge, LacedJoin, LacedRow, wearer_range
from nestplan.model.piece import Piece, Row, Strip
from tests.small_jobs import laced_job


def _lace(job: Job, name: str) -> Strip:
    return job.strip(name)


def test_a_lace_is_as_long_as_its_join_takes_at_the_widest_opening() -> None:
    """Hand count: 30 + 12 + 12 = 54 across; 66 / 5 = 13.2 along; criss-cross with six pairs, through 2.4 + 1.0 mm
    at twelve holes, two tails of 100."""
    expected = 54.0 + 10 * math.hypot(54.0, 13.2) + 12 * 3.4 + 200.0
    lace = _lace(laced_job(), "lace")
    assert lace.length == math.ceil(expected)
    assert (lace.use, lace.count) == ("lace", 1)
    wider = _lace(laced_job(widest=50.0), "lace")
    assert wider.length == math.ceil(74.0 + 10 * math.hypot(74.0, 13.2) + 12 * 3.4 + 200.0)


def test_a_join_that_is_in_a_set_twice_has_two_laces() -> None:
    """Hand count: closed up 10 + 10 = 20 across, 70 / 4 = 17.5 along; spiral with five pairs, through 3.4 on one side
    and 2.4 on the other, two hidden tails of 45."""
    lace = _lace(laced_job(), "side lace")
    assert lace.length == math.ceil(5 * 20 + 4 * math.hypot(20, 17.5) + 5 * (3.4 + 2.4) + 90.0)
    assert lace.count == 2


def test_an_edge_is_laced_by_its_holes_and_its_stack() -> None:
    """Hand count: 200 - 2 x 4 = 192 mm of line, 24 steps of 8; whip round 4 + 2.4 + 4 = 10.4 mm; 25 holes of 2.4."""
    job = laced_job()
    (edge,) = job.worked_edges(job.articles[0])
    assert (edge.holes, edge.thickness) == (25, 2.4)
    assert _lace(job, "edge lace").length == math.ceil(24 * math.hypot(10.4, 8.0) + 25 * 2.4 + 90.0)


def test_the_length_follows_the_holes_whatever_the_file_says(tmp_path: Path) -> None:
    job = laced_job()
    path = tmp_path / "laced.job.json"
    write_job(path, job)
    assert read_job(path) == job
    said = json.loads(path.read_text())
    said["articles"][0]["strips"][0]["length"] = 5.0
    said["articles"][0]["pieces"][0]["rows"][0]["number"] = 5
    path.write_text(json.dumps(said))
    five = 54.0 + 8 * math.hypot(54.0, 66.0 / 4) + 10 * 3.4 + 200.0
    assert _lace(read_job(path), "lace").length == math.ceil(five)
    assert content_hash(read_job(path)) != content_hash(job)


def test_a_job_that_says_no_length_hashes_as_the_one_that_does(tmp_path: Path) -> None:
    path = tmp_path / "laced.job.json"
    said = json.loads(to_text(laced_job()))
    for strip in said["articles"][0]["strips"]:
        del strip["length"]
    path.write_text(json.dumps(said))
    assert content_hash(read_job(path)) == content_hash(laced_job())


def test_typed_laces_mean_what_they_meant() -> None:
    typed = Strip(name="typed", width=6.0, length=1070.0, use="lace", count=3, layer="outer")
    job = laced_job()
    article = msgspec.structs.replace(job.articles[0], strips=(*job.articles[0].strips, typed))
    again = msgspec.structs.replace(job, articles=(article,))
    assert _lace(again, "typed") == typed
    with pytest.raises(InputError, match="at least as long as wide"):
        Strip(name="none", width=6.0)


def test_skipped_holes_are_left_out_and_their_places_kept() -> None:
    skip = (LacedRow(piece="front", row="front edge", skip=(2, 5)),)
    job = laced_job(rows=skip)
    (worked, _) = job.worked_joins(job.articles[0])
    left, right = worked.columns(30.0)
    assert worked.pairs == 4
    np.testing.assert_allclose(left, [(-12, 0), (-12, 26.4), (-12, 39.6), (-12, 66)], atol=1e-3)
    np.testing.assert_allclose(right, [(42, 0), (42, 26.4), (42, 39.6), (42, 66)], atol=1e-3)


def test_a_gap_that_spreads_is_wider_at_the_last_pair() -> None:
    job = laced_job(spread=20.0)
    left, right = job.worked_joins(job.articles[0])[0].columns(30.0)
    np.testing.assert_allclose((right - left)[:, 0], 54.0 + 20.0 * np.arange(6) / 5, atol=1e-3)


def test_rows_of_unlike_length_meet_in_their_middles() -> None:
    job = laced_job()
    pieces = {piece.name: piece for piece in job.articles[0].pieces}
    shorter = msgspec.structs.replace(pieces["back"].rows[0], ends=7.0)
    back = msgspec.structs.replace(pieces["back"], rows=(shorter, pieces["back"].rows[1]))
    article = msgspec.structs.replace(job.articles[0], pieces=(pieces["front"], back))
    worked = msgspec.structs.replace(job, articles=(article,)).worked_joins(article)[1]
    np.testing.assert_allclose(worked.along[0], 17.5 * np.arange(5), atol=1e-3)
    np.testing.assert_allclose(worked.along[1], 7.0 + 14.0 * np.arange(5), atol=1e-3)


def test_a_row_laced_backward_begins_at_its_last_hole() -> None:
    job = laced_job()
    front, back = job.articles[0].laced_joins[1].rows
    rows = (front, msgspec.structs.replace(back, skip=(2,), backward=True))
    joins = (msgspec.structs.replace(job.articles[0].laced_joins[1], rows=rows),)
    rows = (msgspec.structs.replace(front, skip=(4,)), rows[1])
    joins = (msgspec.structs.replace(joins[0], rows=rows),)
    article = msgspec.structs.replace(job.articles[0], laced_joins=joins, strips=())
    (worked,) = job.worked_joins(article)
    assert worked.numbers == ((1, 2, 3, 5), (5, 4, 3, 1))
    np.testing.assert_allclose(worked.along[0], [0, 17.5, 35, 70], atol=1e-3)
    np.testing.assert_allclose(worked.along[1], [0, 17.5, 35, 70], atol=1e-3)
    np.testing.assert_allclose(worked.skipped[1], [52.5], atol=1e-3)


def test_the_wearer_s_range_runs_from_closed_to_widest() -> None:
    """Hand count: two fronts of 140 and a back of 200 are 480; one join of 10, 30, 50 and two of 0."""
    found = laced_job(widest=50.0).articles[0].wearer_range
    assert found is not None
    assert (found.closed, found.worn, found.widest) == (490.0, 510.0, 530.0)
    spread = laced_job(spread=8.0).articles[0].wearer_range
    assert spread is not None
    assert (spread.closed, spread.worn, spread.widest) == (494.0, 514.0, 514.0)
    assert wearer_range(laced_job().articles[0].pieces, ()) is None


def _article(joins: Any = (), edges: Any = (), pair: bool = True) -> Article:
    outline = ((0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0))

    def row(name: str, number: int, **fields: Any) -> Row:
        given = {"start": (100.0, 0.0), "end": (100.0, 80.0), "inset": 10.0, "diameter": 4.0}
        return Row(name=name, number=number, **(given | fields))

    rows = (row("six", 6), row("five", 5, inset=20.0), row("spots", 5, do="mark", diameter=None, inset=30.0))
    return Article(
        name="belt",
        sets=1,
        pieces=(Piece(name="front", outline=outline, pair=pair, rows=rows),),
        laced_joins=joins,
        laced_edges=edges,
    )


def _join(*rows: LacedRow, **fields: Any) -> LacedJoin:
    return LacedJoin(name="join", rows=rows, **fields)


def _row(row: str, piece: str = "front", **fields: Any) -> LacedRow:
    return LacedRow(piece=piece, row=row, **fields)


@pytest.mark.parametrize(
    ("joins", "place", "words"),
    [
        ((_join(_row("six"), _row("five")),), "laced_joins[0].rows", "6 holes in 'front' and 5 in 'front'"),
        ((_join(_row("six", "side")),), "laced_joins[0].rows[0].piece", "no piece 'side'"),
        ((_join(_row("seven")),), "laced_joins[0].rows[0].row", "no row 'seven'"),
        ((_join(_row("spots")),), "laced_joins[0].rows[0].row", "has spots"),
        ((_join(_row("six", skip=(7,))),), "laced_joins[0].rows[0].skip", "holes 1 to 6"),
        ((_join(_row("six", skip=(1, 2, 3, 4, 5))),), "laced_joins[0].rows", "fewer than two pairs"),
        ((_join(_row("six")), _join(_row("five"))), "laced_joins", "stands twice"),
    ],
)
def test_what_cannot_be_laced_is_refused_with_its_place(joins: Any, place: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as raised:
        _article(joins)
    assert raised.value.place == place
    assert raised.value.mend


def test_rows_match_once_a_hole_is_skipped() -> None:
    article = _article((_join(_row("six", skip=(3,)), _row("five")),))
    assert Job(name="j", articles=(article,)).worked_joins(article)[0].pairs == 5


def test_a_single_row_needs_a_mate() -> None:
    with pytest.raises(InputError, match="is no pair") as raised:
        _article((_join(_row("six")),), pair=False)
    assert raised.value.place == "laced_joins[0].rows"


@pytest.mark.parametrize(
    ("fields", "place", "words"),
    [
        ({"gap": 5.0, "closed": 10.0}, "gap", "from 10 mm closed over 5 mm worn"),
        ({"gap": 30.0, "widest": 20.0}, "gap", "to 20 mm at the widest"),
        ({"path": "star"}, "path", "no path called"),
        ({"tail": -1.0}, "tail", "between 0"),
        ({"count": 0}, "count", "between 1"),
    ],
)
def test_a_join_with_figures_that_cannot_be_is_refused(
    fields: dict[str, Any], place: str, words: str
) -> None:
    with pytest.raises(InputError, match=words) as raised:
        _join(_row("six"), **fields)
    assert raised.value.place == place


def test_an_edge_needs_its_row_and_a_known_stitch() -> None:
    with pytest.raises(InputError, match="no row 'hem'"):
        _article(edges=(LacedEdge(name="e", piece="front", row="hem"),))
    with pytest.raises(InputError, match="none of the words"):
        LacedEdge(name="e", piece="front", row="six", stitch="sailor")


def test_a_lace_for_a_join_that_is_not_there_is_refused() -> None:
    job = laced_job()
    with pytest.raises(InputError, match="no laced join or edge 'behind'") as raised:
        msgspec.structs.replace(job.articles[0], strips=(Strip(name="lace", width=5.0, laces="behind"),))
    assert raised.value.place == "strips[0].laces"


def test_without_a_stated_thickness_none_is_reckoned_and_that_is_known() -> None:
    job = msgspec.structs.replace(
        laced_job(),
        layers=tuple(msgspec.structs.replace(layer, thickness=None) for layer in laced_job().layers),
    )
    (worked, _) = job.worked_joins(job.articles[0])
    assert worked.thickness == (None, None)
    assert _lace(job, "lace").length == math.ceil(54.0 + 10 * math.hypot(54.0, 13.2) + 200.0)


def test_a_piece_that_goes_takes_its_joins_and_leaves_the_laces_their_length() -> None:
    job = laced_job()
    article = job.articles[0]
    kept = article.keeping((article.pieces[0],), article.strips)
    assert [join.name for join in kept.laced_joins] == ["before"]
    assert kept.laced_edges == ()
    assert [strip.laces for strip in kept.strips] == ["before", "", ""]
    assert kept.strips[1].length == _lace(job, "side lace").length


def test_a_line_around_has_two_ends() -> None:
    with pytest.raises(InputError, match="two points or more"):
        Piece(name="p", outline=((0, 0), (10, 0), (10, 10)), around=((0.0, 5.0),))
