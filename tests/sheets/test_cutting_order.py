from __future__ import annotations

import msgspec
import numpy as np
import shapely
from msgspec.structs import replace

from nestplan.model import Plan
from nestplan.sheets.cutting_order import cutting_steps, pair_mates, strip_bundles
from tests.sheets.sample_plans import belt_plan, many_plan


def test_strips_come_first_then_firm_leather_then_the_rest_then_discs() -> None:
    plan, job, hides = belt_plan()
    groups = [cut.group for cut in cutting_steps(plan, job, hides[0])]
    assert groups == sorted(groups, key=["edge", "firm", "rest", "disc"].index)
    assert groups[0] == "edge"
    assert groups[-1] == "disc"


def test_everything_not_yet_cut_is_numbered_once_and_without_gaps() -> None:
    plan, job, hides = belt_plan()
    for hide in hides:
        order = cutting_steps(plan, job, hide)
        members = [n for cut in order for n in cut.members]
        wanted = [
            n for n, placed in enumerate(plan.placements) if placed.hide == hide.name and not placed.done
        ]
        assert sorted(members) == wanted
        numbers = [cut.number + k for cut in order for k in range(len(cut.members))]
        assert numbers == list(range(1, len(wanted) + 1))


def test_a_mate_is_cut_right_after_its_partner_and_each_names_the_other() -> None:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[0])
    pairs = [cut for cut in order if cut.mate is not None]
    assert len(pairs) == 4
    by_number = {cut.number: cut for cut in order}
    for cut in pairs:
        assert cut.mate is not None
        assert by_number[cut.mate].mate == cut.number
        assert abs(cut.mate - cut.number) == 1


def test_mates_are_a_left_and_a_right_of_one_set() -> None:
    plan, job, _ = belt_plan()
    pieces = [n for n, placed in enumerate(plan.placements) if placed.piece]
    found = pair_mates(plan, job, pieces)
    assert len(found) == 8
    for one, other in found.items():
        a, b = plan.placements[one], plan.placements[other]
        assert (a.piece, a.layer, a.set) == (b.piece, b.layer, b.set)
        assert a.mirrored != b.mirrored


def test_strips_side_by_side_are_one_block_from_the_backbone_outwards() -> None:
    plan, _, hides = belt_plan()
    assert strip_bundles(plan, hides[0], range(4)) == [((0, 1, 2, 3),)]


def shifted(plan: Plan, n: int, dx: float, dy: float) -> Plan:
    """The plan with one placement moved."""
    placed = plan.placements[n]
    ring = tuple((x + dx, y + dy) for x, y in placed.finished)
    moved = msgspec.structs.replace(placed, x=placed.x + dx, y=placed.y + dy, finished=ring, cut=ring)
    return msgspec.structs.replace(plan, placements=(*plan.placements[:n], moved, *plan.placements[n + 1 :]))


def test_strips_apart_are_cut_by_themselves_the_larger_bundle_first() -> None:
    plan, _, hides = belt_plan()
    assert strip_bundles(shifted(plan, 0, 0.0, 700.0), hides[0], range(4)) == [((1, 2, 3),), ((0,),)]


def test_strips_that_begin_elsewhere_are_a_block_of_their_own_with_its_own_line() -> None:
    plan, job, hides = belt_plan()
    uneven = shifted(plan, 2, 60.0, 0.0)
    assert strip_bundles(uneven, hides[0], range(4)) == [((0, 1), (2,), (3,))]
    edge = [cut for cut in cutting_steps(uneven, job, hides[0]) if cut.group == "edge"]
    assert [cut.label for cut in edge] == ["1–2", "3", "4"]
    assert "draw the line" in edge[0].reason
    assert "edge just cut" in edge[1].reason


def test_large_pieces_come_before_small_ones_within_a_group() -> None:
    plan, job, hides = belt_plan()
    firm = [cut for cut in cutting_steps(plan, job, hides[0]) if cut.group == "firm"]
    areas = [shapely.Polygon(plan.placements[cut.members[0]].finished_ring).area for cut in firm]
    assert np.all(np.diff(areas) < 1e-6)


def test_the_reason_names_what_the_piece_asks_for_or_where_it_lies() -> None:
    plan, job, hides = belt_plan()
    reasons = {plan.placements[cut.members[0]].name: cut.reason for cut in cutting_steps(plan, job, hides[0])}
    assert "firmness 4" in reasons["back"]
    assert "bend" in reasons["keeper"]
    assert "P–Q" in reasons["waist strap"]


def test_the_order_is_the_same_every_time() -> None:
    plan, job, hides = many_plan(200)
    assert cutting_steps(plan, job, hides[0]) == cutting_steps(plan, job, hides[0])


def test_with_its_mate_is_said_only_of_mates_that_are_near_and_how_far_the_others_lie() -> None:
    plan, job, hides = belt_plan()
    pairs = [cut for cut in cutting_steps(plan, job, hides[0]) if cut.mate is not None]
    assert [cut.reason == "with its mate" for cut in pairs] == [False, True, False, True]
    assert all(cut.mate_apart is not None and cut.mate_apart < 100.0 for cut in pairs)
    member = pairs[1].members[0]
    far = plan.placements[member]
    moved = tuple((x + 3000.0, y) for x, y in far.cut)
    placed = [*plan.placements]
    placed[member] = replace(far, cut=moved)
    (gone,) = [
        cut
        for cut in cutting_steps(replace(plan, placements=tuple(placed)), job, hides[0])
        if cut.members == (member,)
    ]
    assert gone.reason != "with its mate"
    assert gone.mate_apart is not None
    assert gone.mate_apart > 2500.0
    placed[member] = replace(far, hide=hides[1].name)
    steps = cutting_steps(replace(plan, placements=tuple(placed)), job, hides[0])
    (alone,) = [cut for cut in steps if cut.members == pairs[0].members]
    assert (alone.mate, alone.mate_hide) == (None, hides[1].name)
