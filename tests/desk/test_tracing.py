"""Drawing tools by themselves, with made-up pointer moves: no window, no Qt."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nestplan.desk.table.tracing import DiscTool, PointerPosition, PointsTool, StrokeTool, TraceTool

RING = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], dtype=float)


def click(tool, *at, shift=False):
    tool.press(PointerPosition(at, 5, shift))
    tool.release(PointerPosition(at, 5, shift))


def test_clicking_the_first_point_closes_an_outline():
    done = []
    tool = TraceTool(done.append)
    for at in ((0, 0), (100, 0), (100, 50)):
        click(tool, *at)
    click(tool, 2, 1)
    assert done == [((0, 0), (100, 0), (100, 50))]
    assert tool.points == []


def test_two_points_close_nothing_and_backspace_takes_one_back():
    done = []
    tool = TraceTool(done.append)
    click(tool, 0, 0)
    click(tool, 100, 0)
    assert tool.key("enter")
    assert done == []
    tool.key("backspace")
    assert tool.points == [(0, 0)]


def test_a_freehand_stroke_follows_the_hand_and_is_thinned():
    done = []
    tool = TraceTool(done.append)
    circle = [(200 * math.cos(t), 200 * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 400)]
    tool.press(PointerPosition(circle[0], 5))
    for at in circle[1:]:
        tool.drag(PointerPosition(at, 5))
    tool.release(PointerPosition(circle[-1], 5))
    assert len(done) == 1
    points = np.array(done[0])
    assert 12 < len(points) < 120
    assert np.hypot(*points.T) == pytest.approx(200, abs=2.0)


def test_an_open_line_ends_with_a_double_click():
    done = []
    tool = TraceTool(done.append, closed=False)
    click(tool, 0, 0)
    click(tool, 50, 50)
    assert tool.double_click(PointerPosition((50, 50)))
    assert done == [((0, 0), (50, 50))]


def test_escape_leaves_the_tool_and_draws_nothing():
    left = []
    tool = TraceTool(lambda _: pytest.fail("nothing was finished"), cancelled=lambda: left.append(True))
    click(tool, 0, 0)
    assert tool.key("escape")
    assert left == [True]
    assert tool.points == []


def test_a_disc_is_drawn_from_its_middle_to_its_edge():
    done = []
    tool = DiscTool(lambda at, diameter: done.append((at, diameter)))
    tool.press(PointerPosition((10, 10), 5))
    tool.drag(PointerPosition((40, 50), 5))
    tool.release(PointerPosition((40, 50), 5))
    assert done == [((10, 10), 100.0)]


def test_a_click_makes_a_disc_of_the_hands_reach():
    done = []
    tool = DiscTool(lambda at, diameter: done.append(diameter))
    click(tool, 10, 10)
    assert done == [10.0]


def test_shift_keeps_a_stroke_to_steps_of_15_degrees():
    done = []
    tool = StrokeTool(lambda start, end: done.append((start, end)))
    tool.press(PointerPosition((0, 0), 5))
    tool.drag(PointerPosition((100, 28), 5, shift=True))
    tool.release(PointerPosition((100, 28), 5, shift=True))
    (_, end) = done[0]
    assert math.degrees(math.atan2(end[1], end[0])) == pytest.approx(15)


def points_tool(changes, accept=True):
    def changed(ring, words):
        changes.append(words)
        return ring if accept else None

    return PointsTool(RING.copy(), changed)


def test_a_point_is_dragged_and_the_others_stay():
    changes = []
    tool = points_tool(changes)
    tool.press(PointerPosition((100, 100), 5))
    tool.drag(PointerPosition((130, 120), 5))
    tool.release(PointerPosition((130, 120), 5))
    assert changes == ["Move points"]
    assert tool.ring.tolist() == [[0, 0], [100, 0], [130, 120], [0, 100]]


def test_a_change_from_elsewhere_lets_go_of_a_point_that_is_being_dragged():
    changes = []
    tool = points_tool(changes)
    tool.press(PointerPosition((0, 100), 5))
    tool.drag(PointerPosition((-30, 120), 5))
    # As undo by a key does, in the middle of the drag, of a step that had added the last point.
    tool.take(RING[:3].copy())
    tool.drag(PointerPosition((-40, 130), 5))
    tool.release(PointerPosition((-40, 130), 5))
    assert changes == []
    assert tool.ring.tolist() == RING[:3].tolist()
    assert tool.preview()


def test_points_stay_selected_when_they_were_moved():
    tool = points_tool([])
    tool.press(PointerPosition((100, 100), 5))
    tool.drag(PointerPosition((130, 120), 5))
    tool.release(PointerPosition((130, 120), 5))
    assert tool.selected == {2}


def test_a_refused_change_leaves_the_ring_as_it_was():
    changes = []
    tool = points_tool(changes, accept=False)
    tool.press(PointerPosition((100, 100), 5))
    tool.drag(PointerPosition((-50, 50), 5))
    tool.release(PointerPosition((-50, 50), 5))
    assert changes == ["Move points"]
    assert tool.ring.tolist() == RING.tolist()


def test_a_double_click_on_the_edge_adds_a_point_and_delete_takes_it_out():
    changes = []
    tool = points_tool(changes)
    assert tool.double_click(PointerPosition((50, 2), 5))
    assert tool.ring.tolist() == [[0, 0], [50, 0], [100, 0], [100, 100], [0, 100]]
    assert tool.selected == {1}
    assert tool.key("delete")
    assert tool.ring.tolist() == RING.tolist()
    assert changes == ["Add a point", "Take points out"]


def test_an_edge_between_two_selected_points_is_straightened():
    changes = []
    wavy = np.array([[0, 0], [30, 5], [60, -5], [100, 0], [100, 100], [0, 100]], dtype=float)
    tool = PointsTool(wavy, lambda ring, words: ring)
    click(tool, 0, 0)
    click(tool, 100, 0, shift=True)
    assert tool.key("t")
    assert tool.ring.tolist() == RING.tolist()
    assert changes == []


def test_smoothing_takes_out_jitter_and_keeps_the_size():
    steps = np.linspace(0, 2 * math.pi, 72, endpoint=False)
    radius = 200 + 4 * np.where(np.arange(72) % 2, 1, -1)
    shaky = np.column_stack((radius * np.cos(steps), radius * np.sin(steps)))
    tool = PointsTool(shaky, lambda ring, words: ring)
    assert tool.key("s")
    smooth = np.hypot(*tool.ring.T)
    assert np.ptp(smooth) < 0.2 * np.ptp(radius)
    assert smooth.mean() == pytest.approx(200, abs=1.0)
