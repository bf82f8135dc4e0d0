"""What is said of the distance of pairs."""

from __future__ import annotations

from nestplan.sheets.mate_words import far_mate_warnings, mates_sentence
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.yields.test_mates import JOB, at, plan_of

INCH, MM = UnitFormatter("in"), UnitFormatter("mm")


def test_the_distance_of_pairs_is_said_in_the_jobs_unit() -> None:
    assert mates_sentence(plan_of(at(0.0, 1)), JOB, MM) == ""
    one = plan_of(at(0.0, 1), at(110.0 + 72 * 25.4, 1, mirrored=True))
    assert mates_sentence(one, JOB, INCH) == "Left and right: 1 pair, 72 in apart."
    several = plan_of(
        at(0.0, 1), at(112.0, 1, mirrored=True), at(0.0, 2), at(410.0, 2, mirrored=True),
        at(0.0, 3), at(0.0, 3, mirrored=True, hide="other"),
    )  # fmt: skip
    assert mates_sentence(several, JOB, MM) == (
        "Left and right: 3 pairs, half of them within 2 mm of each other, the farthest 300 mm apart, 1 on two hides."
    )


def test_pairs_that_ask_to_lie_near_are_warned_of_once_a_piece() -> None:
    plan = plan_of(
        at(0.0, 1), at(112.0, 1, mirrored=True), at(0.0, 2), at(110.0 + 72 * 25.4, 2, mirrored=True),
        at(0.0, 3), at(0.0, 3, mirrored=True, hide="other"),
    )  # fmt: skip
    assert far_mate_warnings(plan, JOB, INCH) == [
        "front: left and right are to lie near each other (within 19 11/16 in); "
        "set 2: 72 in apart; set 3: on two hides."
    ]
