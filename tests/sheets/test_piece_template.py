"""A piece at true size: its lines, its marks, the words inside it."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.model import Article, Job, LayerCut, Mark, Overcut, Piece
from nestplan.model.piece import cut_ring
from nestplan.sheets.piece_layers import piece_layers
from nestplan.sheets.piece_template import draw_template, write_inside
from nestplan.sheets.template_caption import mark_groups
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.sample_plans import belt_job


def test_each_kind_of_mark_has_its_own_shape_and_is_explained_in_words() -> None:
    job = belt_job()
    subject = piece_layers(job.articles[0], job.piece("front"))[0]
    template = draw_template(job, subject, UnitFormatter())
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
    # The badge is done at the table; eyelets and slit once the layers are glued: those come after it, and dashed.
    assert letters == ["a", "b", "b", "b", "b", "c"]
    assert all(item.stroke.dash for item in slits)
    assert all(
        item.stroke.dash for item in template.picture.on("marks") if isinstance(item, Circle) and item.stroke
    )
    assert not any(item.stroke.dash for item in diamonds)
    caption = " ".join(words for words, _ in template.caption)
    for needed in (
        "punch a hole 5 mm across",
        "eyelet 5 mm",
        "4 times",
        "cut a slit 22 mm long",
        "mark only, do not cut",
    ):
        assert needed in caption


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
    (subject,) = piece_layers(job.articles[0], lined)
    template = draw_template(job, subject, UnitFormatter())
    cuts = [item for item in template.picture.on("cut line") if isinstance(item, Outline)]
    assert [shapely.Polygon(item.rings[0]).area for item in cuts] == [
        pytest.approx(shapely.Polygon(cut_ring(lined.ring, least)).area) for least in (3.0, 8.0)
    ]
    (wide,) = template.picture.on("widest cut line")
    assert shapely.Polygon(wide.rings[0]).area == pytest.approx(
        shapely.Polygon(cut_ring(lined.ring, 5.0)).area
    )
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
    (subject,) = piece_layers(job.articles[0], piece)
    template = draw_template(job, subject, UnitFormatter(), turn=turn)
    write_inside(template)
    from tests.sheets.looking import word_box

    names = [word_box(item) for item in template.picture.on("names") if isinstance(item, Text)]
    for mark in marks:
        x, y = template.turned(np.array((mark.at,)))[0]
        assert all(not box.contains(shapely.Point(x, y)) for box in names)
    assert len(mark_groups(piece.marks)) <= 3
