"""The bound on copies against published optimal packings: no bound may be below what is known to fit.

Equal circles in a unit square, greatest radius: n = 2..9 in closed form, proved by J. Schaer and A. Meir (1965,
n = 8), J. Schaer (1965, n = 9), and others, collected with n = 10..20 in R. Peikert, D. Würtz, M. Monagan and
C. de Groot, Packing circles in a square (1992). Unit squares in a square, least side: F. Göbel (1979, n = 5),
W. Stromquist (2003, n = 10), collected in E. Friedman, Packing unit squares in squares, Electronic Journal of
Combinatorics, Dynamic Survey DS7. Length of spiral lace against the sum of its turns.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from nestplan.geometry.ring import disc_ring
from nestplan.model.piece import Piece
from nestplan.yields.bounds import set_bounds
from nestplan.yields.capacity import most_by_area
from nestplan.yields.offcuts import disc_lace
from tests.yields.most_copies import most_copies
from tests.yields.small_plans import hide, job_of

ROOT2, ROOT3, ROOT6 = math.sqrt(2), math.sqrt(3), math.sqrt(6)
SIDE = 1000.0

CIRCLES = {
    1: 1 / 2,
    2: 1 / (2 + ROOT2),
    3: (8 - 5 * ROOT2 + 4 * ROOT3 - 3 * ROOT6) / 2,
    4: 1 / 4,
    5: (ROOT2 - 1) / 2,
    7: 1 / (4 + ROOT3),
    8: 1 / (2 + ROOT2 + ROOT6),
    9: 1 / 6,
    10: 0.148204322565,
}
SQUARES = {1: 1.0, 2: 2.0, 4: 2.0, 5: 2 + 1 / ROOT2, 8: 3.0, 9: 3.0, 10: 3 + 1 / ROOT2, 16: 4.0, 25: 5.0}

# What the bound is today; a lower figure is a better proof, a higher one a worse.
TODAY_CIRCLES = {1: 1, 2: 3, 3: 4, 4: 4, 5: 6, 7: 8, 8: 9, 9: 9, 10: 12}


@pytest.mark.parametrize("count", CIRCLES)
def test_no_bound_forbids_the_densest_circles_in_a_square(count: int) -> None:
    radius = CIRCLES[count] * SIDE * (1 - 1e-6)
    bound = most_copies(disc_ring((0, 0), radius, 0.01, side="inside"), shapely.box(0, 0, SIDE, SIDE))
    assert count <= bound <= TODAY_CIRCLES[count]
    assert bound <= most_by_area(shapely.box(0, 0, SIDE, SIDE), math.pi * radius**2 * 0.99)


@pytest.mark.parametrize("count", SQUARES)
def test_no_bound_forbids_the_densest_squares_in_a_square(count: int) -> None:
    side = SIDE / SQUARES[count] * (1 - 1e-6)
    ring = np.array([(0, 0), (side, 0), (side, side), (0, side)])
    bound = most_copies(ring, shapely.box(0, 0, SIDE, SIDE))
    assert count <= bound <= math.floor(SQUARES[count] ** 2 + 1e-3)


def test_a_job_of_discs_on_a_square_hide_keeps_to_the_published_packing() -> None:
    # Five discs of the greatest radius, cut with a gap that takes the place of part of each disc.
    gap = 4.0
    radius = CIRCLES[5] * (SIDE + gap) * (1 - 1e-5) - gap / 2
    outline = tuple((float(x), float(y)) for x, y in disc_ring((0, 0), radius, 0.01, side="inside"))
    square = ((0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE))
    sheet = hide().__class__(name="square", leather="cow side", outline=square)
    bound = set_bounds(job_of(Piece(name="disc", outline=outline), gap=gap), [sheet])[0]
    assert 5 <= bound.sets <= 6


@pytest.mark.parametrize(
    ("inches", "width", "feet"), [(6, 1 / 8, 16.8), (8, 3 / 16, 20.9), (10, 1 / 4, 25.1), (12, 1 / 8, 73.3)]
)
def test_spiral_lace_is_as_long_as_its_turns(inches: float, width: float, feet: float) -> None:
    # The turns of a spiral of pitch w between radii r0 and r1 are circles of mean radius: 2 pi times their sum.
    r0, r1, w = 25.4, inches * 25.4 / 2, width * 25.4
    turns = np.arange(r0 + w / 2, r1, w)
    length = disc_lace(2 * r1, w, tail=0.0)
    assert length == pytest.approx(2 * math.pi * turns.sum(), rel=0.02)
    assert length / 304.8 == pytest.approx(feet, abs=0.06)
    assert disc_lace(2 * r1, w) == length - 101.6
