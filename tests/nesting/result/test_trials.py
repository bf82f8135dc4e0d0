"""Trials on hides: what surely cannot be is told from what may be, on empty hides and beside what lies."""

from __future__ import annotations

from nestplan.geometry.pose import Pose
from nestplan.model import Piece
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.result.trials import Trials
from tests.small_jobs import laid, one_piece_job, plain_hide

NO_RULE = frozenset()
SLAB = Piece(name="slab", outline=((0.0, 0.0), (990.0, 0.0), (990.0, 390.0), (0.0, 390.0)))


def trials(*placed_at: tuple[float, float], stop=lambda: False, hides=()) -> Trials:
    job = one_piece_job(SLAB, sets=3)
    placed = [laid(job, SLAB, Pose(x, y)) for x, y in placed_at]
    return Trials(LeatherProblem(job, (plain_hide(), *hides)), stop, placed)


def verdict(tried: Trials) -> str:
    return tried.beside(tried.problem.job.cut_pieces[0], NO_RULE)


def test_beside_one_slab_there_is_a_place_and_beside_two_surely_none():
    assert verdict(trials((5.0, 5.0))) == "fits"
    assert verdict(trials((5.0, 5.0), (5.0, 400.0))) == "never"
    assert verdict(trials((5.0, 200.0))) == "never"


def test_without_time_nothing_is_tried_beside_what_lies():
    assert verdict(trials((5.0, 5.0), stop=lambda: True)) == "unknown"


def test_the_area_left_for_a_piece_is_what_nothing_lies_on():
    assert trials((5.0, 5.0)).area_left(trials().problem.job.cut_pieces[0]) == 800_000.0 - 990.0 * 390.0


def test_a_hide_lies_open_until_as_much_lies_on_it_as_any_way_of_laying_leaves():
    assert trials().lies_open("leather", 300_000.0)
    assert not trials().lies_open("leather", 500_000.0)
    assert not trials((5.0, 5.0)).lies_open("leather", 100_000.0)


def test_hides_too_small_for_a_piece_are_told_from_those_that_may_hold_it():
    small = plain_hide("small", outline=((0.0, 0.0), (900.0, 0.0), (900.0, 300.0), (0.0, 300.0)))
    tried = trials(hides=(small, plain_hide("another")))
    assert tried.hides_that_may_hold(tried.problem.job.cut_pieces[0]) == [0, 2]
    hurried = trials(hides=(small,), stop=lambda: True)
    assert hurried.hides_that_may_hold(tried.problem.job.cut_pieces[0]) == []
