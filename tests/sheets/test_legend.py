"""The key under a drawing."""

from __future__ import annotations

from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import PAPER_STYLE, HideStyle
from nestplan.sheets.legend import legend_entries
from tests.sheets.sample_plans import belt_plan


def drawn(
    which: int = 0, style: HideStyle = PAPER_STYLE, ratio: float = 7.0, *, tape: bool = True
) -> HideDrawing:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[which])
    return draw_planned_hide(plan, job, hides[which], order, style=style, ratio=ratio, tape=tape)


def test_the_key_explains_each_thing_that_is_drawn_and_nothing_else() -> None:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[0])
    words = " ".join(text for _, text in legend_entries(drawn(), plan, order))
    for needed in (
        "cut line",
        "already cut",
        "offcut",
        "T:",
        "G:",
        "F:",
        "M:",
        "backbone",
        "region",
        "stretches",
    ):
        assert needed in words
    assert "finished line" not in words
    other = " ".join(text for _, text in legend_entries(drawn(1), plan, cutting_steps(plan, job, hides[1])))
    assert "finished line" in other
    assert "T:" not in other
