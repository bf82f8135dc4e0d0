"""What has no place, in rows."""

from __future__ import annotations

from msgspec.structs import replace

from nestplan.model import Piece, Unplaced
from nestplan.sheets.unplaced_words import unplaced_rows
from tests.small_jobs import HANDED, one_piece_job

FRONT = Piece(name="front", outline=HANDED, pair=True)
LEFT = Unplaced(piece="front", count=2, reason="flaws", why="Only flaws keep it out.", change="Turn it.")
RIGHT = replace(LEFT, mirrored=True, count=1)


def test_left_and_right_of_a_pair_are_one_row_that_says_which() -> None:
    (row,) = unplaced_rows([LEFT, RIGHT], one_piece_job(FRONT))
    assert (row.name, row.layer, row.count) == ("front", "leather", "2 × left, 1 × right")
    assert (row.why, row.change) == (LEFT.why, LEFT.change)


def test_what_other_reasons_keep_out_stays_apart_and_one_hand_alone_is_named() -> None:
    other = replace(RIGHT, why="It is too large.")
    rows = unplaced_rows([LEFT, other], one_piece_job(FRONT))
    assert [row.count for row in rows] == ["2 × left", "1 × right"]


def test_the_leather_that_is_missing_is_that_of_each_hand() -> None:
    room = [
        replace(each, reason="no room", why="No room.", change=f"About {each.count} ft² more.")
        for each in (LEFT, RIGHT)
    ]
    (row,) = unplaced_rows(room, one_piece_job(FRONT))
    assert row.change == "About 2 ft² more. So much for each hand."


def test_what_is_no_pair_has_no_hand() -> None:
    strap = Unplaced(strip="strap", count=3, reason="no leather", why="None.")
    rows = unplaced_rows([LEFT, strap], one_piece_job(replace(FRONT, pair=False)))
    assert [row.count for row in rows] == ["2 ×", "3 ×"]
