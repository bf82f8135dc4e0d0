"""What a candidate comes to: sets, things placed, merit, cost, progress."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nestplan.model import Article, Job, Piece, Strip
from nestplan.model.goals import FILL
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.leather_problem import LeatherProblem, RequiredStrips
from nestplan.nesting.problem import Poses
from tests.small_jobs import SQUARE, one_piece_job, plain_hide


def candidate_of(problem: LeatherProblem, *placed: tuple[float, float, int]) -> Candidate:
    """A candidate whose first pieces lie at (x, y) on a hide, each given by its number."""
    poses = Poses.none(len(problem.required_pieces))
    for index, (x, y, field) in enumerate(placed):
        poses.x[index], poses.y[index], poses.field[index] = x, y, field
    return Candidate(problem, Layout(problem.as_shapes()), (), poses)


def two_hides(sets: int = 3, **changes) -> LeatherProblem:
    return LeatherProblem(one_piece_job(sets=sets), (plain_hide("a", price=70.0), plain_hide("b")), **changes)


def test_merit_is_sets_then_things_then_area_then_few_hides():
    problem = two_hides()
    on_one = candidate_of(problem, (0, 0, 0), (200, 0, 0))
    on_two = candidate_of(problem, (0, 0, 0), (200, 0, 1))
    assert on_one.whole_sets == (2,)
    assert on_one.merit == (2 / 3, 2.0, 20000.0, -1.0)
    assert on_one.merit > on_two.merit
    assert not on_two.is_worse_than(on_one)
    assert candidate_of(problem, (0, 0, 0)).is_worse_than(on_two)


def test_a_candidate_is_complete_once_all_asked_is_placed_whatever_is_planned_beyond():
    problem = two_hides()
    three = [(0.0, 0.0, 0), (200.0, 0.0, 0), (400.0, 0.0, 0)]
    assert not candidate_of(problem, *three[:2]).complete
    assert candidate_of(problem, *three).complete
    beyond = two_hides(goal=FILL)
    assert len(beyond.required_pieces) > 3
    assert candidate_of(beyond, *three).complete


def test_missing_strips_count_against_it():
    problem = two_hides()
    placed = candidate_of(problem, (0, 0, 0), (200, 0, 0), (400, 0, 0))
    short = replace(placed, missing_strips=(RequiredStrips(Strip(name="lace", width=5.0, length=900.0), 2),))
    assert not short.complete
    assert short.is_worse_than(placed)
    assert short.merit[1] == placed.merit[1] - 2


def test_cost_is_that_of_the_hides_in_use():
    problem = two_hides()
    assert candidate_of(problem, (0, 0, 0)).cost == 70.0
    assert candidate_of(problem, (0, 0, 0), (200, 0, 1)).cost == 170.0


def test_its_placements_are_what_is_kept_the_pieces_and_the_strips():
    strap = Strip(name="strap", width=40.0, length=900.0)
    article = Article(name="bag", sets=2, pieces=(Piece(name="square", outline=SQUARE),), strips=(strap,))
    job = Job(name="both", articles=(article,))
    problem = LeatherProblem(job, (plain_hide(),))
    strips, missing = place_strips(problem, problem.required_strips)
    placed = replace(candidate_of(problem, (0, 0, 0)), strips_first=tuple(strips))
    assert missing == []
    assert [p.name for p in placed.placements] == ["strap", "strap", "square"]
    again = LeatherProblem(job, (plain_hide(),), keep=(strips[0],))
    kept = candidate_of(again, (0, 0, 0))
    assert [p.name for p in kept.placements] == ["strap", "square"]
    counts = kept.progress_counts
    assert (counts["placed"], counts["asked"], counts["sets"], counts["sets_asked"]) == (2, 4, 1, 2)
    assert counts["cut_yield"] == 100 * 100 / (1000 * 800)


def test_nothing_placed_has_a_yield_of_nothing():
    empty = candidate_of(two_hides())
    assert empty.progress_counts["cut_yield"] == 0.0
    assert empty.fields_used == set()
    assert np.all(empty.poses.field == -1)
