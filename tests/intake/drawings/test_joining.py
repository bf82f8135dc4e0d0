"""Strokes to rings: gaps, doubles, crossings, holes; what is mended, what is refused, and what is told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.ring import area, perimeter
from nestplan.intake.drawings.joining import clean_rings, close_polylines
from nestplan.intake.drawings.polylines import Polyline
from nestplan.intake.drawings.reader import read_drawing
from tests.intake.small_drawings import areas, dxf
from tests.small_hides import RINGS


def sides(gap: float) -> Any:
    """A rectangle of 200 × 100 mm of four lines whose last end misses the first by `gap`."""

    def build(_document: Any, space: Any) -> None:
        space.add_line((0, 0), (200, 0))
        space.add_line((200, 0), (200, 100))
        space.add_line((200, 100), (0, 100))
        space.add_line((0, 100), (0, gap))

    return build


def test_a_gap_within_the_tolerance_is_joined_and_listed(tmp_path: Path) -> None:
    drawing = read_drawing(dxf(tmp_path / "a.dxf", sides(0.08)))
    (repair,) = drawing.repairs
    assert repair.slight
    assert repair.moved == pytest.approx(0.04)
    assert "0.08 mm" in repair.found
    assert areas(drawing) == pytest.approx([20_000], rel=1e-3)


def test_a_wider_gap_is_refused_with_its_place_and_width(tmp_path: Path) -> None:
    path = dxf(tmp_path / "a.dxf", sides(0.5))
    with pytest.raises(ShapeError, match=r"0\.5 mm from the nearest") as caught:
        read_drawing(path)
    assert "x 0.0, y 0.5 mm" in caught.value.place
    assert caught.value.file == str(path)
    assert areas(read_drawing(path, join=0.6)) == pytest.approx([20_000], rel=1e-2)
    drawing = read_drawing(path, repair=True)
    assert [repair.slight for repair in drawing.repairs] == [False]


def test_a_gap_too_wide_for_repair_leaves_the_line_out_and_says_so(tmp_path: Path) -> None:
    def build(document: Any, space: Any) -> None:
        sides(30)(document, space)
        space.add_lwpolyline([(300, 0), (400, 0), (400, 50)], close=True)

    drawing = read_drawing(dxf(tmp_path / "a.dxf", build), repair=True)
    assert areas(drawing) == pytest.approx([2500])
    assert ["left out" in repair.done for repair in drawing.repairs] == [True]


def test_lines_shorter_than_the_tolerance_do_not_confuse_the_joining(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        points = [(0, 0), (50, 0), (50.03, 0.01), (50.06, 0.02), (100, 0), (100, 50), (0, 50)]
        for start, end in zip(points, points[1:] + points[:1], strict=True):
            space.add_line(start, end)

    assert areas(read_drawing(dxf(tmp_path / "a.dxf", build))) == pytest.approx([5000], rel=1e-3)


def test_three_lines_that_meet_are_refused_with_their_place(tmp_path: Path) -> None:
    def build(document: Any, space: Any) -> None:
        sides(0)(document, space)
        space.add_line((200, 0), (250, 30))

    for repair in (False, True):
        with pytest.raises(ShapeError, match="Three or more lines") as caught:
            read_drawing(dxf(tmp_path / "a.dxf", build), repair=repair)
        assert caught.value.place == "x 200.0, y 0.0 mm"


def test_doubled_lines_and_outlines_are_left_out_and_listed(tmp_path: Path) -> None:
    def build(document: Any, space: Any) -> None:
        sides(0)(document, space)
        space.add_line((200, 0), (0, 0))
        for points in ([(300, 0), (400, 0), (400, 50)], [(400, 0), (400, 50), (300, 0)]):
            space.add_lwpolyline(points, close=True)

    drawing = read_drawing(dxf(tmp_path / "a.dxf", build))
    assert areas(drawing) == pytest.approx([20_000, 2_500])
    assert sorted(repair.found for repair in drawing.repairs) == [
        "the same line drawn twice",
        "the same outline drawn twice",
    ]


def test_an_outline_that_crosses_itself_is_refused_or_cut_to_its_largest_part(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_lwpolyline(
            [(0, 0), (200, 0), (200, 100), (1, 100), (0, 101), (0, 100.5), (1, 101)], close=True
        )

    path = dxf(tmp_path / "a.dxf", build)
    with pytest.raises(ShapeError, match="crosses or touches itself"):
        read_drawing(path)
    drawing = read_drawing(path, repair=True)
    assert areas(drawing) == pytest.approx([20_000], rel=0.01)
    assert "crosses itself" in drawing.repairs[0].found


def test_a_bow_tie_has_no_largest_part_and_is_always_refused(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (100, 100), (100, 0), (0, 100)], close=True)

    with pytest.raises(ShapeError, match="plainly the whole"):
        read_drawing(dxf(tmp_path / "a.dxf", build), repair=True)


def test_outlines_that_cross_each_other_are_refused_and_touching_ones_are_not(tmp_path: Path) -> None:
    def beside(shift: float) -> Any:
        def build(_document: Any, space: Any) -> None:
            space.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0, 100)], close=True)
            space.add_lwpolyline([(shift, 0), (shift + 100, 0), (shift + 100, 100), (shift, 100)], close=True)

        return build

    assert len(read_drawing(dxf(tmp_path / "a.dxf", beside(100))).outlines) == 2
    with pytest.raises(ShapeError, match="cross each other"):
        read_drawing(dxf(tmp_path / "b.dxf", beside(60)))


def test_rings_inside_rings_are_holes_and_islands_in_turn(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        for inset in (0, 10, 20, 30):
            low, high = inset, 100 - inset
            space.add_lwpolyline([(low, low), (high, low), (high, high), (low, high)], close=True)

    # Sizes drawn over each other look the same, so that it has to be said.
    drawing = read_drawing(dxf(tmp_path / "a.dxf", build), layers={"0": "outline"})
    assert areas(drawing) == pytest.approx([100**2 - 80**2, 60**2 - 40**2])
    assert [len(shape.holes) for shape in drawing.outlines] == [1, 1]


def test_a_hole_without_an_outline_round_it_is_refused(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_circle((0, 0), 10, dxfattribs={"layer": "HOLES"})

    with pytest.raises(ShapeError, match="lies in no outline"):
        read_drawing(dxf(tmp_path / "a.dxf", build))


def test_two_layers_are_never_joined_with_each_other(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (100, 0), (100, 50)], dxfattribs={"layer": "A"})
        space.add_lwpolyline([(100, 50), (0, 50), (0, 0)], dxfattribs={"layer": "B"})

    with pytest.raises(ShapeError, match="layer 'A'"):
        read_drawing(dxf(tmp_path / "a.dxf", build))


def test_a_table_of_layers_says_what_they_are(tmp_path: Path) -> None:
    def build(_document: Any, space: Any) -> None:
        space.add_lwpolyline(
            [(0, 0), (100, 0), (100, 50), (0, 50)], close=True, dxfattribs={"layer": "CUT 1"}
        )
        space.add_line((10, 10), (30, 10), dxfattribs={"layer": "PEN"})
        space.add_line((0, 0), (5, 5), dxfattribs={"layer": "OTHER"})

    path = dxf(tmp_path / "a.dxf", build)
    table = {"cut*": "outline", "PEN": "slit", "o*": "ignore"}
    drawing = read_drawing(path, layers=table)
    assert [mark.kind for mark in drawing.marks] == ["slit"]
    with pytest.raises(InputError, match="which is none") as caught:
        read_drawing(path, layers={"PEN": "knife"})
    assert "outline" in caught.value.mend


@pytest.mark.parametrize(
    ("name", "value"), [("tolerance", 0.0), ("tolerance", 6.0), ("join", -1.0), ("join", 11.0)]
)
def test_figures_out_of_range_are_refused(tmp_path: Path, name: str, value: float) -> None:
    with pytest.raises(InputError) as caught:
        read_drawing(dxf(tmp_path / "a.dxf", sides(0)), **{name: value})
    assert caught.value.place == name


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(sorted(RINGS)),
    seed=st.integers(0, 10_000),
    noise=st.sampled_from([0.0, 0.01, 0.03]),
)
def test_a_ring_cut_into_pieces_in_any_order_and_direction_is_the_same_ring(
    name: str, seed: int, noise: float
) -> None:
    rng = np.random.default_rng(seed)
    ring = RINGS[name]
    cuts = np.sort(rng.choice(len(ring), size=min(len(ring), int(rng.integers(1, 6))), replace=False))
    polylines = []
    for start, end in zip(cuts, np.roll(cuts, -1), strict=True):
        length = (end - start) % len(ring) or len(ring)
        points = ring[(start + np.arange(length + 1)) % len(ring)].copy()
        points[[0, -1]] += rng.uniform(-noise, noise, (2, 2))
        polylines.append(Polyline(points if rng.random() < 0.5 else points[::-1], False))
    order = rng.permutation(len(polylines))
    closed, loose, repairs = close_polylines([polylines[k] for k in order], join=0.1, repair=False)
    assert loose == []
    (found,) = closed
    assert len(found.points) == len(ring)
    assert area(found.points) == pytest.approx(area(ring), abs=2 * noise * perimeter(ring) + 1e-6)
    assert all(repair.slight for repair in repairs)
    assert bool(repairs) == (noise > 0.0)


def test_a_ring_that_runs_along_itself_thousands_of_times_is_refused_without_long_work() -> None:
    there = np.column_stack((np.random.default_rng(3).uniform(0, 300, 2000), np.zeros(2000)))
    ring = np.vstack((there, [(0, 100)]))
    with pytest.raises(ShapeError, match="too often to be mended"):
        clean_rings([Polyline(ring, closed=True)], repair=True)


def test_a_spiral_there_and_back_of_thousands_of_points_is_told_without_hanging() -> None:
    # Its repair by linework took longer than anybody waited.
    number = np.arange(1, 3001)
    out = number[:, None] / 3001 * 300.0 * np.column_stack((np.cos(0.3 * number), np.sin(0.3 * number)))
    spiral = np.vstack((out, out[::-1] * 1.0001)) + np.array((500.0, 0.0))
    ring = np.vstack(([(10, 10)], spiral, [(20, 10), (20, 20)]))
    with pytest.raises(ShapeError, match="no part of it is plainly the whole"):
        clean_rings([Polyline(ring, closed=True)], repair=True)
