"""What the audit measures with, against plain distances by shapely."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from nestplan.model import Region
from nestplan.model.audit_geometry import (
    DEPTH_TOLERANCE,
    AuditedHide,
    angle_between_axes,
    depth_inside,
    overlaps,
    reaches_into,
    sticks_out_of,
)
from tests.small_jobs import flawed_hide, plain_hide

BOX = shapely.box(0.0, 0.0, 100.0, 60.0)


@given(st.floats(-0.05, 0.05), st.floats(1.0, 2000.0), st.floats(0.0, 360.0))
@settings(max_examples=80)
def test_an_overlap_is_as_deep_as_one_shape_is_pushed_into_the_other_however_long_it_is(
    push: float, length: float, turn: float
) -> None:
    if abs(push - DEPTH_TOLERANCE) < 1e-4:
        return
    lower, upper = shapely.box(0, -10, length, push), shapely.box(0, 0, length, 10)
    lower, upper = (affinity.rotate(each, turn, origin=(0, 0)) for each in (lower, upper))
    assert overlaps(lower, upper) == (push > DEPTH_TOLERANCE)
    if push > DEPTH_TOLERANCE:
        assert depth_inside(lower, upper) == pytest.approx(push, abs=1e-3)


@pytest.mark.parametrize("angle", [5.0, 20.0, 60.0, -30.0])
def test_a_sharp_tip_counts_by_how_far_it_reaches_not_by_its_area(angle: float) -> None:
    tip = affinity.rotate(shapely.Polygon([(0, 0), (50, -2), (50, 2)]), angle, origin=(0, 0))
    for depth, deep in ((0.02, True), (0.008, False)):
        # The deepest point of the tip lies `depth` left of the box's right side.
        moved = affinity.translate(tip, 100.0 - depth - tip.bounds[0], 30.0)
        assert reaches_into(moved, BOX) == deep
        assert moved.intersection(BOX).area < 0.01


def test_what_only_touches_does_not_reach_into_or_stick_out() -> None:
    assert not overlaps(BOX, shapely.box(100.0, 0.0, 200.0, 60.0))
    assert not sticks_out_of(shapely.box(0, 0, 50, 60), BOX)
    assert not sticks_out_of(shapely.box(-0.009, 0, 50, 60), BOX)
    assert sticks_out_of(shapely.box(-0.011, 0, 50, 60), BOX)


def test_axes_are_compared_whichever_way_they_point() -> None:
    assert angle_between_axes(10.0, 190.0) == pytest.approx(0.0)
    assert angle_between_axes(-5.0, 175.0) == pytest.approx(0.0)
    assert angle_between_axes(0.0, 90.0) == 90.0
    assert angle_between_axes(179.0, 1.0) == pytest.approx(2.0)


@pytest.mark.parametrize("margin", [0.0, 10.0])
def test_a_flaw_is_too_near_within_its_margin_and_covered_only_where_it_lies(margin: float) -> None:
    (flaw,) = AuditedHide(flawed_hide("grain", margin=margin), 0.0).flaws
    edge = flaw.area.bounds[2]
    for gap, near in ((margin - 0.02, True), (margin - 0.005, False), (margin, False)):
        shape = shapely.box(edge + gap, 300.0, edge + gap + 50.0, 500.0)
        assert flaw.is_too_near(shape) == near
    assert not flaw.is_covered_by(shapely.box(edge + 0.001, 300.0, edge + 50.0, 500.0))
    assert flaw.is_covered_by(shapely.box(edge - 0.05, 300.0, edge + 50.0, 500.0))


def test_a_region_s_stretch_is_its_own_or_else_the_hide_s() -> None:
    outline = ((0, 0), (500, 0), (500, 800), (0, 800))
    for stretch, found in ((None, 90.0), (200.0, 20.0), ("all", "all")):
        hide = plain_hide(regions=(Region(name="r", outline=outline, stretch=stretch),))
        region, rest = AuditedHide(hide, 0.0).zones
        assert region.stretch == (found if isinstance(found, str) else pytest.approx(found))
        assert rest.stretch == pytest.approx(90.0)
    assert AuditedHide(plain_hide(backbone=None), 0.0).zones[-1].stretch is None
