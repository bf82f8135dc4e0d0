from __future__ import annotations

import msgspec
import pytest

from nestplan.errors import WrongPlanError
from nestplan.estimate.merge_plans import merge_plans
from nestplan.geometry.pose import Pose
from nestplan.model import Piece
from nestplan.model.audit import check
from tests.small_jobs import HANDED, laid, one_piece_job, plain_hide, plan_of

PIECE = Piece(name="square", outline=HANDED, pair=True)
JOB = one_piece_job(PIECE, sets=2)
ONE, OTHER = plain_hide("one"), plain_hide("other")


def plan_on(name: str) -> object:
    return plan_of(
        JOB,
        (plain_hide(name),),
        [
            laid(JOB, PIECE, Pose(10, 10), hide=name),
            laid(JOB, PIECE, Pose(400, 10, 0, True), hide=name, copy=2),
        ],
        seed=7,
    )


def test_plans_of_single_hides_become_one_right_plan_with_copies_and_sets_counted_through() -> None:
    merged = merge_plans(JOB, (ONE, OTHER), [plan_on("one"), plan_on("other")])
    assert check(merged, JOB, (ONE, OTHER)) == ()
    assert [placed.copy for placed in merged.placements] == [1, 2, 3, 4]
    assert [(placed.mirrored, placed.set) for placed in merged.placements] == [
        (False, 1),
        (True, 1),
        (False, 2),
        (True, 2),
    ]
    assert merged.goal == "fill"
    assert merged.seed == 7
    assert merged.figures is not None
    assert merged.figures.sets[0].whole == 2


def test_a_merged_plan_that_breaks_a_rule_is_a_fault_of_the_program() -> None:
    plan = plan_on("one")
    (first, second) = plan.placements
    twice = msgspec.structs.replace(plan, placements=(first, msgspec.structs.replace(first, copy=2), second))
    with pytest.raises(WrongPlanError) as caught:
        merge_plans(JOB, (ONE,), [twice])
    assert caught.value.faults
