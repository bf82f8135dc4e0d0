"""The layers of a job in words, called otherwise, and all pieces of an article cut from the same."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.errors import InputError, UnitError
from nestplan.geometry.units import MM_PER_OUNCE
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Mark, Opening, Overcut, Piece, StretchRule, Strip
from nestplan.tasks.job_layers import all_cut_like, layer_in_words, read_layer, with_layers

SQUARE = ((0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (0.0, 60.0))
FRONT = Piece(
    name="front",
    outline=SQUARE,
    marks=(Mark(at=(20.0, 20.0), layers=("leather",)),),
    holes=(Opening(outline=((40, 20), (60, 20), (60, 40), (40, 40)), layers=("leather",)),),
)
BACK = Piece(name="back", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=90.0, tolerance=10.0)),))
LACE = Strip(name="lace", length=900.0, width=4.0)
JOB = Job(name="j", articles=(Article(name="belt", sets=1, pieces=(FRONT, BACK), strips=(LACE,)),))
OUTER, LINING = Layer(name="outer", leather=("cow side",)), Layer(name="lining", leather=("goat skin",))


def test_a_layer_is_read_from_words_and_put_into_words_that_are_read_again() -> None:
    layer = read_layer("outer = cow side, calf, 5-6 oz")
    assert (layer.name, layer.leather) == ("outer", ("cow side", "calf"))
    assert layer.thickness == pytest.approx((5 * MM_PER_OUNCE, 6 * MM_PER_OUNCE))
    assert layer_in_words(layer, "in") == "outer = cow side, calf, 5-6 oz"
    assert read_layer(layer_in_words(layer, "in")).thickness == pytest.approx(layer.thickness)
    assert layer_in_words(read_layer("lining = goat, 1 mm"), "mm") == "lining = goat, 1 mm"
    assert layer_in_words(Layer(name="leather"), "mm") == "leather"
    with pytest.raises(InputError, match="no layer"):
        read_layer("= cow side")
    with pytest.raises(UnitError):
        read_layer("outer = cow side, 2")


def test_what_is_cut_from_a_layer_keeps_to_it_under_its_new_name() -> None:
    job, renamed = with_layers(JOB, (OUTER, LINING))
    assert renamed == {"leather": "outer"}
    assert {cut.layer for piece in job.articles[0].pieces for cut in piece.cuts} == {"outer"}
    assert job.piece("front").marks[0].layers == ("outer",)
    assert job.piece("front").openings[0].layers == ("outer",)
    assert job.strip("lace").layer == "outer"
    # the second is called otherwise; what keeps its name keeps it, whatever its place
    again, renamed = with_layers(job, (Layer(name="inside"), OUTER))
    assert renamed == {"lining": "inside"}
    assert {cut.layer for piece in again.articles[0].pieces for cut in piece.cuts} == {"outer"}


def test_a_layer_that_is_gone_while_something_is_cut_from_it_is_refused() -> None:
    job, _ = with_layers(JOB, (OUTER, LINING))
    with pytest.raises(InputError, match="No layer is called 'outer'"):
        with_layers(job, (LINING,))


def test_all_pieces_are_cut_like_one_and_keep_their_own_direction() -> None:
    job, _ = with_layers(JOB, (OUTER, LINING))
    cuts = (
        LayerCut(layer="outer", overcut=Overcut(least=4.0, wished=8.0), not_regions=("belly",)),
        LayerCut(layer="lining", reversed=True, shows="hidden"),
    )
    front = msgspec.structs.replace(job.piece("front"), cuts=cuts)
    article = msgspec.structs.replace(job.articles[0], pieces=(front, job.piece("back")))
    back = all_cut_like(msgspec.structs.replace(job, articles=(article,)), "front").piece("back")
    assert back.cuts[1] == cuts[1]
    assert back.cuts[0] == msgspec.structs.replace(cuts[0], stretch=StretchRule(axis=90.0, tolerance=10.0))


def test_work_on_a_layer_that_a_piece_would_lose_is_refused() -> None:
    job, _ = with_layers(JOB, (OUTER, LINING))
    back = msgspec.structs.replace(job.piece("back"), cuts=(LayerCut(layer="lining"),))
    article = msgspec.structs.replace(job.articles[0], pieces=(job.piece("front"), back))
    with pytest.raises(InputError, match="no layer 'outer'"):
        all_cut_like(msgspec.structs.replace(job, articles=(article,)), "back")
