"""Numbers and names inside pieces."""

from __future__ import annotations

import pytest
import shapely

from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import PAPER_STYLE, HideStyle
from tests.sheets.looking import word_box
from tests.sheets.sample_plans import belt_plan, layered_plan


def drawn(
    which: int = 0, style: HideStyle = PAPER_STYLE, ratio: float = 7.0, *, tape: bool = True
) -> HideDrawing:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[which])
    return draw_planned_hide(plan, job, hides[which], order, style=style, ratio=ratio, tape=tape)


def test_every_number_is_drawn_or_reported_as_crowded() -> None:
    plan, job, hides = belt_plan()
    order = cutting_steps(plan, job, hides[0])
    for ratio in (2.0, 8.0, 40.0):
        drawing = draw_planned_hide(plan, job, hides[0], order, style=PAPER_STYLE, ratio=ratio)
        shown = {item.words for item in drawing.picture.on("numbers") if isinstance(item, Text)}
        assert shown | {cut.label for cut in drawing.crowded} == {cut.label for cut in order}
    assert drawn(ratio=2.0).crowded == []


def test_a_number_stands_inside_its_own_piece() -> None:
    plan, job, hides = belt_plan()
    order = {cut.label: cut for cut in cutting_steps(plan, job, hides[0])}
    for item in drawn(ratio=3.0).picture.on("numbers"):
        assert isinstance(item, Text)
        rings = [plan.placements[n].finished_ring for n in order[item.words].members]
        shape = shapely.union_all([shapely.Polygon(ring) for ring in rings])
        assert shape.contains(shapely.Point(item.x, item.y + 0.3 * item.size))


@pytest.mark.parametrize("ratio", [3.0, 6.0, 9.0])
def test_numbers_and_names_keep_off_holes_and_slits(ratio: float) -> None:
    plan, job, hides = layered_plan()
    drawing = draw_planned_hide(
        plan, job, hides[0], cutting_steps(plan, job, hides[0]), style=PAPER_STYLE, ratio=ratio
    )
    holes = [
        shapely.Point(item.x, item.y).buffer(item.radius)
        if isinstance(item, Circle)
        else shapely.LineString(item.rings[0])
        for layer in ("inside", "later")
        for item in drawing.picture.on(layer)
        if isinstance(item, Circle | Outline)
    ]
    texts = [
        item for layer in ("numbers", "names") for item in drawing.picture.on(layer) if isinstance(item, Text)
    ]
    assert len(holes) >= 20
    assert len(texts) >= 8
    for text in texts:
        assert not any(word_box(text).intersects(hole) for hole in holes)
