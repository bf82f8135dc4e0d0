"""Strips against counts that can be worked out by hand, and against GEOS."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from nestplan.nesting.construct import strips
from nestplan.nesting.construct.strips import STEPS_PER_WIDTH, StripRequest, lay_strips


def most_strips(
    area: shapely.Geometry, width: float, length: float, *, direction: float = 0.0, tolerance: float = 0.0
) -> int:
    """How many strips of width x length the area holds along a direction, mm and degrees."""
    count = int(area.area / (width * length)) + 1
    return lay_strips(
        area, [StripRequest(0, width, length, count)], direction=direction, tolerance=tolerance
    ).laid(0)


def inside_and_apart(area, parts) -> None:
    # Rounded as in a plan's file: on coordinates that differ in the last bit alone, GEOS 3.13 can return one
    # of two rectangles that share an edge as their intersection.
    shapes = [shapely.Polygon(part.ring.round(4)) for part in parts]
    for shape in shapes:
        assert shape.difference(area).area < 0.01
    if not shapes:
        return
    tree = shapely.STRtree(shapes)
    for i, j in zip(*tree.query(shapes, predicate="intersects"), strict=True):
        if i < j:
            assert shapes[i].intersection(shapes[j]).area < 0.01


@pytest.mark.parametrize(
    ("wide", "high", "width", "length", "count"),
    [
        (1000, 300, 30, 1000, 10),
        (1000, 299.9, 30, 1000, 9),
        (2000, 300, 30, 999, 20),
        (999, 300, 30, 1000, 0),
    ],
)
def test_a_rectangle_holds_as_many_strips_as_rows_times_columns(wide, high, width, length, count):
    area = shapely.box(0, 0, wide, high)
    layout = lay_strips(area, [StripRequest(0, width, length, 100)])
    assert layout.laid(0) == count
    inside_and_apart(area, layout.parts)


@pytest.mark.parametrize("turn", [0.0, 17.3, 90.0, 133.7])
def test_a_turned_rectangle_holds_the_same_number_along_its_own_direction(turn):
    area = affinity.rotate(shapely.box(0, 0, 1000.01, 300.01), turn)
    assert most_strips(area, 30, 1000, direction=turn) == 10
    inside_and_apart(area, lay_strips(area, [StripRequest(0, 30, 1000, 10)], direction=turn).parts)


def test_the_direction_of_a_straight_edge_is_found_within_the_tolerance():
    area = affinity.rotate(shapely.box(0, 0, 1000.01, 300.01), 7.77)
    assert most_strips(area, 30, 1000, direction=0.0, tolerance=10.0) == 10
    assert most_strips(area, 30, 1000, direction=0.0, tolerance=2.0) < 10


def test_a_flaw_in_the_middle_stops_the_rows_it_touches_and_no_others():
    area = shapely.box(0, 0, 1000, 300).difference(shapely.box(490, 140, 510, 160))
    assert most_strips(area, 20, 1000) == 14
    assert most_strips(area, 20, 490) == 30


def test_rows_start_anew_beyond_a_flaw():
    area = shapely.box(0, 0, 1000, 205).difference(shapely.box(490, 100, 510, 105))
    layout = lay_strips(area, [StripRequest(0, 20, 1000, 50)])
    assert layout.laid(0) == 10
    assert layout.bundles == 2


def test_a_triangle_holds_what_its_sides_allow():
    area = shapely.Polygon([(0, 0), (1000, 0), (0, 1000)])
    assert most_strips(area, 100, 500) == 5
    assert most_strips(area, 100, 100) == 9 + 8 + 7 + 6 + 5 + 4 + 3 + 2 + 1


def test_one_unbroken_stack_is_preferred_when_it_suffices():
    area = shapely.box(0, 0, 1000, 500).difference(shapely.box(400, 200, 600, 220))
    layout = lay_strips(area, [StripRequest(0, 25, 1000, 6)])
    assert (layout.laid(0), layout.bundles) == (6, 1)


def test_short_strips_go_into_the_rows_that_long_ones_leave():
    area = shapely.box(0, 0, 1500, 100)
    layout = lay_strips(area, [StripRequest(0, 25, 1000, 4), StripRequest(1, 25, 500, 4)])
    assert layout.missing == ()
    inside_and_apart(area, layout.parts)


def test_strips_of_other_widths_start_at_the_edge_already_struck():
    area = shapely.box(0, 0, 1000, 100)
    layout = lay_strips(area, [StripRequest(0, 37, 1000, 1), StripRequest(1, 21, 1000, 3)])
    assert layout.missing == ()
    inside_and_apart(area, layout.parts)


def test_a_joined_strip_loses_its_overlap_and_keeps_its_least_part():
    area = shapely.box(0, 0, 700, 60)
    request = StripRequest(0, 20, 1000, 1, least_part=250, overlap=40, most_parts=3)
    layout = lay_strips(area, [request])
    parts = layout.parts
    assert layout.missing == ()
    assert sum(p.length for p in parts) - 40 * (len(parts) - 1) == pytest.approx(1000)
    assert min(p.length for p in parts) >= 250
    inside_and_apart(area, parts)


def test_a_join_shortens_the_long_part_rather_than_leave_a_stub():
    area = shapely.box(0, 0, 950, 60)
    layout = lay_strips(area, [StripRequest(0, 20, 1000, 1, least_part=300, overlap=0)])
    assert sorted(p.length for p in layout.parts) == pytest.approx([300, 700])


def test_what_cannot_be_laid_is_counted_as_missing():
    layout = lay_strips(shapely.box(0, 0, 500, 100), [StripRequest(3, 20, 1000, 7)])
    assert layout.missing == ((3, 7),)
    assert lay_strips(shapely.Polygon(), [StripRequest(3, 20, 1000, 7)]).missing == ((3, 7),)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.floats(0, 180))
def test_strips_lie_on_the_area_and_apart_on_any_star_shaped_hide(seed, direction):
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * math.pi, 25))
    radii = rng.uniform(300, 700, 25)
    area = shapely.Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)])).buffer(0)
    for _ in range(4):
        x, y = rng.uniform(-300, 300, 2)
        area = area.difference(shapely.Point(x, y).buffer(rng.uniform(5, 40)))
    requests = [
        StripRequest(0, 25, 400, 12),
        StripRequest(1, 25, 150, 12),
        StripRequest(2, 11, 200, 9, 80.0, 10.0, 3),
    ]
    layout = lay_strips(area, requests, direction=direction)
    inside_and_apart(area, layout.parts)
    for request in requests:
        assert layout.laid(request.kind) + dict(layout.missing).get(request.kind, 0) == request.count


def shortest_run_row_by_row(counts: list[int], wanted: int) -> list[int]:
    """The same as `strips._shortest_run`, looked for from every row on."""
    best: tuple[int, int, int, list[int]] | None = None
    for first in range(len(counts)):
        total, row, run = 0, first, []
        while total < wanted and row < len(counts) and counts[row] > 0:
            total += counts[row]
            run.append(row)
            row += STEPS_PER_WIDTH
        if total >= wanted:
            rank = len(run), min(first, len(counts) - 1 - run[-1]), first, run
            best = rank if best is None else min(best, rank)
    return best[3] if best else []


@given(st.lists(st.integers(0, 3), min_size=1, max_size=80), st.integers(1, 12))
@settings(deadline=None)
def test_the_shortest_unbroken_stack_is_the_one_found_row_by_row(counts, wanted):
    found = strips._shortest_run(np.array(counts, np.int64), wanted)
    assert found == shortest_run_row_by_row(counts, wanted)
