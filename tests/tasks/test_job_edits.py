from __future__ import annotations

import msgspec

from nestplan.model import Article, Job, Piece, Strip
from nestplan.tasks.job_edits import with_piece
from tests.small_jobs import SQUARE

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
