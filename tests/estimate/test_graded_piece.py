"""What is on a piece goes with it into another size: holes with their edge, decoration as it was."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from nestplan.errors import NestplanError
from nestplan.estimate.graded_piece import GradedPiece
from nestplan.geometry.spread import Spread
from nestplan.model.mark_rows import Row
from nestplan.model.piece import Mark, Opening, Part, Piece

OUTLINE = ((0.0, 0.0), (110.0, 0.0), (128.0, 130.0), (64.0, 140.0), (4.0, 130.0))
HOLES = tuple(Mark(at=(12.0 + 4.0 * y / 130.0, y), do="punch", diameter=6.0) for y in range(20, 115, 18))
SPOTS = tuple(Mark(at=at, what="stud") for at in ((50.0, 60.0), (62.0, 60.0), (56.0, 72.0)))
WINDOW = ((50.0, 88.0), (70.0, 88.0), (70.0, 108.0), (50.0, 108.0))
changes = st.floats(-25, 60)


def graded(piece: Piece, wider: float, longer: float, keep: str = "as drawn") -> Piece:
    return GradedPiece(piece, Spread(wider), Spread(longer)).piece("larger", keep)  # type: ignore[arg-type]


def distances(piece: Piece, spots: list[tuple[float, float]]) -> list[float]:
    edge = shapely.LinearRing(piece.ring)
    return [edge.distance(shapely.Point(spot)) for spot in spots]


def from_left_edge(piece: Piece, spots: list[tuple[float, float]]) -> list[float]:
    edge = shapely.LineString((piece.ring[0], piece.ring[-1]))
    return [edge.distance(shapely.Point(spot)) for spot in spots]


def apart(spots: list[tuple[float, float]]) -> np.ndarray:
    places = np.array(spots)
    return np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))


@given(changes, changes)
def test_holes_beside_an_edge_keep_their_distance_from_it_and_from_each_other(
    wider: float, longer: float
) -> None:
    piece = Piece(name="front", outline=OUTLINE, marks=HOLES)
    larger = graded(piece, wider, longer)
    before, after = ([mark.at for mark in each.marks] for each in (piece, larger))
    assert apart(after) == pytest.approx(apart(before), abs=1e-3)
    assert from_left_edge(larger, after) == pytest.approx(from_left_edge(piece, before), abs=0.01)


@given(changes, changes)
def test_spots_and_openings_keep_their_size(wider: float, longer: float) -> None:
    piece = Piece(name="front", outline=OUTLINE, marks=SPOTS, holes=(WINDOW, Opening(outline=WINDOW)))
    larger = graded(piece, wider, longer)
    assert apart([mark.at for mark in larger.marks]) == pytest.approx(apart([m.at for m in SPOTS]), abs=1e-3)
    for opening in larger.openings:
        assert apart(list(opening.outline)) == pytest.approx(apart(list(WINDOW)), abs=1e-3)


@given(changes, changes)
def test_what_is_drawn_in_the_middle_stays_in_the_middle(wider: float, longer: float) -> None:
    piece = Piece(
        name="front",
        outline=((0, 0), (120, 0), (120, 100), (0, 100)),
        marks=tuple(Mark(at=at) for at in ((50, 50), (60, 50), (70, 50), (60, 40), (60, 60))),
        holes=(((40, 30), (80, 30), (80, 70), (40, 70)),),
    )
    larger = graded(piece, wider, longer)
    middle = (larger.ring.min(axis=0) + larger.ring.max(axis=0)) / 2.0
    assert np.mean([mark.at for mark in larger.marks], axis=0) == pytest.approx(middle, abs=1e-3)
    assert np.mean(larger.openings[0].ring, axis=0) == pytest.approx(middle, abs=1e-3)


@given(changes, changes)
def test_holes_all_round_the_edge_stay_as_far_from_it(wider: float, longer: float) -> None:
    round_about = [(x, y) for x in (10, 35, 60, 85, 110) for y in (10, 90)] + [
        (x, y) for x in (10, 110) for y in (30, 50, 70)
    ]
    piece = Piece(
        name="pouch",
        outline=((0, 0), (120, 0), (120, 100), (0, 100)),
        marks=tuple(Mark(at=at, do="punch", diameter=4.0) for at in round_about),
    )
    larger = graded(piece, wider, longer)
    assert distances(larger, [mark.at for mark in larger.marks]) == pytest.approx(
        [10.0] * len(round_about), abs=0.01
    )


@given(changes, changes, st.sampled_from(("as drawn", "pitch", "number")), st.booleans())
def test_a_row_keeps_its_inset_and_what_it_is_told_to_keep(
    wider: float, longer: float, keep: str, by_pitch: bool
) -> None:
    count = {"pitch": 15.0} if by_pitch else {"number": 7}
    row = Row(name="lacing", start=(4.0, 130.0), end=(0.0, 0.0), inset=12.0, ends=5.0, diameter=5.0, **count)
    piece = Piece(name="front", outline=OUTLINE, rows=(row,))
    larger = graded(piece, wider, longer, keep)
    before, after = ([mark.at for mark in each.all_marks] for each in (piece, larger))
    assert distances(larger, after) == pytest.approx([12.0] * len(after), abs=0.05)
    steps = [math.dist(*pair) for pair in pairwise(after)]
    drawn = math.dist(before[0], before[1])
    if keep == "number" or (keep == "as drawn" and not by_pitch):
        assert len(after) == len(before)
        assert steps == pytest.approx([steps[0]] * len(steps), abs=1e-3)
    else:
        assert steps == pytest.approx([drawn] * len(steps), abs=0.01)


def test_a_row_from_edge_to_edge_reaches_as_far_and_a_short_one_keeps_its_size() -> None:
    square = ((0, 0), (120, 0), (120, 100), (0, 100))
    across = Row(name="across", along="line", start=(10, 50), end=(110, 50), number=6, diameter=4.0)
    short = Row(name="short", along="line", start=(50, 40), end=(70, 40), number=3, do="mark")
    larger = graded(Piece(name="flap", outline=square, rows=(across, short)), 40.0, 0.0)
    assert larger.rows[0].start == pytest.approx((10, 50))
    assert larger.rows[0].end == pytest.approx((150, 50))
    assert larger.rows[1].start == pytest.approx((70, 40))
    assert larger.rows[1].end == pytest.approx((90, 40))


def test_slits_beside_an_edge_turn_with_it() -> None:
    slit = Mark(at=(112.0, 60.0), do="slit", length=8.0, angle=round(math.degrees(math.atan2(130, 18)), 4))
    larger = graded(Piece(name="front", outline=OUTLINE, marks=(slit,)), 0.0, 50.0)
    assert larger.marks[0].angle == pytest.approx(math.degrees(math.atan2(180, 18)), abs=0.01)


def test_a_part_at_the_edge_grows_with_it_and_stays_inside() -> None:
    part = Part(outline=((0, 0), (110, 0), (118, 58), (2, 65)), least_firmness=3)
    larger = graded(Piece(name="front", outline=OUTLINE, parts=(part,)), 30.0, 20.0)
    assert shapely.Polygon(larger.ring).buffer(0.01).contains(shapely.Polygon(larger.parts[0].ring))
    assert np.ptp(larger.parts[0].ring[:, 0]) > np.ptp(part.ring[:, 0]) + 25.0


def test_everything_else_of_the_piece_is_as_it_was() -> None:
    piece = Piece(
        name="front", outline=OUTLINE, pair=True, count=2, mates_near=True, seams=400.0, note="soft"
    )
    larger = graded(piece, 20.0, 10.0)
    assert (larger.pair, larger.count, larger.mates_near, larger.note) == (True, 2, True, "soft")
    assert larger.seams is not None
    assert larger.seams > 400.0


def test_spots_that_have_no_room_together_any_more_stay_on_the_piece_each_in_its_place() -> None:
    square = ((0, 0), (120, 0), (120, 100), (0, 100))
    spots = tuple(Mark(at=at, what="stud") for at in ((30, 50), (60, 50), (90, 50), (60, 85), (60, 15)))
    smaller = graded(Piece(name="flap", outline=square, marks=spots), -45.0, -38.0)
    assert all(shapely.Polygon(smaller.ring).contains(shapely.Point(mark.at)) for mark in smaller.marks)


@given(st.integers(0, 10_000), st.floats(-0.3, 0.5), st.floats(-0.3, 0.5))
def test_any_shape_is_made_larger_or_refused_in_words(seed: int, wider: float, longer: float) -> None:
    random = np.random.default_rng(seed)
    turns = np.sort(random.uniform(0.0, 2.0 * np.pi, int(random.integers(3, 24))))
    ring = np.round(
        np.column_stack((np.cos(turns), np.sin(turns))) * random.uniform(25, 150, (len(turns), 1)), 2
    )
    assume(shapely.Polygon(ring).is_valid and shapely.Polygon(ring).area > 200.0)
    piece = Piece(name="star", outline=tuple(map(tuple, ring.tolist())))
    width, height = np.ptp(ring, axis=0)
    try:
        made = graded(piece, wider * width, longer * height)
    except NestplanError:
        return
    assert shapely.Polygon(made.ring).is_valid
    assert np.ptp(made.ring, axis=0) == pytest.approx(((1 + wider) * width, (1 + longer) * height), abs=1e-3)
