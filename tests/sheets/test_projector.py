from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.table_projection import calibrate
from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.projector import (
    hide_on_table,
    projected_lines,
    projector_steps,
)
from tests.sheets.sample_plans import belt_plan

CORNERS = np.array(((210.0, 900.0), (1700.0, 940.0), (1610.0, 160.0), (280.0, 120.0)))
shift = st.floats(-100.0, 100.0)


@given(st.floats(0, 359), shift, shift)
def test_the_hide_lies_where_two_of_its_points_were_found(turn: float, x: float, y: float) -> None:
    truth = Pose(x, y, turn)
    on_hide = np.array(((0.0, 0.0), (1800.0, 40.0)))
    pose = hide_on_table(on_hide, truth.apply(on_hide))
    points = np.array(((10.0, 20.0), (500.0, 700.0)))
    assert np.abs(pose.apply(points) - truth.apply(points)).max() < 1e-6


def test_an_error_of_the_tape_is_shared_by_both_ends() -> None:
    pose = hide_on_table(np.array(((0.0, 0.0), (1000.0, 0.0))), np.array(((0.0, 0.0), (1004.0, 0.0))))
    assert pose.apply(np.array(((0.0, 0.0), (1000.0, 0.0)))).tolist() == [[2.0, 0.0], [1002.0, 0.0]]
    with pytest.raises(InputError, match="the same"):
        hide_on_table(np.zeros((2, 2)), np.array(((0.0, 0.0), (5.0, 5.0))))


def test_the_steps_follow_the_cutting_order() -> None:
    plan, job, hides = belt_plan()
    steps = projector_steps(plan, job, hides[0])
    order = cutting_steps(plan, job, hides[0])
    assert [step.label for step in steps] == [cut.label for cut in order]
    assert [len(step.cut) for step in steps] == [len(cut.members) for cut in order]
    assert steps[0].words == "4 × waist strap"
    assert any(step.words.endswith("turned over") for step in steps)
    lined = projector_steps(plan, job, hides[1])
    assert all(len(step.finished) == 1 for step in lined)


def test_a_step_shows_what_is_cut_now_on_top_of_the_rest() -> None:
    plan, job, hides = belt_plan()
    steps = projector_steps(plan, job, hides[0])
    calibration, pose = calibrate(CORNERS, 2000.0, 1000.0), Pose(40.0, 60.0, 3.0)
    lines = projected_lines(calibration, pose, hides[0], steps, 2)
    roles = [line.role for line in lines]
    assert roles[0] == "hide"
    assert roles[-1] == "cut now"
    assert roles.count("cut already") == sum(len(step.cut) for step in steps[:2])
    assert roles.count("later") == sum(len(step.cut) for step in steps[3:])
    wanted = calibration.pixels(pose.apply(steps[2].cut[0]))
    assert np.abs(lines[-1].pixels - wanted).max() < 1e-9
    with pytest.raises(InputError, match="no step"):
        projected_lines(calibration, pose, hides[0], steps, len(steps))


def test_a_hide_with_nothing_left_to_cut_still_shows_its_edge() -> None:
    _, _, hides = belt_plan()
    lines = projected_lines(calibrate(CORNERS, 2000.0, 1000.0), Pose(0.0, 0.0), hides[0], (), 0)
    assert [line.role for line in lines] == ["hide"]
