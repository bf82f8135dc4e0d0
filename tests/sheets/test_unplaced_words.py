"""What has no place, in rows."""

from __future__ import annotations

import math

from msgspec.structs import replace

from nestplan.model import Piece, Unplaced
from nestplan.sheets.unplaced_words import unplaced_rows
from tests.small_jobs import HANDED, one_piece_job

FRONT = Piece(name="front", outline=HANDED, pair=True)
LEFT = Unplaced(piece="front", count=2, reason="flaws", why="Only flaws keep it out.", change="Turn it.")
RIGHT = replace(LEFT, mirrored=True, count=1)


def test_left_and_right_of_a_pair_are_one_row_that_says_which() -> None:
    (row,) = unplaced_rows([LEFT, RIGHT], one_piece_job(FRONT))
    assert row.what == "2 × left, 1 × right front (leather)"
    assert (row.why, row.change) == (LEFT.why, LEFT.change)


def test_what_other_reasons_keep_out_stays_apart_and_one_hand_alone_is_named() -> None:
    other = replace(RIGHT, why="It is too large.")
    rows = unplaced_rows([LEFT, other], one_piece_job(FRONT))
    assert [row.things for row in rows] == [("2 × left front",), ("1 × right front",)]


def test_all_for_which_there_is_no_room_are_one_row_with_the_leather_for_all_of_them() -> None:
    back = replace(FRONT, name="back")
    job = one_piece_job(FRONT)
    (article,) = job.articles
    job = replace(job, articles=(replace(article, pieces=(FRONT, back)),))
    room = [
        replace(each, piece=name, reason="no room", why="No room.", change=f"About {each.count} dm² more.")
        for name in ("front", "back")
        for each in (LEFT, RIGHT)
    ]
    lining = replace(room[0], layer="lining")
    row, other = unplaced_rows([*room, lining], job)
    assert row.what == "2 × left, 1 × right front; 2 × left, 1 × right back (leather)"
    # hand count: six pieces, at a yield of 0.6, rounded up to a square decimetre
    need = math.ceil(6 * FRONT.net_area / 0.6 / 10_000)
    assert row.change == f"About {need} dm² more leather, at a yield of 60%, would take all 6."
    assert (other.layer, other.change) == ("lining", lining.change)
    flaws = replace(LEFT, piece="back")
    assert len(unplaced_rows([LEFT, flaws], job)) == 2


def test_what_is_no_pair_has_no_hand() -> None:
    strap = Unplaced(strip="strap", count=3, reason="no leather", why="None.")
    rows = unplaced_rows([LEFT, strap], one_piece_job(replace(FRONT, pair=False)))
    assert [row.things for row in rows] == [("2 × front",), ("3 × strap",)]
