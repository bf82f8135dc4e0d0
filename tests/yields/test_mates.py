"""How far the left and right of a pair lie apart in a plan."""

from __future__ import annotations

from msgspec.structs import replace

from nestplan.model import Job, Piece, Plan, Source
from nestplan.model.plan import Placement
from nestplan.yields.mates import far_mates, mate_pairs
from tests.small_jobs import HANDED, one_piece_job

FRONT = Piece(name="front", outline=HANDED, pair=True, mates_near=True)
JOB = one_piece_job(FRONT, sets=3, mates_limit=500.0)


def at(x: float, number: int, *, mirrored: bool = False, hide: str = "h") -> Placement:
    ring = ((x, 0.0), (x + 100.0, 0.0), (x + 100.0, 60.0), (x, 60.0))
    wide = ((x - 5.0, -5.0), (x + 105.0, -5.0), (x + 105.0, 65.0), (x - 5.0, 65.0))
    return Placement(
        hide=hide, piece="front", mirrored=mirrored, set=number, copy=2 * number - mirrored, x=x,
        finished=ring, cut=wide,
    )  # fmt: skip


def plan_of(*placed: Placement) -> Plan:
    return Plan(name="p", job=Source(name="j"), hides=(Source(name="h"),), placements=placed)


def test_the_distance_is_from_edge_to_edge_of_what_is_cut() -> None:
    (pair,) = mate_pairs(plan_of(at(0.0, 1), at(150.0, 1, mirrored=True)), JOB)
    assert (pair.left, pair.right, pair.apart, pair.near, pair.asked, pair.far) == (
        0,
        1,
        40.0,
        True,
        True,
        False,
    )


def test_near_is_no_farther_than_the_piece_is_long_and_far_beyond_the_limit_or_another_hide() -> None:
    plan = plan_of(
        at(0.0, 1), at(300.0, 1, mirrored=True),
        at(0.0, 2), at(700.0, 2, mirrored=True),
        at(0.0, 3), at(0.0, 3, mirrored=True, hide="other"),
    )  # fmt: skip
    pairs = mate_pairs(plan, JOB)
    assert [(pair.apart, pair.near, pair.far) for pair in pairs] == [
        (190.0, False, False),
        (590.0, False, True),
        (None, False, True),
    ]
    assert far_mates(plan, JOB) == pairs[1:]
    assert far_mates(plan, _not_asked(JOB)) == ()


def test_of_several_pairs_in_a_set_those_are_mates_that_lie_nearest() -> None:
    job = one_piece_job(replace(FRONT, count=2))
    plan = plan_of(
        at(0.0, 1),
        at(400.0, 1),
        at(500.0, 1, mirrored=True),
        at(120.0, 1, mirrored=True),
        at(900.0, 1, mirrored=True),
    )
    assert [(pair.left, pair.right) for pair in mate_pairs(plan, job)] == [(0, 3), (1, 2)]


def test_pieces_that_are_no_pairs_have_no_mates_and_those_turned_over_any() -> None:
    plan = plan_of(at(0.0, 1), at(150.0, 1))
    assert mate_pairs(plan, one_piece_job(replace(FRONT, pair=False))) == ()
    assert mate_pairs(plan, JOB) == ()
    assert len(mate_pairs(plan, one_piece_job(replace(FRONT, turn_over=True)))) == 1


def _not_asked(job: Job) -> Job:
    article = job.articles[0]
    return replace(job, articles=(replace(article, pieces=(replace(FRONT, mates_near=False),)),))
