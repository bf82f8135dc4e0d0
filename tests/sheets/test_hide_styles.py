"""Styles of a hide's drawing: readable without colour, against their ground, the same lines in all."""

from __future__ import annotations

import colorsys

from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import DARK_STYLE, HIDE_STYLES, LIGHT_STYLE, PAPER_STYLE, HideStyle
from tests.sheets.looking import colors
from tests.sheets.sample_plans import belt_plan


def drawn(
    which: int = 0, style: HideStyle = PAPER_STYLE, ratio: float = 7.0, *, tape: bool = True
) -> HideDrawing:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[which])
    return draw_planned_hide(plan, job, hides[which], order, style=style, ratio=ratio, tape=tape)


def test_a_sheet_on_paper_needs_no_colour() -> None:
    for color in colors(drawn(style=PAPER_STYLE).picture):
        red, green, blue = (int(color[n : n + 2], 16) for n in (1, 3, 5))
        assert red == green == blue


def test_dark_and_light_pictures_read_against_their_ground() -> None:
    def lightness(color: str) -> float:
        return colorsys.rgb_to_hls(*(int(color[n : n + 2], 16) / 255 for n in (1, 3, 5)))[1]

    for style in (LIGHT_STYLE, DARK_STYLE):
        for fill in (style.hide_fill, style.piece_fill, style.strip_fill, style.offcut_fill):
            assert fill is not None
            assert abs(lightness(style.ink) - lightness(fill)) > 0.5


def test_all_looks_draw_the_same_lines() -> None:
    counts = {name: len(drawn(style=style, tape=False).picture) for name, style in HIDE_STYLES.items()}
    assert len(set(counts.values())) == 1
