"""A job on hides as shapes, and poses back as placements."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from msgspec.structs import replace

from nestplan.geometry.ring import area
from nestplan.model import Article, Job, Layer, Piece
from nestplan.model.goals import FILL
from nestplan.nesting.leather_problem import LeatherProblem, rounded_points
from nestplan.nesting.problem import Poses
from tests.small_jobs import HANDED, SQUARE, lined_piece, one_piece_job, plain_hide, strap_job


def two_articles() -> Job:
    bag = Article(name="bag", sets=4, pieces=(Piece(name="front", outline=SQUARE),))
    belt = Article(name="belt", sets=2, pieces=(Piece(name="tip", outline=HANDED),))
    return Job(name="two", articles=(bag, belt))


def test_sets_of_all_articles_advance_evenly():
    problem = LeatherProblem(two_articles(), (plain_hide(),))
    assert problem.sets == ((0, 1), (0, 2), (1, 1), (0, 3), (0, 4), (1, 2))
    assert [required.rank for required in problem.required_pieces] == list(range(6))
    assert all(required.asked for required in problem.required_pieces)


def test_what_is_kept_is_required_no_more_from_the_first_sets_on():
    job = two_articles()
    problem = LeatherProblem(job, (plain_hide(),))
    poses = Poses.none(6)
    poses.field[0] = 0
    kept = tuple(placement for _, placement in problem.placements(poses))
    again = LeatherProblem(job, (plain_hide(),), keep=kept)
    assert [(required.piece, required.rank) for required in again.required_pieces][:2] == [(0, 1), (1, 2)]
    assert again.set_targets.kept == {0: 1}
    (field, ring) = again.as_shapes().fixed[0]
    assert field == 0
    assert area(ring) > 100 * 100


def test_a_goal_beyond_what_is_asked_requires_as_many_sets_as_the_area_could_hold():
    problem = LeatherProblem(one_piece_job(sets=2), (plain_hide(),), goal=FILL)
    assert len(problem.required_pieces) == 81
    assert [required.asked for required in problem.required_pieces].count(True) == 2


def test_strips_still_required_are_those_that_are_not_kept():
    problem = LeatherProblem(strap_job(sets=3), (plain_hide(),))
    assert [(strips.strip.name, strips.count) for strips in problem.required_strips] == [("strap", 3)]


def test_a_cut_shape_with_half_the_gap_is_never_too_small():
    problem = LeatherProblem(one_piece_job(gap=3.0), (plain_hide(),))
    grown = shapely.Polygon(problem.with_gap(np.array(SQUARE)))
    true = shapely.Polygon(SQUARE).buffer(1.5, quad_segs=64)
    assert true.difference(grown).area < 1e-6
    assert grown.area < true.area + 4.0
    bare = LeatherProblem(one_piece_job(gap=0.0), (plain_hide(),))
    assert bare.with_gap(np.array(SQUARE)).tolist() == [list(point) for point in SQUARE]


def test_the_overcut_goes_from_its_least_to_its_wish():
    problem = LeatherProblem(one_piece_job(lined_piece()), (plain_hide(),))
    lining = next(piece for piece in problem.job.cut_pieces if piece.cut.layer == "lining")
    widths = [problem.at_overcut(fraction).overcut(lining) for fraction in (0.0, 0.5, 1.0)]
    assert widths == [6.0, 9.0, 12.0]
    assert problem.can_widen
    assert problem.at_overcut(1.0).rules is problem.rules
    assert not LeatherProblem(one_piece_job(), (plain_hide(),)).can_widen


def test_a_placement_is_the_piece_as_drawn_at_its_pose():
    problem = LeatherProblem(one_piece_job(Piece(name="tip", outline=HANDED, pair=True)), (plain_hide(),))
    left = problem.placement(0, 0, 10.0, 20.0, 0.0)
    assert left.finished[:3] == ((10.0, 20.0), (110.0, 20.0), (110.0, 50.0))
    right = problem.placement(1, 0, 10.0, 20.0, 0.0)
    assert (left.mirrored, right.mirrored) == (False, True)
    assert min(x for x, _ in right.finished) == pytest.approx(-90.0)


def test_a_piece_that_no_hide_may_take_has_no_option():
    job = one_piece_job(layers=(Layer(name="leather", leather=("goat",)),))
    problem = LeatherProblem(job, (plain_hide(),))
    assert problem.items[0].options == ()
    assert not problem.set_targets.placeable.any()


def test_a_hide_costs_its_price_or_its_area_where_one_has_none():
    priced = LeatherProblem(one_piece_job(), (plain_hide("a", price=70.0), plain_hide("b", price=90.0)))
    assert [priced.cost(0), priced.cost(1)] == [70.0, 90.0]
    open_price = LeatherProblem(one_piece_job(), (plain_hide("a", price=None), plain_hide("b")))
    assert [open_price.cost(0), open_price.cost(1)] == [800_000.0, 800_000.0]


def test_points_are_rounded_as_files_are_written():
    assert rounded_points([(1.23456, 2.0)]) == ((1.2346, 2.0),)


def test_the_lefts_and_rights_of_pieces_that_ask_for_it_are_groups_of_mates_with_what_is_kept():
    near = Piece(name="front", outline=HANDED, pair=True, mates_near=True)
    job = one_piece_job(near, sets=2)
    problem = LeatherProblem(job, (plain_hide(),))
    (group,) = problem.mate_groups
    assert [problem.cut_piece(number).hand for number in group.lefts] == [0, 0]
    assert [problem.cut_piece(number).hand for number in group.rights] == [1, 1]
    poses = Poses.none(4)
    poses.field[group.rights[0]] = 0
    kept = tuple(placement for _, placement in problem.placements(poses))
    (again,) = LeatherProblem(job, (plain_hide(),), keep=kept).mate_groups
    # The one kept is fixed: its number follows those of the three items.
    assert (len(again.lefts), again.rights[-1]) == (2, 3)
    assert LeatherProblem(one_piece_job(replace(near, mates_near=False)), (plain_hide(),)).mate_groups == ()
