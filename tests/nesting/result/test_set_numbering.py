"""Which copy belongs to which set."""

from __future__ import annotations

import random
from collections import Counter

import pytest
from msgspec.structs import replace

from nestplan.geometry.pose import Pose
from nestplan.model import Piece
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.result.set_numbering import number_sets, number_strips
from tests.small_jobs import HANDED, laid, one_piece_job, plain_hide, strap_job


def pairs_in_a_row(sets: int):
    """A job of pairs, and its lefts at x = 0, 200, ... with the rights above them in reverse order."""
    piece = Piece(name="front", outline=HANDED, pair=True)
    job = one_piece_job(piece, sets=sets)
    problem = LeatherProblem(job, (plain_hide(),))
    placed = []
    for index, required in enumerate(problem.required_pieces):
        hand = job.cut_pieces[required.piece]
        n = required.rank
        x = 200.0 * (n if not hand.mirrored else sets - 1 - n)
        placed.append((index, laid(job, piece, Pose(x, 200.0 * hand.hand, 0.0, hand.mirrored))))
    return problem, placed


def test_mates_of_a_set_are_those_that_lie_nearest():
    problem, placed = pairs_in_a_row(4)
    for number in range(1, 5):
        left, right = sorted((p for p in number_sets(problem, placed) if p.set == number), key=lambda p: p.y)
        assert abs(left.x - right.x) < 1e-9


def test_copies_are_counted_from_one_without_gap():
    problem, placed = pairs_in_a_row(3)
    assert sorted(p.copy for p in number_sets(problem, placed)) == [1, 2, 3, 4, 5, 6]


def test_what_is_kept_keeps_its_number_and_set():
    problem, placed = pairs_in_a_row(3)
    kept = replace(placed[0][1], copy=5, set=2, locked=True)
    again = LeatherProblem(problem.job, problem.hides, keep=(kept,))
    others = list(enumerate(p for _, p in placed[1:]))[: len(again.required_pieces)]
    numbered = number_sets(again, [(i, p) for i, p in others if again.required_pieces[i].piece in (0, 1)])
    assert 5 not in [p.copy for p in numbered]


def test_strips_are_numbered_around_those_kept():
    job = strap_job(sets=3)
    rings = {
        "finished": ((0, 0), (900, 0), (900, 40), (0, 40)),
        "cut": ((0, 0), (900, 0), (900, 40), (0, 40)),
    }
    made = [laid_strip(copy, rings) for copy in (1, 2)]
    kept = [laid_strip(1, rings)]
    assert [p.copy for p in number_strips(made, job, kept)] == [2, 3]


def laid_strip(copy: int, rings):
    from nestplan.model import Placement

    return Placement(hide="plain", strip="strap", copy=copy, **rings)


@pytest.mark.parametrize("pair", [False, True])
@pytest.mark.parametrize("turn_over", [False, True])
def test_no_set_holds_a_piece_twice_after_a_plan_was_taken_up_again(turn_over, pair):
    piece = Piece(name="front", outline=HANDED, pair=pair, turn_over=turn_over)
    job = one_piece_job(piece, sets=8)
    for seed in range(4):
        chance = random.Random(seed)
        first = nest(job, [plain_hide()], seed=seed)
        keep = [replace(p, locked=True) for p in first.placements if chance.random() < 0.4]
        again = nest(job, [plain_hide()], keep=keep, seed=seed + 9)
        assert len(again.placements) == 8 * (1 + pair)
        found = Counter((p.set, job.kind_of_copy(p.piece, p.layer, p.mirrored)) for p in again.placements)
        assert max(found.values()) == (2 if pair and turn_over else 1)
        assert sorted({p.set for p in again.placements}) == list(range(1, 9))


def test_what_belongs_to_no_set_that_is_planned_for_goes_to_a_further_one():
    problem, placed = pairs_in_a_row(2)
    kept = [replace(p, copy=7 + n, set=2, locked=True) for n, (_, p) in enumerate(placed[:2])]
    again = LeatherProblem(problem.job, problem.hides, keep=(*kept, kept[0]))
    rest = [(index, placed[2][1]) for index in range(len(again.required_pieces))] * 3
    numbered = number_sets(again, rest)
    assert len(numbered) == len(rest)
    assert max(p.set for p in numbered) > 2
