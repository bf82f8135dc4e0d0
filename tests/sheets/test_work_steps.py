"""The order of work: only the steps that a job needs."""

from __future__ import annotations

from nestplan.sheets.work_steps import work_steps
from tests.sheets.sample_plans import belt_job


def test_only_the_steps_that_a_job_needs_are_told_in_the_order_of_work() -> None:
    names = [step.name for step in work_steps(belt_job())]
    assert names == [
        "Look at the leather", "Mark out", "Straight edge and strips", "Cut the pieces", "Glue the layers",
        "Trim to the finished line", "Holes and slits", "Set the hardware", "Sew", "Edges", "Lace", "Put away",
    ]  # fmt: skip
    assert all(step.why for step in work_steps(belt_job()))
