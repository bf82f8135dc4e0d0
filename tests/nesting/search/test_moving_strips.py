"""Strips that move among the pieces: bars of them find a place where strips laid first or last do not."""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
import shapely

from nestplan.model import Article, Job, Piece, Strip
from nestplan.model.audit import check
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.first_candidate import first_candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.problem import Poses
from nestplan.nesting.search.moving_strips import MovingStrips, with_strips_among_pieces
from tests.small_jobs import SQUARE, plain_hide

LACES = Strip(name="lace", width=6.0, length=400.0, count=7, use="lace")
STRAPS = Strip(name="strap", width=40.0, length=500.0, count=2)


def _job(*strips: Strip, pieces: int = 1, **changes) -> Job:
    square = Piece(name="square", outline=SQUARE, count=pieces)
    return Job(
        name="small", articles=(Article(name="a", sets=1, pieces=(square,), strips=strips),), **changes
    )


def _moving(*strips: Strip, **changes) -> MovingStrips | None:
    return MovingStrips.of(LeatherProblem(_job(*strips, **changes), (plain_hide(),)), seed=0)


def test_narrow_strips_move_side_by_side_in_even_bars_and_wide_ones_alone():
    moving = _moving(LACES, STRAPS)
    assert moving is not None
    assert sorted((bar.strip.name, bar.count) for bar in moving.bundles) == [
        ("lace", 3),
        ("lace", 4),
        ("strap", 1),
        ("strap", 1),
    ]
    kinds = [item.kind for item in moving.items]
    assert len(set(kinds)) == 3
    assert min(kinds) == len(moving.problem.job.cut_pieces)


def test_joined_strips_and_spirals_are_laid_last():
    joined = Strip(name="joined", width=40.0, length=500.0, joins=1)
    spiral = Strip(name="spiral", width=4.0, length=2000.0, use="lace", source="disc")
    moving = _moving(STRAPS, joined, spiral)
    assert moving is not None
    assert {strips.strip.name for strips in moving.laid_last} == {"joined", "spiral"}
    assert _moving(joined, spiral) is None


def test_strips_do_not_move_where_no_hide_may_give_one():
    assert _moving(Strip(name="firm", width=40.0, length=500.0, regions=("bend",))) is None


@pytest.mark.parametrize("strip_gap", [0.0, 3.0])
@pytest.mark.parametrize("angle", [0.0, 3.7, 183.2])
def test_the_strips_of_a_bar_lie_side_by_side_in_it_as_the_audit_wants_them(angle, strip_gap):
    job = _job(LACES, strip_gap=strip_gap)
    problem = LeatherProblem(job, (plain_hide(),))
    moving = MovingStrips.of(problem, seed=0)
    assert moving is not None
    poses = Poses.none(1 + len(moving.bundles))
    for number in range(len(moving.bundles)):
        poses.x[1 + number], poses.y[1 + number] = 500.0, 300.0 + 80.0 * number
        poses.angle[1 + number], poses.field[1 + number] = angle, 0
    strips = list(moving._placements(poses))
    assert [p.copy for p in strips] == list(range(1, 8))
    bars = [shapely.Polygon(poses.ring_of(item, 1 + n)) for n, item in enumerate(moving.items)]
    for placement in strips:
        ring = shapely.Polygon(placement.cut_ring)
        assert any(bar.buffer(1e-3).contains(ring) for bar in bars)
        assert ring.area == pytest.approx(6.0 * 400.0, rel=1e-4)
    plan_rings = [shapely.Polygon(p.cut_ring) for p in strips]
    for one, other in itertools.pairwise(plan_rings[:3]):
        assert one.intersection(other).area == 0.0
        assert one.distance(other) >= strip_gap - 1e-6


def test_strips_that_the_pieces_left_no_room_for_find_one_when_both_move():
    """Nine squares on a field of three by three and a bit: a strap along it fits only if they lie to one side."""
    hide = plain_hide(outline=((0.0, 0.0), (330.0, 0.0), (330.0, 360.0), (0.0, 360.0)), backbone=None)
    job = _job(Strip(name="strap", width=40.0, length=320.0), pieces=9, gap=0.0)
    problem = LeatherProblem(job, (hide,))
    with ThreadPoolExecutor(2) as pool:
        context = SearchContext(SearchBudget(passes=60), pool, seed=0)
        first = first_candidate(problem, context)
        # Squares spread evenly over the field, as somebody might have left them.
        poses = Poses.none(9)
        for number in range(9):
            poses.x[number] = 5.0 + 107.0 * (number % 3)
            poses.y[number] = 10.0 + 115.0 * (number // 3)
            poses.field[number] = 0
        spread = replace(
            first,
            poses=poses,
            strips_first=(),
            strips_last=(),
            missing_strips=problem.required_strips,
            deferred_strips=problem.required_strips,
        )
        found = with_strips_among_pieces(spread, context, 1.0)
    assert not spread.complete
    assert found.complete
    assert len([p for p in found.placements if p.strip]) == 1


def test_a_plan_with_strips_that_moved_is_right():
    hides = (plain_hide("one", price=None), plain_hide("two", price=None))
    job = _job(STRAPS, LACES, pieces=62)
    plan = nest(job, hides, passes=30)
    assert not plan.unplaced
    assert check(plan, job, hides) == ()
    assert len({p.hide for p in plan.placements}) == 1
