"""A piece in the hand: free or not, why not, and the nearest free place; with the audit as witness."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.desk.document import plan_edits
from nestplan.desk.document.plan_edits import Waiting
from nestplan.desk.held_piece import angle_at, hold_placement
from nestplan.geometry.pose import Pose
from nestplan.model.audit import check
from nestplan.model.hide import Disc, Flaw
from nestplan.model.piece import LayerCut, StretchRule, Strip
from nestplan.tasks.contents import renamed_hide
from nestplan.tasks.planning import empty_plan
from tests.desk.small_work import job, laid_work, pair_job, panel, sheet, spoiled_sheet


def laid(wanted, hide, *spots, name="panel"):
    plan = empty_plan(wanted, (hide,))
    for at in spots:
        waiting = plan_edits.pieces_waiting(plan, wanted)[0]
        plan, _ = plan_edits.laid_down(plan, wanted, hide, waiting, at)
    return plan


def at(placement, x, y):
    """The placement's pose with the middle of its outline at (x, y)."""
    middle = (placement.finished_ring.min(axis=0) + placement.finished_ring.max(axis=0)) / 2
    return placement.pose.then(Pose(x - middle[0], y - middle[1]))


def test_a_piece_is_free_on_clear_leather():
    wanted, hide = job(panel()), sheet()
    plan = laid(wanted, hide, (200, 200))
    hand = hold_placement(plan, wanted, hide, plan.placements[0])
    assert hand.check(at(plan.placements[0], 500, 300)).free


def test_a_piece_meets_its_neighbour_nearer_than_the_knife_gap():
    wanted, hide = job(panel()), sheet()
    plan = laid(wanted, hide, (200, 200), (400, 200))
    first, second = plan.placements
    hand = hold_placement(plan, wanted, hide, first)
    near = hand.check(at(first, 400 - 101.0, 200))
    assert not near.free
    assert near.overlapped == (second,)
    assert "panel" in near.why
    assert hand.check(at(first, 400 - 101.6, 200)).free


def test_a_mark_hinders_a_strap_and_no_piece_and_the_words_say_so():
    hide = msgspec.structs.replace(
        sheet(), flaws=(Flaw(spoils="mark", name="brand", disc=Disc(at=(500, 300), diameter=40)),)
    )
    wanted = job(panel())
    plan = laid(wanted, hide, (200, 200))
    assert hold_placement(plan, wanted, hide, plan.placements[0]).check(at(plan.placements[0], 500, 300)).free
    straps = job(strips=(Strip(name="strap", width=40, length=200),))
    plan = laid(straps, hide, (200, 200))
    check = hold_placement(plan, straps, hide, plan.placements[0]).check(at(plan.placements[0], 500, 300))
    assert check.why == "It comes too near the flaw brand."


def test_a_flaw_that_does_not_hinder_a_piece_is_not_blamed_for_its_region():
    flaw = Flaw(spoils="flesh", name="flay cut", disc=Disc(at=(900, 300), diameter=20))
    hide = msgspec.structs.replace(spoiled_sheet(), flaws=(flaw,))
    wanted = job(panel(cuts=(LayerCut(least_firmness=2),)))
    plan = laid(wanted, hide, (200, 200))
    why = hold_placement(plan, wanted, hide, plan.placements[0]).check(at(plan.placements[0], 900, 300)).why
    assert why == "It lies partly in a region, or over a stretch direction, that its rules keep it off."


def test_why_a_piece_may_not_lie_there_is_said_in_words():
    cut = LayerCut(stretch=StretchRule(axis=90, tolerance=15), least_firmness=2)
    wanted, hide = job(panel(cuts=(cut,))), spoiled_sheet()
    plan = laid(wanted, hide, (200, 200))
    one = plan.placements[0]
    hand = hold_placement(plan, wanted, hide, one)
    assert hand.check(at(one, 980, 300)).why == "It runs off the hide's edge."
    assert "flaw hole" in hand.check(at(one, 470, 300)).why
    assert "region" in hand.check(at(one, 820, 300)).why
    turned = Pose(200, 200, one.angle + 40)
    assert "25° too far" in hand.check(turned).why


def test_a_pieces_mirror_image_is_refused_unless_its_pattern_allows_it():
    wanted, hide = job(panel()), sheet()
    plan = laid(wanted, hide, (300, 300))
    over = plan_edits.turned_over(plan.placements[0])
    hand = hold_placement(plan, wanted, hide, plan.placements[0])
    assert not hand.check(over.pose).free
    free = job(panel(turn_over=True))
    assert hold_placement(plan, free, hide, plan.placements[0]).check(over.pose).free


def test_the_nearest_free_place_is_next_to_the_neighbour_and_audited_right():
    wanted, hide = job(panel()), sheet()
    plan = laid(wanted, hide, (200, 200), (500, 300))
    first = plan.placements[0]
    hand = hold_placement(plan, wanted, hide, first)
    wish = at(first, 480, 310)
    found = hand.nearest_free(wish)
    assert found is not None
    assert hand.check(found).free
    assert np.hypot(found.x - wish.x, found.y - wish.y) < 60 + 1.5 + 6
    after = plan_edits.replaced(plan, {0: plan_edits.moved(first, found)})
    assert check(after, wanted, (hide,)) == ()


def test_no_free_place_is_said_by_none():
    wanted, hide = job(panel()), sheet(width=150, height=90)
    plan = laid(wanted, hide, (60, 45), (70, 50))
    hand = hold_placement(plan, wanted, hide, plan.placements[0])
    assert hand.nearest_free(plan.placements[0].pose) is None


def test_a_strip_keeps_off_every_flaw_and_along_the_backbone():
    strip = Strip(name="strap", width=30, length=400)
    hide = sheet(flaws=(Flaw(spoils="mark", disc=Disc(at=(500, 300), diameter=40)),))
    wanted = job(panel(), strips=(strip,))
    plan = empty_plan(wanted, (hide,))
    waiting = Waiting("strap", "leather", False, True, 1, "strap")
    plan, one = plan_edits.laid_down(plan, wanted, hide, waiting, (300, 100))
    hand = hold_placement(plan, wanted, hide, one)
    assert hand.check(one.pose).free
    assert not hand.check(at(one, 500, 300)).free
    assert not hand.check(Pose(one.x, one.y, one.angle + 20)).free


@settings(max_examples=60, deadline=None)
@given(x=st.floats(-50, 1050), y=st.floats(-50, 650), angle=st.floats(0, 360))
def test_the_hand_and_the_audit_agree(x, y, angle):
    """Whatever the hand calls free passes the audit, and what it clearly refuses fails it."""
    wanted, hide = pair_job(), spoiled_sheet()
    plan = laid(wanted, hide, (200, 200), (200, 400))
    first = plan.placements[0]
    pose = Pose(x, y, angle, first.mirrored)
    moved = plan_edits.moved(first, pose)
    free = hold_placement(plan, wanted, hide, first).check(moved.pose).free
    faults = check(plan_edits.replaced(plan, {0: moved}), wanted, (hide,))
    if free:
        assert faults == ()
    elif not faults:
        # Only the few hundredths of a millimetre that the audit forgives may lie between the two.
        inward = [plan_edits.moved(first, Pose(x + dx, y + dy, angle + da, first.mirrored))
                  for dx in (-0.05, 0, 0.05) for dy in (-0.05, 0, 0.05) for da in (-0.05, 0, 0.05)]  # fmt: skip
        assert any(hold_placement(plan, wanted, hide, first).check(m.pose).free for m in inward)


def test_turning_over_twice_brings_a_piece_back():
    wanted, hide = job(panel()), sheet()
    plan = laid(wanted, hide, (300, 300))
    one = plan_edits.moved(plan.placements[0], Pose(300, 280, 33.0))
    back = plan_edits.turned_over(plan_edits.turned_over(one))
    assert np.abs(back.finished_ring - one.finished_ring).max() < 1e-6
    assert back.mirrored == one.mirrored
    expected = back.pose.apply(wanted.piece("panel").ring)
    assert np.abs(np.sort(expected, axis=0) - np.sort(back.finished_ring, axis=0)).max() < 1e-6


def test_taken_off_pieces_wait_and_can_be_put_back():
    contents = laid_work(6)
    plan = plan_edits.taken_off(contents.plan, contents.plan.placements[:2])
    assert len(plan.placements) == 4
    (waiting,) = plan_edits.pieces_waiting(plan, contents.job)
    assert waiting.count == 2
    assert plan.unplaced[0].count == 2
    plan, made = plan_edits.laid_down(plan, contents.job, contents.hides[0], waiting, (80, 60))
    assert made.copy == 1
    assert plan.unplaced[0].count == 1
    assert plan_edits.pieces_waiting(plan, contents.job)[0].count == 1


def test_a_pair_waits_hand_by_hand():
    wanted, hide = pair_job(sets=2), sheet()
    plan = laid(wanted, hide, (200, 200))
    counts = {entry.label: entry.count for entry in plan_edits.pieces_waiting(plan, wanted)}
    assert counts == {"panel, left": 1, "panel, right": 2}


def test_lock_and_cut_marks_touch_only_what_was_selected():
    contents = laid_work(4)
    plan = plan_edits.set_locked(contents.plan, contents.plan.placements[:1], True)
    plan = plan_edits.marked_cut(plan, plan.placements[1:3], True)
    assert [p.locked for p in plan.placements] == [True, False, False, False]
    assert [p.done for p in plan.placements] == [False, True, True, False]


def test_a_renamed_hide_keeps_its_pieces():
    contents = laid_work(2)
    plan = renamed_hide(contents.plan, "sheet", "oak")
    assert {p.hide for p in plan.placements} == {"oak"}
    assert plan.hides[0].name == "oak"
    assert check(plan, contents.job, (msgspec.structs.replace(contents.hides[0], name="oak"),)) == ()


def test_an_angle_is_measured_the_short_way_round():
    assert angle_at((0, 0), (10, 0), (0, 10)) == pytest.approx(90)
    assert angle_at((0, 0), (10, -1), (10, 1)) == pytest.approx(11.42, abs=0.01)
    assert angle_at((0, 0), (0, 10), (10, 0)) == pytest.approx(-90)
