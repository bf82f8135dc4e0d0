"""The law of lacing: four paths and two stitches against lengths counted by hand, and what holds for every path."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.model.lacing import (
    EDGE_STITCHES,
    LACE_PATHS,
    LacePath,
    edge_lace_length,
    lace_path_of,
    lace_runs,
    path_length,
)


def _holes(pairs: int, pitch: float, reach: float) -> tuple[np.ndarray, np.ndarray]:
    along = np.arange(pairs) * pitch
    return np.column_stack((np.zeros(pairs), along)), np.column_stack((np.full(pairs, reach), along))


# Hand count, worked by us on squared paper: four pairs, 36 mm across, 27 mm along, so a slant is 45 (3-4-5 times 9);
# 2 mm of leather at every hole and 80 mm of tail at each end.
HAND_COUNTS = {
    # bar 36; right end 45 + 45 + 45; left end the same; eight holes; two tails
    "criss-cross": 36 + 3 * 45 + 3 * 45 + 8 * 2 + 2 * 80,
    # bars 36 + 36 + 36 + 36; up at the right, at the left, at the right 27 each; eight holes; two tails
    "straight bar": 4 * 36 + 3 * 27 + 8 * 2 + 2 * 80,
    # bar 36; each end three times 27 up and 36 across; 2 holes of the first pair, then 6 for each end of which each
    # hole is passed by both: 2 + 12; two tails
    "ladder": 36 + 2 * 3 * (27 + 36) + 14 * 2 + 2 * 80,
    # bars 36 x 4; three slants of 45; eight holes; two tails
    "spiral": 4 * 36 + 3 * 45 + 8 * 2 + 2 * 80,
}


@pytest.mark.parametrize("name", sorted(HAND_COUNTS))
def test_a_path_is_as_long_as_counted_by_hand(name: str) -> None:
    length = path_length(LACE_PATHS[name], *_holes(4, 27.0, 36.0), tail=80.0, thickness=(2.0, 2.0))
    assert length == pytest.approx(HAND_COUNTS[name])


def test_the_hand_counts_cover_every_path() -> None:
    assert set(HAND_COUNTS) == set(LACE_PATHS.names)


def test_edges_are_as_long_as_counted_by_hand() -> None:
    """Hand count: five holes 8 mm apart, 2 from the edge, through 2 mm. Running: four steps of 8, five holes of 2.
    Whip: round the edge 2 + 2 + 2 = 6, by 8 along is 10 on the slant, four times, five holes of 2. All the way round
    five steps have five holes."""
    assert edge_lace_length("running", [8.0] * 4, inset=2.0, thickness=2.0) == pytest.approx(42.0)
    assert edge_lace_length("whip", [8.0] * 4, inset=2.0, thickness=2.0) == pytest.approx(50.0)
    assert edge_lace_length("whip", [8.0] * 5, inset=2.0, thickness=2.0, closed=True) == pytest.approx(60.0)
    assert edge_lace_length("whip", [8.0] * 4, inset=2.0, thickness=2.0, tail=45.0) == pytest.approx(140.0)


def test_a_stitch_whose_way_is_not_worked_out_takes_its_multiple() -> None:
    for stitch in EDGE_STITCHES:
        if stitch.around is None:
            assert (
                edge_lace_length(stitch.name, [8.0] * 4, inset=2.0, thickness=2.0) == 32.0 * stitch.multiple
            )


@given(st.integers(2, 20), st.floats(1, 60), st.floats(1, 300), st.floats(0, 400), st.floats(0, 12))
def test_the_formulas_of_the_head_of_the_file_are_the_lengths_of_the_routes(
    n: int, p: float, reach: float, tail: float, t: float
) -> None:
    slant = math.hypot(reach, p)
    formulas = {
        "criss-cross": reach + 2 * (n - 1) * slant + 2 * n * t,
        "straight bar": n * reach + (n - 1) * p + 2 * n * t,
        "ladder": reach + 2 * (n - 1) * (reach + p) + (4 * n - 2) * t,
        "spiral": n * reach + (n - 1) * slant + 2 * n * t,
    }
    for name, length in formulas.items():
        found = path_length(LACE_PATHS[name], *_holes(n, p, reach), tail=tail, thickness=(t, t))
        assert found == pytest.approx(length + 2 * tail)


@pytest.mark.parametrize("path", list(LACE_PATHS), ids=lambda path: path.name)
@pytest.mark.parametrize("pairs", [2, 3, 6, 7])
def test_every_path_passes_every_hole_and_begins_at_the_first_left_one(path: LacePath, pairs: int) -> None:
    left, right = _holes(pairs, 20.0, 50.0)
    runs = lace_runs(path, left, right)
    assert {tuple(spot) for points, _ in runs for spot in points} == {tuple(spot) for spot in (*left, *right)}
    assert all(tuple(points[0]) == tuple(left[0]) for points, _ in runs)
    assert all(len(behind) == len(points) - 1 for points, behind in runs)


@pytest.mark.parametrize("name", ["criss-cross", "ladder"])
def test_two_working_ends_come_out_at_the_last_pair_one_on_each_side(name: str) -> None:
    left, right = _holes(5, 20.0, 50.0)
    first, second = (points[-1] for points, _ in lace_runs(LACE_PATHS[name], left, right))
    assert {tuple(first), tuple(second)} == {tuple(left[-1]), tuple(right[-1])}


def test_bars_are_seen_and_the_way_to_the_next_pair_is_behind() -> None:
    for name in ("straight bar", "spiral"):
        ((_, behind),) = lace_runs(LACE_PATHS[name], *_holes(3, 20.0, 50.0))
        assert behind == (False, True, False, True, False)


def test_uneven_holes_and_a_gap_that_spreads_are_measured_as_they_are() -> None:
    # hand count: bar 30 at the first pair; then from (0, 0) to (30 + 10, 30): 50; from (30, 0) to (0, 30): 30 √2
    left, right = np.array([(0.0, 0.0), (0.0, 30.0)]), np.array([(30.0, 0.0), (40.0, 30.0)])
    length = path_length(LACE_PATHS["criss-cross"], left, right)
    assert length == pytest.approx(30.0 + 50.0 + 30.0 * math.sqrt(2.0))


def test_thickness_counts_for_the_side_that_has_it() -> None:
    for path in LACE_PATHS:
        flat = path_length(path, *_holes(4, 20.0, 40.0))
        one_side = path_length(path, *_holes(4, 20.0, 40.0), thickness=(3.0, 0.0))
        other_side = path_length(path, *_holes(4, 20.0, 40.0), thickness=(0.0, 3.0))
        assert one_side - flat == pytest.approx(other_side - flat)
        assert one_side > flat


def test_what_cannot_be_laced_is_refused_and_a_former_name_says_the_new_one() -> None:
    with pytest.raises(InputError, match="same number of holes"):
        path_length(LACE_PATHS["spiral"], _holes(3, 20.0, 40.0)[0], _holes(4, 20.0, 40.0)[1])
    with pytest.raises(InputError, match="'crossover' is called 'criss-cross' now"):
        lace_path_of("crossover")
    with pytest.raises(InputError, match="no path called 'star'"):
        lace_path_of("star")
    with pytest.raises(InputError, match="two holes"):
        edge_lace_length("whip", [], inset=2.0, thickness=2.0)


def test_a_path_registered_from_outside_is_measured_like_the_others() -> None:
    loose = LacePath(
        "loose", "a bar through the last pair only", lambda n: (((0, 0), (1, n - 1)),), lambda a, b: False
    )
    LACE_PATHS.register(loose)
    try:
        assert path_length(lace_path_of("loose"), *_holes(2, 30.0, 40.0)) == pytest.approx(50.0)
    finally:
        LACE_PATHS.unregister("loose")
