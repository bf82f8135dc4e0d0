"""A graded pattern keeps its seams and holes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, RuleError
from nestplan.estimate.grading import SizeChange, grade_piece, grade_points, grade_ring
from nestplan.model.piece import Mark, Piece, Row

PANEL = np.array([[0.0, 0.0], [200.0, -10.0], [220.0, 180.0], [110.0, 150.0], [-20.0, 180.0]])
LEFT_HOLES = np.array([[14.0, 20.0], [14.0, 50.0], [14.0, 80.0]])
RIGHT_HOLES = LEFT_HOLES + np.array([172.0, 0.0])


@given(st.floats(-100, 300))
def test_holes_keep_their_distance_to_each_other_and_to_the_seam(change: float) -> None:
    widen = SizeChange("x", ((40.0, 160.0),), change)
    left, right = grade_points(LEFT_HOLES, [widen]), grade_points(RIGHT_HOLES, [widen])
    assert left == pytest.approx(LEFT_HOLES)
    assert right == pytest.approx(RIGHT_HOLES + np.array([change, 0.0]))
    seam = grade_points(np.array([[200.0, -10.0], [220.0, 180.0]]), [widen])
    assert seam == pytest.approx(np.array([[200.0 + change, -10.0], [220.0 + change, 180.0]]))


@given(st.floats(-60, 200), st.floats(-30, 100))
def test_the_size_changes_by_what_was_asked(wider: float, taller: float) -> None:
    graded = grade_ring(
        PANEL,
        [SizeChange("x", ((40.0, 100.0), (120.0, 160.0)), wider), SizeChange("y", ((40.0, 140.0),), taller)],
    )
    before, after = np.ptp(PANEL, axis=0), np.ptp(graded, axis=0)
    assert after - before == pytest.approx([wider, taller])
    assert shapely.Polygon(graded).is_valid


def test_a_band_of_a_rectangle_grows_by_its_area() -> None:
    graded = grade_ring([[0, 0], [100, 0], [100, 50], [0, 50]], [SizeChange("x", ((20.0, 80.0),), 30.0)])
    assert shapely.Polygon(graded).area == pytest.approx(130.0 * 50.0)
    assert len(graded) == 8


def test_slanting_edges_keep_their_slope_outside_the_free_band() -> None:
    """The lower edge falls 10 mm over 200: outside 40..160 it still does after grading."""
    graded = grade_ring(PANEL, [SizeChange("x", ((40.0, 160.0),), 80.0)])
    lower = shapely.Polygon(graded).exterior
    for start, end in (((0.0, 0.0), (40.0, -2.0)), ((240.0, -8.0), (280.0, -10.0))):
        assert lower.distance(shapely.Point(start)) < 1e-9
        assert lower.distance(shapely.Point(end)) < 1e-9


def test_a_graded_piece_keeps_its_holes_beside_the_seams_and_all_its_rules() -> None:
    marks = tuple(
        Mark(at=(x, y), do="punch", diameter=8.0) for x, y in np.vstack([LEFT_HOLES, RIGHT_HOLES]).tolist()
    )
    piece = Piece(name="front", outline=tuple(map(tuple, PANEL.tolist())), marks=marks, pair=True, count=2)
    larger = grade_piece(piece, [SizeChange("x", ((40.0, 160.0),), 30.0)], name="front large")
    assert (larger.name, larger.pair, larger.count) == ("front large", True, 2)
    assert [mark.at[0] for mark in larger.marks] == pytest.approx([14.0] * 3 + [216.0] * 3)
    assert [mark.at[1] for mark in larger.marks] == pytest.approx([mark.at[1] for mark in piece.marks])
    assert larger.net_area > piece.net_area


def test_impossible_control_lines_are_refused() -> None:
    with pytest.raises(InputError):
        SizeChange("x", (), 10.0)
    with pytest.raises(InputError):
        SizeChange("x", ((10.0, 60.0), (50.0, 90.0)), 10.0)
    with pytest.raises(RuleError, match="leaves nothing"):
        SizeChange("x", ((10.0, 60.0),), -50.0)
    with pytest.raises(RuleError, match="Taking away 2 in leaves nothing of the free 1 1/2 in"):
        SizeChange("x", ((0.0, 38.1),), -50.8, "in")


def test_a_row_keeps_its_inset_and_its_pitch_or_its_number_in_every_size() -> None:
    def row(name: str, **fields: float) -> Row:
        return Row(name=name, start=(150.0, 0.0), end=(150.0, 80.0), inset=9.0, diameter=4.5, **fields)  # type: ignore[arg-type]

    rows = (row("pitched", pitch=15.0), row("counted", number=5))
    piece = Piece(name="p", outline=((0, 0), (150, 0), (150, 80), (0, 80)), rows=rows)
    larger = grade_piece(
        piece, [SizeChange("x", ((40.0, 90.0),), 20.0), SizeChange("y", ((20.0, 60.0),), 30.0)]
    )
    pitched, counted = (np.array([mark.at for mark in marks]) for marks in larger.marks_of_rows)
    # hand count: the side is 110 high, the line of the holes 92; 6 steps of 15 fit before, and 5 holes stay 5
    assert len(pitched) == 7
    np.testing.assert_allclose(np.diff(pitched[:, 1]), 15.0, atol=2e-4)
    np.testing.assert_allclose(counted[:, 1], 9.0 + 23.0 * np.arange(5), atol=2e-4)
    np.testing.assert_allclose(np.concatenate((pitched, counted))[:, 0], 170.0 - 9.0, atol=2e-4)
