from __future__ import annotations

import msgspec
import numpy as np
import shapely

from nestplan.drawing.primitives import Outline, Text
from nestplan.model import Flaw
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing, HideView, standing_turn
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import LIGHT_STYLE, PAPER_STYLE, HideStyle
from tests.sheets.sample_plans import belt_plan, shoulder, side


def drawn(
    which: int = 0, style: HideStyle = PAPER_STYLE, ratio: float = 7.0, *, tape: bool = True
) -> HideDrawing:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[which])
    return draw_planned_hide(plan, job, hides[which], order, style=style, ratio=ratio, tape=tape)


def test_every_cut_shape_is_drawn_where_the_plan_has_it() -> None:
    plan, _, hides = belt_plan()
    drawing = drawn()
    found = [
        shapely.Polygon(item.rings[0])
        for layer in ("pieces", "strips", "done")
        for item in drawing.picture.on(layer)
        if isinstance(item, Outline) and item.closed
    ]
    wanted = [shapely.Polygon(placed.cut_ring) for placed in plan.placements if placed.hide == hides[0].name]
    assert len(found) == len(wanted)
    for shape in wanted:
        # Nobody sees a fiftieth of a millimetre on the paper.
        assert min(shapely.hausdorff_distance(shape, other) for other in found) < 0.02 * drawing.view.ratio


def test_an_outline_of_many_points_is_drawn_with_those_that_show() -> None:
    angles = np.arange(3000) * 2.0 * np.pi / 3000
    ring = 600.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    for ratio in (1.0, 8.0):
        points = HideView(0.0, ratio, PAPER_STYLE).outline(ring)
        assert len(points) < 600
        off = shapely.hausdorff_distance(shapely.linearrings(points), shapely.linearrings(ring))
        assert off < 0.021 * ratio
    few = HideView(-90.0, 8.0, PAPER_STYLE).outline(ring[::100])
    assert len(few) == 30


def test_a_hide_taller_than_wide_is_laid_on_its_side() -> None:
    assert standing_turn(side()) == 0.0
    assert standing_turn(shoulder()) == 0.0
    tall = msgspec.structs.replace(
        side(),
        outline=((0, 0), (500, 0), (500, 1500), (0, 1500)),
        flaws=(),
        regions=(),
        backbone=((250, 1500), (250, 0)),
    )
    assert standing_turn(tall) == -90.0


def test_each_flaw_has_its_own_pattern_and_its_letter() -> None:
    drawing = drawn()
    patterns = [
        item.fill.hatch.kind + str(item.fill.hatch.angle)
        for item in drawing.picture.on("flaws")
        if isinstance(item, Outline) and item.fill and item.fill.hatch
    ]
    assert len(patterns) == len(set(patterns)) == 4
    letters = [item.words for item in drawing.picture.on("flaws") if isinstance(item, Text)]
    assert sorted(letters) == ["F", "G", "M", "T"]


def test_a_keep_away_margin_is_drawn_at_its_distance() -> None:
    drawing = drawn()
    (margin,) = drawing.picture.on("margins")
    assert isinstance(margin, Outline)
    radii = np.hypot(margin.rings[0][:, 0] - 620.0, margin.rings[0][:, 1] - 640.0)
    assert radii.min() >= 20.0 - 1e-6
    assert radii.max() <= 20.6


def test_a_flaw_under_a_piece_leaves_the_piece_in_sight() -> None:
    plan, job, hides = belt_plan()
    under = Flaw(spoils="flesh", outline=((430, 220), (500, 220), (500, 280), (430, 280)))
    hide = msgspec.structs.replace(hides[0], flaws=(under,))
    drawing = draw_planned_hide(plan, job, hide, cutting_steps(plan, job, hide), style=LIGHT_STYLE, ratio=6.0)
    areas = [item for item in drawing.picture.on("flaws") if isinstance(item, Outline)]
    assert all(item.fill is not None and item.fill.color is None for item in areas)
