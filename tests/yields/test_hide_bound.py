"""The lower bound on hides: what large pieces and closed hides need, and that no plan there is uses fewer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from nestplan.model import Article, Hide, Job, LayerCut, Piece
from nestplan.yields.bounds import fewest_hides
from nestplan.yields.hide_bound import proven_fewest_hides
from tests.small_jobs import plain_hide, two_region_hide


def box(width: float, height: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))


def sheet(name: str, width: float, height: float) -> Hide:
    return plain_hide(name, outline=box(width, height), backbone=None)


def asking(*pieces: Piece, gap: float = 0.0) -> Job:
    return Job(name="job", articles=(Article(name="all", sets=1, pieces=pieces),), gap=gap)


def test_large_pieces_that_exclude_each_other_need_a_hide_each():
    hides = [sheet(f"hide {number}", 100.0, 100.0) for number in range(12)]
    job = asking(Piece(name="panel", outline=box(70.0, 70.0), count=10))
    assert fewest_hides(job, hides) == 5
    assert proven_fewest_hides(job, hides) == 10
    assert proven_fewest_hides(job, hides, reached=5) == 5
    assert proven_fewest_hides(job, hides, stop=lambda: True) == 5


def test_small_pieces_between_large_ones_do_not_count_as_large():
    hides = [sheet(f"hide {number}", 100.0, 100.0) for number in range(12)]
    large = Piece(name="panel", outline=box(70.0, 70.0), count=4)
    small = Piece(name="patch", outline=box(10.0, 10.0), count=40)
    assert proven_fewest_hides(asking(large, small), hides) == 4


def test_a_hide_that_must_be_used_for_one_piece_comes_besides_those_that_hold_the_rest():
    # Only the small hide has the region that the collar asks for; the backs fill the two large ones.
    closed = [sheet(f"large {number}", 1000.0, 800.0) for number in range(3)]
    regions = two_region_hide().regions
    wanted = regions[0].name
    collar = Piece(name="collar", outline=box(40.0, 40.0), cuts=(LayerCut(regions=(wanted,)),))
    back = Piece(name="back", outline=box(1000.0, 400.0), count=4)
    job = asking(collar, back)
    assert fewest_hides(job, [two_region_hide(), *closed]) == 3
    small = replace(sheet("small", 200.0, 200.0), regions=(replace(regions[0], outline=box(200.0, 200.0)),))
    assert fewest_hides(job, [small, *closed]) == 3
    assert proven_fewest_hides(job, [small, *closed]) == 3
    # A bit less leather for the backs: by area two hides hold all, with the small one it is three.
    some = asking(collar, replace(back, count=3))
    assert fewest_hides(some, [small, *closed]) == 2
    assert proven_fewest_hides(some, [small, *closed]) == 3


@st.composite
def jobs_cut_from_hides(draw: st.DrawFn) -> tuple[Job, list[Hide], int]:
    """A job of boxes that were cut from some hides in rows, these hides and spare ones, and how many were cut up."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    gap = draw(st.sampled_from([0.0, 2.0]))
    count, spare = draw(st.integers(1, 4)), draw(st.integers(0, 3))
    hides, pieces = [], []
    for number in range(count + spare):
        width, height = rng.uniform(100.0, 600.0, 2).round(1).tolist()
        hides.append(sheet(f"hide {number}", width, height))
        if number >= count:
            continue
        bottom = 0.0
        while bottom < height - 20.0:
            tall = min(float(rng.uniform(20.0, height)), height - bottom)
            left = 0.0
            while left < width - 20.0:
                wide = min(float(rng.uniform(20.0, width)), width - left)
                pieces.append(Piece(name=f"box {len(pieces)}", outline=box(wide, tall)))
                left += wide + gap
            bottom += tall + gap
    return asking(*pieces[:60], gap=gap), hides, count


@given(jobs_cut_from_hides())
@settings(max_examples=60, deadline=None)
def test_no_more_hides_are_asked_for_than_a_plan_there_is_uses(made: tuple[Job, list[Hide], int]):
    job, hides, count = made
    fewest = proven_fewest_hides(job, hides)
    assert fewest_hides(job, hides) <= fewest <= count


@pytest.mark.parametrize("count", [1, 3])
def test_no_more_hides_than_there_are(count: int):
    hides = [sheet(f"hide {number}", 100.0, 100.0) for number in range(count)]
    assert proven_fewest_hides(asking(Piece(name="panel", outline=box(70.0, 70.0), count=9)), hides) == count
