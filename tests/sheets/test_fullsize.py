from __future__ import annotations

import msgspec
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.drawing.tiling import OVERLAP, tiled
from nestplan.model import Article, Job, LayerCut, Mark, Overcut, Part, Piece
from nestplan.model.piece import cut_ring
from nestplan.sheets.full_size import full_size_sheets
from nestplan.sheets.piece_template import draw_template, write_inside
from nestplan.sheets.template_caption import mark_groups
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.looking import beyond, overprinted
from tests.sheets.sample_plans import belt_job, front


def large_job() -> Job:
    """The belts with a back panel of 560 × 330 mm, which no A4 sheet holds."""
    job = belt_job()
    panel = msgspec.structs.replace(
        front(560.0, 330.0),
        name="back panel",
        note="Skive the upper edge.",
        parts=(Part(outline=((20, 40), (200, 40), (200, 200), (20, 200)), name="part that shows"),),
    )
    article = msgspec.structs.replace(job.articles[0], pieces=(*job.articles[0].pieces, panel))
    return msgspec.structs.replace(job, articles=(article,))


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_nothing_is_cut_off_or_printed_over(paper: str) -> None:
    for page in full_size_sheets(large_job(), paper=paper).booklet.pages:
        assert beyond(page) == []
        assert overprinted(page.picture) == []


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_every_sheet_carries_both_gauges(paper: str) -> None:
    for page in full_size_sheets(large_job(), paper=paper).booklet.pages:
        lengths = [
            float(np.ptp(item.rings[0][:, 0]))
            for item in page.picture.on("gauge")
            if isinstance(item, Outline)
        ]
        assert any(length == pytest.approx(100.0) for length in lengths)
        assert any(length == pytest.approx(101.6) for length in lengths)


def test_the_first_page_has_an_upright_gauge_too() -> None:
    page = full_size_sheets(belt_job()).booklet.pages[0]
    heights = [
        float(np.ptp(item.rings[0][:, 1])) for item in page.picture.on("gauge") if isinstance(item, Outline)
    ]
    assert max(heights) == pytest.approx(100.0)


def test_every_piece_of_the_job_is_there_at_true_size() -> None:
    job = large_job()
    sheets = full_size_sheets(job, paper="a3")
    for piece in job.articles[0].pieces:
        laid = [each for each in sheets.laid if each.piece == piece.name]
        assert laid
        if laid[0].tile:
            continue
        page = sheets.booklet.pages[laid[0].page - 1]
        lines = [item for item in page.picture.on("finished line") if isinstance(item, Outline)]
        turn = np.radians(laid[0].turn)
        matrix = np.array(((np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))))
        wanted = shapely.LinearRing(piece.ring @ matrix + (laid[0].x, laid[0].y))
        assert (
            min(shapely.hausdorff_distance(wanted, shapely.LinearRing(item.rings[0])) for item in lines)
            < 1e-6
        )


def test_neighbouring_sheets_carry_the_same_crosses_at_the_same_place() -> None:
    laid = [each for each in full_size_sheets(large_job()).laid if each.piece == "back panel"]
    assert len(laid) > 2
    places: dict[int, list[tuple[float, float]]] = {}
    for each in laid:
        for cross in each.crosses:
            places.setdefault(cross.number, []).append((cross.x - each.x, cross.y - each.y))
    for found in places.values():
        assert len(found) >= 2
        assert np.ptp(np.array(found), axis=0) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert all(len(each.crosses) >= 2 for each in laid)


@given(st.floats(20, 900), st.floats(20, 900), st.floats(120, 300), st.floats(120, 400))
def test_tiles_cover_the_drawing_and_overlap(width: float, height: float, wide: float, high: float) -> None:
    tiling = tiled((0.0, 0.0, width, height), wide, high)
    union = shapely.union_all([shapely.box(*each.window) for each in tiling.tiles])
    assert union.buffer(1e-6).contains(shapely.box(0.0, 0.0, width, height))
    for one in tiling.tiles:
        for other in tiling.tiles:
            if other.row == one.row and other.column == one.column + 1:
                assert one.window[2] - other.window[0] >= OVERLAP - 1e-6
            if other.column == one.column and other.row == one.row + 1:
                assert other.window[3] - one.window[1] >= OVERLAP - 1e-6
    if len(tiling.tiles) > 1:
        assert all(len(tiling.crosses_on(each)) >= 2 for each in tiling.tiles)


def test_a_piece_is_laid_so_that_it_needs_the_fewest_sheets() -> None:
    strap = Piece(name="strap", outline=((0, 0), (240, 0), (240, 100), (0, 100)))
    job = Job(name="j", articles=(Article(name="a", sets=1, pieces=(strap,)),))
    sheets = full_size_sheets(job)
    assert len(sheets.booklet.pages) == 2
    assert sheets.laid[0].turn == 90.0


def test_each_kind_of_mark_has_its_own_shape_and_is_explained_in_words() -> None:
    job = belt_job()
    template = draw_template(job, job.articles[0], job.piece("front"), UnitFormatter())
    circles = [
        item.radius for item in template.picture.on("marks") if isinstance(item, Circle) and item.stroke
    ]
    assert circles == [2.5] * 4
    slits = [
        item
        for item in template.picture.on("marks")
        if isinstance(item, Outline) and item.stroke and item.stroke.width == 0.5
    ]
    assert [float(np.hypot(*(item.rings[0][1] - item.rings[0][0]))) for item in slits] == [
        pytest.approx(22.0)
    ]
    diamonds = [item for item in template.picture.on("marks") if isinstance(item, Outline) and item.closed]
    assert len(diamonds) == 1
    letters = sorted(item.words for item in template.picture.on("marks") if isinstance(item, Text))
    assert letters == ["a", "a", "a", "a", "b", "c"]
    caption = " ".join(words for words, _ in template.caption)
    for needed in (
        "punch a hole 5 mm across",
        "eyelet 5 mm",
        "4 times",
        "cut a slit 22 mm long",
        "mark only, do not cut",
    ):
        assert needed in caption


def test_the_caption_says_how_many_of_what_and_which_way_round() -> None:
    job = belt_job()
    caption = [
        words for words, _ in draw_template(job, job.articles[0], job.piece("front"), UnitFormatter()).caption
    ]
    assert any("outer" in line and "2 as drawn (left), 2 turned over (right)" in line for line in caption)
    assert any("lining" in line and "2 as drawn (right), 2 turned over (left)" in line for line in caption)
    assert any("at least 6 mm" in line and "10 mm" in line for line in caption)
    assert any("180 × 129 mm" in line for line in caption)


def test_cut_lines_stand_at_the_least_overcut_and_the_finished_line_is_dashed_where_nothing_is_cut_on_it() -> (
    None
):
    lined = Piece(
        name="lined", outline=((0, 0), (90, 0), (90, 60), (0, 60)),
        cuts=(
            LayerCut(layer="outer", overcut=Overcut(least=3.0, wished=5.0)),
            LayerCut(layer="lining", overcut=Overcut(least=8.0, wished=8.0)),
        ),
    )  # fmt: skip
    job = msgspec.structs.replace(belt_job(), articles=(Article(name="a", sets=1, pieces=(lined,)),))
    template = draw_template(job, job.articles[0], lined, UnitFormatter())
    cuts = [item for item in template.picture.on("cut line") if isinstance(item, Outline)]
    assert [shapely.Polygon(item.rings[0]).area for item in cuts] == [
        pytest.approx(shapely.Polygon(cut_ring(lined.ring, least)).area) for least in (3.0, 8.0)
    ]
    (finished,) = template.picture.on("finished line")
    assert isinstance(finished, Outline)
    assert finished.stroke is not None
    assert finished.stroke.dash


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(8, 112), st.floats(8, 72), st.sampled_from(["punch", "slit", "mark"])), max_size=6
    ),
    st.sampled_from([0.0, 90.0]),
)
def test_words_inside_a_template_keep_off_its_marks(
    spots: list[tuple[float, float, str]], turn: float
) -> None:
    marks = tuple(
        Mark(at=(x, y), do=do, diameter=4.0 if do == "punch" else None, length=9.0 if do == "slit" else None)  # type: ignore[arg-type]
        for x, y, do in spots
    )
    piece = Piece(name="panel", outline=((0, 0), (120, 0), (120, 80), (0, 80)), marks=marks)
    job = Job(name="j", articles=(Article(name="a", sets=1, pieces=(piece,)),))
    template = draw_template(job, job.articles[0], piece, UnitFormatter(), turn=turn)
    write_inside(template)
    from tests.sheets.looking import word_box

    names = [word_box(item) for item in template.picture.on("names") if isinstance(item, Text)]
    for mark in marks:
        x, y = template.turned(np.array((mark.at,)))[0]
        assert all(not box.contains(shapely.Point(x, y)) for box in names)
    assert len(mark_groups(piece)) <= 3
