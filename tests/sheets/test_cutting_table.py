"""The table worked down at the table: a row a step, measured by tape from the marked points."""

from __future__ import annotations

import math

from nestplan.drawing.booklet_builder import BookletBuilder
from nestplan.drawing.pages import paper_named
from nestplan.sheets.cutting_order import GROUP_REASONS, cutting_steps
from nestplan.sheets.cutting_table import add_cutting_table, step_words
from nestplan.sheets.tape_positions import anchor_points, tape_frame
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.looking import words_of
from tests.sheets.sample_plans import belt_plan


def table_words(which: int = 0) -> list[str]:
    plan, job, hides = belt_plan()
    booklet = BookletBuilder(paper_named("a3").turned(), "Table")
    steps = cutting_steps(plan, job, hides[which])
    add_cutting_table(booklet, plan, job, hides[which], steps, UnitFormatter("mm"))
    return [words for page in booklet.finish().pages for words in words_of(page.picture)]


def test_every_step_has_its_row_and_every_group_its_reason() -> None:
    plan, job, hides = belt_plan()
    told = table_words()
    steps = cutting_steps(plan, job, hides[0])
    assert all(step.label in told for step in steps)
    joined = " ".join(told)
    for group in {step.group for step in steps}:
        assert GROUP_REASONS[group].split(":")[0] in joined


def test_the_distances_are_those_between_the_points() -> None:
    plan, job, hides = belt_plan()
    frame = tape_frame(hides[0])
    told = table_words()
    step = next(step for step in cutting_steps(plan, job, hides[0]) if step.group == "firm")
    p, q = anchor_points(job, plan.placements[step.members[0]], frame)
    for one, other in ((p, frame.a), (p, frame.b), (q, frame.a), (q, frame.b)):
        assert f"{math.dist(one, other):.0f}" in told


def test_a_step_is_told_with_its_set_its_count_or_its_lace() -> None:
    plan, job, hides = belt_plan()
    told = [step_words(plan, job, step, UnitFormatter("mm")) for step in cutting_steps(plan, job, hides[0])]
    assert "4 × waist strap 1100 × 40 mm" in told
    assert "front, outer, left (set 1)" in told
    disc = next(words for words in told if words.startswith("lace: disc of"))
    assert disc.endswith("cut round and round 6 mm wide: 3.00 m")
