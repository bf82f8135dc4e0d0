"""An outline mended with a brush: grown, cut back, opened, and refused where that makes no sense."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestplan.errors import InputError
from nestplan.intake.photo.brush import brushed_outline
from nestplan.intake.photo.outline import Outline
from tests.intake.photo_scenes import ellipse, invented_outline
from tests.work_time import WorkTime

SQUARE = np.array([[0.0, 0], [1000, 0], [1000, 800], [0, 800]])


def area_of(outline: Outline) -> float:
    return float(shapely.Polygon(outline.exterior, outline.holes).area)


def test_a_stroke_across_the_edge_grows_the_outline_by_what_lies_outside() -> None:
    grown = brushed_outline(Outline(SQUARE, (), 1.5), [(900, 400), (1100, 400)], 60, grows=True)
    assert area_of(grown) == pytest.approx(800_000 + 100 * 60 + np.pi * 30**2 / 2, rel=1e-4)
    assert shapely.Polygon(grown.exterior).contains(shapely.Point(1120, 400))
    assert shapely.Polygon(grown.exterior).exterior.is_ccw


def test_a_stroke_along_the_edge_cuts_it_back() -> None:
    cut = brushed_outline(Outline(SQUARE, (), 1.5), [(1000, -100), (1000, 900)], 60, grows=False)
    assert area_of(cut) == pytest.approx(800_000 - 30 * 800, rel=1e-6)


def test_of_what_a_cut_parts_the_largest_part_is_kept() -> None:
    cut = brushed_outline(Outline(SQUARE, (), 1.5), [(300, -100), (300, 900)], 20, grows=False)
    assert cut.exterior[:, 0].min() == pytest.approx(310)


def test_a_cut_in_the_middle_is_an_opening_and_paint_closes_it() -> None:
    opened = brushed_outline(Outline(SQUARE, (), 1.5), [(500, 400)], 80, grows=False)
    assert np.array_equal(opened.exterior, SQUARE)
    assert len(opened.holes) == 1
    assert shapely.Polygon(opened.holes[0]).area == pytest.approx(np.pi * 40**2, rel=0.02)
    assert shapely.Polygon(opened.holes[0]).exterior.is_ccw
    closed = brushed_outline(opened, [(460, 400), (540, 400)], 120, grows=True)
    assert closed.holes == ()
    assert area_of(closed) == pytest.approx(800_000)


def test_openings_that_are_not_painted_stay() -> None:
    holed = Outline(SQUARE, (ellipse(np.array([200.0, 200]), 20, 20, 0.0),), 1.5)
    grown = brushed_outline(holed, [(900, 400), (1100, 400)], 60, grows=True)
    assert len(grown.holes) == 1
    assert shapely.Polygon(grown.holes[0]).area == pytest.approx(shapely.Polygon(holed.holes[0]).area)


def test_a_stroke_apart_from_the_hide_and_one_over_all_of_it_are_refused() -> None:
    with pytest.raises(InputError, match="does not touch"):
        brushed_outline(Outline(SQUARE, (), 1.5), [(2000, 400)], 60, grows=True)
    with pytest.raises(InputError, match="Nothing would be left"):
        brushed_outline(Outline(SQUARE, (), 1.5), [(-100, 400), (1100, 400)], 2000, grows=False)


def test_a_long_stroke_over_a_fine_outline_is_done_in_less_than_three_tenths_of_a_second() -> None:
    outline = Outline(invented_outline("side", 4), (), 1.5)
    stroke = [(float(x), 40 * np.sin(x / 20)) for x in range(0, 2000, 2)]
    times = []
    for _ in range(3):
        start = WorkTime()
        brushed_outline(outline, stroke, 30, grows=True)
        times.append(start.seconds)
    assert min(times) < 0.3
