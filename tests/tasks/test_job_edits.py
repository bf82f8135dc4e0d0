from __future__ import annotations

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.model import Article, Job, Piece, Row, Strip
from nestplan.tasks.job_edits import with_piece, with_row
from tests.small_jobs import SQUARE, laced_job

JOB = Job(
    name="both",
    articles=(
        Article(name="a", sets=1, pieces=(Piece(name="square", outline=SQUARE),)),
        Article(name="b", sets=2, strips=(Strip(name="strap", width=20.0, length=300.0),)),
    ),
)


def test_a_piece_is_replaced_where_it_stands_also_under_another_name() -> None:
    other = Piece(name="panel", outline=SQUARE, pair=True)
    changed = with_piece(JOB, "square", other)
    assert changed.articles[0].pieces == (other,)
    assert changed.articles[1] == JOB.articles[1]


def test_a_strip_is_replaced_and_nothing_where_no_name_fits() -> None:
    wider = msgspec.structs.replace(JOB.strip("strap"), width=25.0)
    assert with_piece(JOB, "strap", wider).strip("strap").width == 25.0
    assert with_piece(JOB, "square", wider) == JOB


def _row(job: Job, piece: str, row: str) -> Row:
    return job.piece(piece).row(row)


def test_laced_joins_keep_to_pieces_and_rows_under_their_new_names() -> None:
    job = laced_job()
    front = job.piece("front")
    edge = msgspec.structs.replace(_row(job, "front", "front edge"), name="eyelets")
    renamed = msgspec.structs.replace(front, name="vorne", rows=(edge, front.rows[1]))
    joins = with_piece(job, "front", renamed).articles[0].laced_joins
    assert [(row.piece, row.row) for join in joins for row in join.rows] == [
        ("vorne", "eyelets"),
        ("vorne", "side edge"),
        ("back", "left edge"),
    ]


def test_a_row_is_added_changed_and_taken_away() -> None:
    job = laced_job()
    studs = Row(name="studs", along="line", start=(20.0, 20.0), end=(80.0, 20.0), number=3, do="mark")
    added, followed = with_row(job, "front", "studs", studs)
    assert _row(added, "front", "studs") == studs
    assert followed == ()
    more, _ = with_row(added, "front", "studs", msgspec.structs.replace(studs, number=5))
    assert len(more.piece("front").marks_of_rows[2]) == 5
    assert with_row(more, "front", "studs", None)[0] == job


def test_a_row_laced_to_a_changed_one_gets_as_many_holes() -> None:
    job = laced_job()
    seven = msgspec.structs.replace(_row(job, "front", "side edge"), number=7)
    changed, followed = with_row(job, "front", "side edge", seven)
    assert followed == (("back", "left edge"),)
    assert _row(changed, "back", "left edge").number == 7
    assert changed.worked_joins(changed.articles[0])[1].pairs == 7


def test_a_laced_row_is_not_taken_away_and_a_missing_one_is_named() -> None:
    with pytest.raises(InputError, match="is laced: before"):
        with_row(laced_job(), "front", "front edge", None)
    with pytest.raises(InputError, match="has no row 'hem'"):
        with_row(laced_job(), "front", "hem", None)
    with pytest.raises(InputError, match="No piece is called 'sleeve'"):
        with_row(laced_job(), "sleeve", "hem", None)
