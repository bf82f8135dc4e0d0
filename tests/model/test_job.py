from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.geometry.ring import mirror
from nestplan.model import Article, Job, Layer, LayerCut, Permissions, Piece, StretchRule, Strip
from tests.small_jobs import HANDED, SQUARE, lined_piece, one_piece_job, plain_hide


def test_a_job_is_cut_piece_by_piece_layer_by_layer_and_hand_by_hand() -> None:
    job = one_piece_job(lined_piece(pair=True))
    assert [cut.label for cut in job.cut_pieces] == [
        "panel, outer, left",
        "panel, outer, right",
        "panel, lining, left",
        "panel, lining, right",
    ]
    # The lining is reversed, so its left lies as the outer's right does.
    assert [cut.mirrored for cut in job.cut_pieces] == [False, True, True, False]
    left, right = job.cut_pieces[:2]
    assert np.allclose(right.finished, mirror(left.finished))
    assert job.cut_pieces[2].wished_overcut == 12.0


def test_a_stretch_axis_is_mirrored_with_its_piece() -> None:
    cut = LayerCut(stretch=StretchRule(axis=30.0, tolerance=5.0))
    job = one_piece_job(Piece(name="p", outline=HANDED, pair=True, cuts=(cut,)))
    axes = [each.stretch.axis for each in job.cut_pieces if each.stretch is not None]
    assert axes == [30.0, 150.0]


def test_copies_are_alike_by_piece_layer_and_hand_unless_they_may_be_turned_over() -> None:
    handed = one_piece_job(Piece(name="p", outline=HANDED, pair=True))
    assert handed.kind_of_copy("p", "leather", True) == ("p", "leather", True)
    free = one_piece_job(Piece(name="p", outline=HANDED, turn_over=True))
    assert free.kind_of_copy("p", "leather", True) == ("p", "leather", False)
    with pytest.raises(KeyError):
        free.kind_of_copy("q", "leather", True)


def test_a_layer_takes_hides_by_leather_name_and_thickness() -> None:
    hide = plain_hide(thickness=(1.8, 2.2))
    assert Layer(name="a").takes(hide)
    assert Layer(name="a", leather=("cow side",)).takes(hide)
    assert Layer(name="a", hides=("plain",)).takes(hide)
    assert not Layer(name="a", leather=("goat",)).takes(hide)
    assert Layer(name="a", thickness=(2.2, 3.0)).takes(hide)
    assert not Layer(name="a", thickness=(2.3, 3.0)).takes(hide)
    assert Layer(name="a", thickness=(2.3, 3.0)).takes(plain_hide())


def test_pieces_strips_and_layers_are_found_by_name() -> None:
    strip = Strip(name="strap", width=20.0, length=900.0)
    job = Job(
        name="j",
        articles=(Article(name="a", sets=2, pieces=(Piece(name="p", outline=SQUARE),), strips=(strip,)),),
    )
    assert job.piece("p").name == "p"
    assert job.strip("strap") is strip
    assert job.layer("leather") == Layer(name="leather")
    assert [wanted.strip for wanted in job.wanted_strips] == [strip]
    for look_up in (job.piece, job.strip):
        with pytest.raises(KeyError):
            look_up("nothing")


PIECE = Piece(name="p", outline=SQUARE)


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"articles": ()}, "articles"),
        ({"gap": -0.1}, "gap"),
        ({"gap": math.nan}, "gap"),
        ({"strip_gap": 101.0}, "strip_gap"),
        ({"useful_width": 0.0}, "useful_width"),
        ({"layers": (Layer(name="leather"), Layer(name="leather"))}, "layers"),
        ({"layers": (Layer(name="felt"),)}, "articles[0].pieces[0].cuts[0].layer"),
        (
            {
                "articles": (
                    Article(
                        name="a",
                        sets=1,
                        pieces=(PIECE,),
                        strips=(Strip(name="s", width=20.0, length=900.0, layer="felt"),),
                    ),
                )
            },
            "articles[0].strips[0].layer",
        ),
        (
            {
                "articles": (
                    Article(name="a", sets=1, pieces=(PIECE,)),
                    Article(name="b", sets=1, pieces=(PIECE,)),
                )
            },
            "articles",
        ),
    ],
)
def test_a_job_that_cannot_be_is_refused_with_its_place(fields: dict[str, Any], place: str) -> None:
    whole = {"name": "j", "articles": (Article(name="a", sets=1, pieces=(PIECE,)),), **fields}
    with pytest.raises(InputError) as caught:
        Job(**whole)
    assert caught.value.place == place


@pytest.mark.parametrize(("sets", "pieces"), [(0, (PIECE,)), (100_001, (PIECE,)), (1, ())])
def test_an_article_needs_sets_and_something_to_make_them_of(sets: int, pieces: tuple[Piece, ...]) -> None:
    with pytest.raises(InputError):
        Article(name="a", sets=sets, pieces=pieces)


@pytest.mark.parametrize("run_off", [-1.0, 101.0, math.inf])
def test_the_run_off_is_bounded(run_off: float) -> None:
    with pytest.raises(InputError) as caught:
        Permissions(run_off=run_off)
    assert caught.value.place == "run_off"
