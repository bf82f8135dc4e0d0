"""The words on a hide's drawing: none printed over another."""

from __future__ import annotations

import pytest

from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import PAPER_STYLE, HideStyle
from tests.sheets.looking import overprinted
from tests.sheets.sample_plans import belt_plan, many_plan


def drawn(
    which: int = 0, style: HideStyle = PAPER_STYLE, ratio: float = 7.0, *, tape: bool = True
) -> HideDrawing:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[which])
    return draw_planned_hide(plan, job, hides[which], order, style=style, ratio=ratio, tape=tape)


@pytest.mark.parametrize("ratio", [3.0, 7.0, 14.0])
@pytest.mark.parametrize("which", [0, 1])
def test_no_word_is_printed_over_another(which: int, ratio: float) -> None:
    assert overprinted(drawn(which, ratio=ratio).picture) == []


def test_words_stay_apart_on_a_crowded_hide() -> None:
    plan, job, hides = many_plan(125)
    drawing = draw_planned_hide(
        plan, job, hides[0], cutting_steps(plan, job, hides[0]), style=PAPER_STYLE, ratio=11.0
    )
    assert overprinted(drawing.picture) == []
    assert drawing.crowded == []
