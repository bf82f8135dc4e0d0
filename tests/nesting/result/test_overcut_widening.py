"""Overcuts widened to the wish, or as far as neighbours, the hide's edge and what is kept allow."""

from __future__ import annotations

import shapely
from msgspec.structs import replace

from nestplan.geometry.pose import Pose
from nestplan.model import LayerCut, Overcut, Piece
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.result.overcut_widening import widened_overcuts
from tests.small_jobs import SQUARE, laid, one_piece_job, plain_hide

PIECE = Piece(name="panel", outline=SQUARE, cuts=(LayerCut(overcut=Overcut(least=4.0, wished=12.0)),))
JOB = one_piece_job(PIECE, sets=2, gap=2.0)


def widths(*places: tuple[float, float], keep: int = 0) -> list[float]:
    """Overcuts after widening of panels whose corners lie at these places; the first `keep` are kept."""
    placed = [
        replace(laid(JOB, PIECE, Pose(x, y, 0.0, False)), copy=number + 1)
        for number, (x, y) in enumerate(places)
    ]
    problem = LeatherProblem(JOB, (plain_hide(),), keep=tuple(placed[:keep]))
    found = widened_overcuts(problem, placed)
    shapes = [shapely.Polygon(placement.cut_ring) for placement in found]
    for number, shape in enumerate(shapes):
        assert all(shape.distance(other) >= JOB.gap for other in shapes[number + 1 :])
    return [placement.overcut for placement in found]


def test_a_piece_with_nothing_near_it_gets_its_wish():
    assert widths((400.0, 400.0)) == [12.0]


def test_pieces_with_room_get_their_wish():
    assert widths((400.0, 400.0), (428.0 + 100.0, 400.0)) == [12.0, 12.0]


def test_neighbours_share_what_is_between_them():
    assert widths((100.0, 100.0), (218.0, 100.0)) == [11.0, 4.0]
    assert widths((100.0, 100.0), (222.0, 100.0)) == [12.0, 7.0]


def test_the_edge_of_the_hide_holds_it_back():
    assert widths((6.5, 400.0), (6.5, 528.0)) == [6.0, 6.0]


def test_what_is_kept_stays_as_it_is():
    assert widths((400.0, 400.0), (528.0, 400.0), keep=1) == [4.0, 12.0]


def test_once_told_to_stop_the_rest_stays_as_it_is():
    placed = [laid(JOB, PIECE, Pose(400.0, 400.0, 0.0, False))]
    problem = LeatherProblem(JOB, (plain_hide(),))
    assert widened_overcuts(problem, placed, stop=lambda: True) == placed
