from __future__ import annotations

import colorsys

import msgspec
import numpy as np
import pytest
import shapely

from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.model import Flaw
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing, standing_turn
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import DARK_STYLE, HIDE_STYLES, LIGHT_STYLE, PAPER_STYLE, HideStyle
from nestplan.sheets.legend import legend_entries
from tests.sheets.looking import colors, overprinted, word_box
from tests.sheets.sample_plans import belt_plan, many_plan, shoulder, side


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
        assert min(shapely.hausdorff_distance(shape, other) for other in found) < 1e-6


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


def test_a_flaw_under_a_piece_leaves_the_piece_in_sight() -> None:
    plan, job, hides = belt_plan()
    under = Flaw(spoils="flesh", outline=((430, 220), (500, 220), (500, 280), (430, 280)))
    hide = msgspec.structs.replace(hides[0], flaws=(under,))
    drawing = draw_planned_hide(plan, job, hide, cutting_steps(plan, job, hide), style=LIGHT_STYLE, ratio=6.0)
    areas = [item for item in drawing.picture.on("flaws") if isinstance(item, Outline)]
    assert all(item.fill is not None and item.fill.color is None for item in areas)


def test_all_looks_draw_the_same_lines() -> None:
    counts = {name: len(drawn(style=style, tape=False).picture) for name, style in HIDE_STYLES.items()}
    assert len(set(counts.values())) == 1


@pytest.mark.parametrize("ratio", [3.0, 6.0, 9.0])
def test_numbers_and_names_keep_off_holes_and_slits(ratio: float) -> None:
    plan, job, hides = belt_plan()
    drawing = draw_planned_hide(
        plan, job, hides[0], cutting_steps(plan, job, hides[0]), style=PAPER_STYLE, ratio=ratio
    )
    holes = [
        shapely.Point(item.x, item.y).buffer(item.radius)
        if isinstance(item, Circle)
        else shapely.LineString(item.rings[0])
        for item in drawing.picture.on("holes")
        if isinstance(item, Circle | Outline)
    ]
    texts = [
        item for layer in ("numbers", "names") for item in drawing.picture.on(layer) if isinstance(item, Text)
    ]
    assert len(holes) >= 20
    assert len(texts) >= 8
    for text in texts:
        assert not any(word_box(text).intersects(hole) for hole in holes)
