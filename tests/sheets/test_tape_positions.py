from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.pose import Pose
from nestplan.model import Hide
from nestplan.sheets.tape_positions import anchor_points, piece_anchors, tape_frame, tape_position
from tests.sheets.sample_plans import belt_job, belt_plan, front, lay, side


def test_a_lies_at_the_tail_and_b_at_the_neck() -> None:
    hide = side()
    frame = tape_frame(hide)
    assert hide.backbone is not None
    assert frame.a == hide.backbone[-1]
    assert frame.b == hide.backbone[0]
    assert frame.has_backbone
    assert not frame.two_sided


def test_many_points_are_located_as_each_by_itself() -> None:
    frame = tape_frame(side())
    ring = side().ring
    assert frame.locate(ring) == pytest.approx(
        np.array([(frame.along((x, y)), frame.across((x, y))) for x, y in ring.tolist()])
    )


def test_without_a_backbone_a_rule_is_laid_along_the_longest_edge() -> None:
    offcut = Hide(name="o", leather="l", outline=((0, 0), (400, 30), (390, 280), (10, 260)))
    frame = tape_frame(offcut)
    assert (frame.a, frame.b) == ((0.0, 0.0), (400.0, 30.0))
    assert not frame.has_backbone
    assert not frame.two_sided


def test_without_a_long_edge_a_and_b_are_the_points_farthest_apart() -> None:
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    disc = Hide(
        name="d", leather="l", outline=tuple(zip(500 * np.cos(turns), 400 * np.sin(turns), strict=True))
    )
    frame = tape_frame(disc)
    assert frame.span == pytest.approx(1000.0)
    assert frame.two_sided


def test_nothing_on_the_hide_lies_behind_the_rear_edge() -> None:
    hide = Hide(
        name="h", leather="l", outline=((-50, -300), (900, -300), (1000, 0), (900, 300), (-80, 250), (0, 0)),
        backbone=((1000, 0), (0, 0)),
    )  # fmt: skip
    frame = tape_frame(hide)
    assert frame.rear == pytest.approx(80.0)
    assert min(frame.along((float(x), float(y))) for x, y in hide.ring) == pytest.approx(0.0)


@given(st.floats(0, 1500), st.floats(-600, 600), st.floats(0, 359))
def test_the_two_distances_and_the_side_find_the_point_again(
    along: float, across: float, turn: float
) -> None:
    pose = Pose(123.0, -45.0, turn)
    ends = pose.apply(np.array(((1600.0, 0.0), (0.0, 0.0))))
    outline = pose.apply(np.array(((0.0, -700.0), (1600.0, -700.0), (1600.0, 700.0), (0.0, 700.0))))
    hide = Hide(
        name="h",
        leather="l",
        outline=tuple(map(tuple, outline.tolist())),
        backbone=tuple(map(tuple, ends.tolist())),
    )
    frame = tape_frame(hide)
    spot = frame.point_at(along, across)
    assert frame.along(spot) == pytest.approx(along, abs=1e-6)
    assert frame.across(spot) == pytest.approx(across, abs=1e-6)
    to_a, to_b = frame.from_marks(spot)
    # Two arcs round A and B meet at the point: how a maker finds it with two tapes.
    forward = (to_a**2 - to_b**2 + frame.span**2) / (2 * frame.span)
    aside = math.sqrt(max(to_a**2 - forward**2, 0.0))
    assert forward + frame.rear == pytest.approx(along, abs=1e-5)
    assert aside == pytest.approx(abs(across), abs=1e-2)


def test_p_and_q_are_the_same_corners_on_every_copy_also_turned_over() -> None:
    job, hide = belt_job(), side()
    frame = tape_frame(hide)
    p, q = piece_anchors(front().ring)
    for pose in (Pose(100, 200), Pose(400, 300, 77.0), Pose(900, 300, 205.0, True)):
        placed = lay(job, hide, "front", "outer", pose)
        laid = pose.apply(np.array((p, q)))
        assert np.allclose(anchor_points(job, placed, frame), laid)


def test_a_strips_p_and_q_lie_on_its_edge_nearest_to_the_backbone() -> None:
    plan, job, hides = belt_plan()
    frame = tape_frame(hides[0])
    first = plan.placements[0]
    assert first.strip
    p, q = anchor_points(job, first, frame)
    assert p == pytest.approx((400.0, 20.0))
    assert q == pytest.approx((1500.0, 20.0))


def test_the_turn_is_told_against_the_backbone_wherever_the_hide_lies() -> None:
    hide = side()
    whole = Pose(10.0, 20.0, 33.0)
    turned = msgspec.structs.replace(
        hide,
        outline=tuple(map(tuple, whole.apply(hide.ring).tolist())),
        backbone=tuple(map(tuple, whole.apply(np.array(hide.backbone)).tolist())),
        flaws=(),
        regions=(),
    )
    p, q = (300.0, 200.0), (500.0, 320.0)
    laid = [tuple(spot) for spot in whole.apply(np.array((p, q))).tolist()]
    one = tape_position(tape_frame(hide), p, q)
    other = tape_position(tape_frame(turned), laid[0], laid[1])
    assert one.turn == pytest.approx(math.degrees(math.atan2(120, 200)))
    for name in ("p_along", "p_across", "p_a", "p_b", "q_a", "q_b", "turn"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-6)
