"""Lace, thread, thickness and fit against figures from outside, the source beside each.

Lines marked common practice have no source: they are values to come near, as workers know them.
"""

from __future__ import annotations

import math

import pytest

from nestplan.estimate.fit import belt_blank, waist_of, waist_range
from nestplan.estimate.lacing import (
    RegularJoin,
    edge_lacing_length,
    hole_columns,
    join_length,
)
from nestplan.estimate.supplies import thread_length
from nestplan.estimate.thickness import StackLayer, stack_of
from nestplan.geometry.units import MM_PER_INCH, MM_PER_OUNCE, read_length, read_thickness_range
from nestplan.model.lacing import LACE_PATHS, path_length

IN = MM_PER_INCH


def criss_cross_length(pairs: int, pitch: float, reach: float, tail: float) -> float:
    """Lace of a criss-cross as it is drawn, with its tails."""
    return path_length(LACE_PATHS["criss-cross"], *hole_columns(pairs, pitch, reach), tail=tail)


def test_criss_cross_lace_equals_a_polyline_reckoned_by_hand() -> None:
    """Three pairs, 30 mm across, 40 mm up: the slants are 3-4-5 triangles of 50 mm.

    By hand: bar 30; right end 50 + 50; left end 50 + 50; two tails of 100: 430.
    """
    assert criss_cross_length(3, 40.0, 30.0, 100.0) == pytest.approx(430.0)
    assert join_length(RegularJoin(3, 40.0, 10.0, 10.0, 100.0)) == pytest.approx(430.0)


@pytest.mark.parametrize(
    ("path", "length"),
    [
        ("straight bar", 3 * 30 + 2 * 40),
        ("spiral", 3 * 30 + 2 * 50),
        ("ladder", 30 + 2 * (40 + 30) + 2 * (40 + 30)),
    ],
)
def test_other_paths_equal_polylines_reckoned_by_hand(path: str, length: float) -> None:
    assert join_length(RegularJoin(3, 40.0, 30.0, 0.0, 0.0, path)) == pytest.approx(length)


def test_a_published_cincher_needs_far_more_cord_than_it_says_at_its_widest() -> None:
    """leaf.tv, homemade waist cincher: 6 holes at 3/4 in, ends 1/2 in from the edge, belt 4 in under the
    waist, 24 in of cord. At that opening (g = 5 in) the path is 55.6 in before tails; at g = 1 in with tails
    of 5 in it is 23.5 in. Hence: always at the widest opening."""
    assert criss_cross_length(6, 0.75 * IN, 5 * IN, 0.0) / IN == pytest.approx(55.6, abs=0.05)
    assert criss_cross_length(6, 0.75 * IN, 1 * IN, 5 * IN) / IN == pytest.approx(23.5, abs=0.05)


def test_about_42_inches_of_lace_lace_one_join_of_eight_inch_panels() -> None:
    """Common practice, no source: about 42 in of 1/4 in lace for one join opened to 2 in.

    With five pairs 1 in apart, 5/8 in from the edge, and 6 in to tie at each end, all of them usual.
    """
    lace = join_length(RegularJoin(5, 1 * IN, 2 * IN, 0.625 * IN, 6 * IN))
    assert lace / IN == pytest.approx(42.0, abs=1.0)


def test_four_eight_inch_panels_close_at_32_and_reach_40_inches() -> None:
    """Common practice, no source: with a gap of 2 in at each of four joins."""
    assert waist_of([8 * IN] * 4, 0.0) / IN == pytest.approx(32.0)
    assert waist_of([8 * IN] * 4, 2 * IN) / IN == pytest.approx(40.0)
    least, most = waist_range([8 * IN] * 4, 0.0, 2 * IN)
    assert (least / IN, most / IN) == pytest.approx((32.0, 40.0))


@pytest.mark.parametrize(("thickness", "ratio"), [(1 / 16, 2.75), (1 / 8, 3.5), (3 / 16, 4.25), (1 / 4, 5.0)])
def test_thread_meets_the_lockstitch_ratio_at_six_stitches_an_inch(thickness: float, ratio: float) -> None:
    """2 + 2 T S: lockstitch 301, textileblog.com (thread consumption) and textilecalculations.com."""
    assert thread_length(1000.0, thickness * IN, 6.0, 0.0) == pytest.approx(1000.0 * ratio)


def test_thread_waste_of_ten_to_fifteen_per_cent_goes_on_top() -> None:
    """apparelscience.com: 10-15 %. The plain ratio of 2.5: melgeecrafts.com."""
    assert thread_length(1000.0, None, 6.0, 0.15) == pytest.approx(2875.0)


def test_two_to_three_and_five_to_six_ounce_glued_make_about_eight_to_nine() -> None:
    """Common practice, no source. The sum of the ranges is 7 to 9 oz: about 8 to 9 lies at its upper end."""
    layers = [StackLayer(name, *read_thickness_range(name)) for name in ("2-3 oz", "5-6 oz")]
    stack = stack_of(layers)
    assert stack.most / MM_PER_OUNCE == pytest.approx(9.0)
    assert stack.middle / MM_PER_OUNCE == pytest.approx(8.0)


@pytest.mark.parametrize(
    ("ounces", "millimetres"),
    [(1, 0.397), (2, 0.794), (4, 1.5875), (8, 3.175), (9, 3.572), (12, 4.763), (16, 6.350)],
)
def test_ounces_are_sixty_fourths_of_an_inch(ounces: int, millimetres: float) -> None:
    """ASTM D1814: 1 oz = 1/64 in; the table is that arithmetic rounded."""
    assert stack_of([StackLayer("leather", *read_thickness_range(f"{ounces} oz"))]).least == pytest.approx(
        millimetres, abs=0.0005
    )


def test_a_40_mm_blade_is_a_hair_longer_than_an_inch_and_a_half() -> None:
    """Common practice, no source; 1 in = 25.4 mm exactly (ISO 80000-3)."""
    assert 0.0 < 40.0 - read_length("1 1/2 in") < 2.0


@pytest.mark.parametrize(
    ("stitch", "multiple"),
    [("running", 1.5), ("buck", 2.5), ("whip", 3.5), ("single loop", 6.5), ("double loop", 8.5)],
)
def test_edge_lacing_takes_the_published_multiples(stitch: str, multiple: float) -> None:
    """A supplier's guide to lacing."""
    assert edge_lacing_length(400.0, stitch) == pytest.approx(400.0 * multiple)


def test_a_belt_for_size_34_trousers_comes_near_the_published_blank() -> None:
    """oakhillwanderer 2011/12: a blank of 44 in for trousers of size 34, worn at the middle of five holes.

    Its own parts (1.5 + 3.5 + 4 in) make 43 in; ours, with the traditional 2.5 widths to the point, is up to
    an inch and a quarter longer, on the safe side of the knife.
    """
    blank = belt_blank(34 * IN, 1.5 * IN, sized_by="trousers")
    assert 44.0 <= blank.length / IN <= 45.25
    same_tail = belt_blank(34 * IN, 1.5 * IN, sized_by="trousers", tail=4 * IN - 2 * 25.0)
    assert same_tail.length / IN == pytest.approx(44.0, abs=1.0)


def test_the_last_hole_stands_two_and_a_half_widths_from_the_point() -> None:
    """Traditional saddlery rule (a saddler's blog); holes 25 mm apart: training page, cobblix belts."""
    blank = belt_blank(900.0, 40.0, sized_by="belt")
    assert blank.length - blank.holes[-1] == pytest.approx(100.0)
    assert math.isclose(blank.holes[1] - blank.holes[0], 25.0)
