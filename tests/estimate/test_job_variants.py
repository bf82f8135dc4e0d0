"""Jobs narrowed to a hide, a kind, a number of sets, a ratio."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, RuleError
from nestplan.estimate.count import count
from nestplan.estimate.job_variants import (
    apportion,
    job_for_hides,
    job_for_kind,
    job_for_layers,
    strap_job,
    with_sets,
)
from nestplan.model.hide import Hide, Region
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Mark, Opening, Piece, Row, Strip
from tests.small_jobs import laced_job

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))


def _job() -> Job:
    lined = Piece(name="front", outline=SQUARE, cuts=(LayerCut(layer="outer"), LayerCut(layer="lining")))
    plain = Piece(name="tab", outline=SQUARE, cuts=(LayerCut(layer="outer"),))
    return Job(
        name="bags",
        articles=(
            Article(
                name="bag",
                sets=6,
                pieces=(lined, plain),
                strips=(Strip(name="strap", width=20, length=900, layer="outer"),),
            ),
            Article(
                name="pouch",
                sets=4,
                pieces=(Piece(name="body", outline=SQUARE, cuts=(LayerCut(layer="outer"),)),),
            ),
        ),
        layers=(Layer(name="outer", leather=("cow side",)), Layer(name="lining", leather=("goat",))),
    )


def _hide(leather: str) -> Hide:
    return Hide(name=leather, leather=leather, outline=SQUARE)


def test_a_hide_serves_the_pieces_of_the_layers_that_take_it() -> None:
    outer = job_for_hides(_job(), _hide("cow side"))
    lining = job_for_hides(_job(), _hide("goat"))
    assert outer is not None
    assert lining is not None
    assert [article.name for article in outer.articles] == ["bag", "pouch"]
    assert [cut.layer for piece in outer.articles[0].pieces for cut in piece.cuts] == ["outer", "outer"]
    assert [piece.name for article in lining.articles for piece in article.pieces] == ["front"]
    assert lining.articles[0].strips == ()
    assert job_for_hides(_job(), _hide("felt")) is None


def test_leather_to_be_bought_is_free_of_the_hides_at_hand() -> None:
    for kind, layer in (("cow-side", None), ("whatever", "outer")):
        part = job_for_kind(_job(), kind, layer)
        assert [each.name for each in part.layers] == ["outer"]
        assert part.layers[0].takes(_hide("anything"))
    with pytest.raises(RuleError, match="not clear"):
        job_for_kind(_job(), "sheep")
    with pytest.raises(InputError, match="No layer"):
        job_for_kind(_job(), "sheep", "sole")
    with pytest.raises(RuleError, match="Nothing"):
        job_for_layers(_job(), [])


def test_a_part_of_a_job_has_only_what_is_done_to_its_layers() -> None:
    row = Row(name="side", start=(100.0, 0.0), end=(100.0, 80.0), inset=9.0, number=4, diameter=5.0)
    piece = Piece(
        name="front",
        outline=((0, 0), (100, 0), (100, 80), (0, 80)),
        cuts=(LayerCut(layer="outer"), LayerCut(layer="lining")),
        holes=(Opening(outline=((20, 20), (30, 20), (30, 30)), layers=("outer",)),),
        marks=(Mark(at=(50.0, 20.0)), Mark(at=(50.0, 40.0), layers=("lining",))),
        rows=(row,),
    )
    layers = (Layer(name="outer"), Layer(name="lining"))
    lining = job_for_layers(
        Job(name="j", articles=(Article(name="a", sets=1, pieces=(piece,)),), layers=layers), ["lining"]
    ).piece("front")
    assert [mark.at for mark in lining.marks] == [(50.0, 40.0)]
    assert (len(lining.holes), len(lining.all_marks)) == (0, 5)


def test_a_lace_is_as_long_in_a_part_of_a_job_as_in_the_whole() -> None:
    job = laced_job()
    part = job_for_layers(job, ["outer"])
    assert part.strip("lace").length == job.strip("lace").length > 0.0


def test_other_numbers_of_sets_leave_the_rest_of_the_job_alone() -> None:
    fewer = with_sets(_job(), {"bag": 2})
    assert [(article.name, article.sets) for article in fewer.articles] == [("bag", 2)]
    assert fewer.layers == _job().layers
    with pytest.raises(InputError, match="No article"):
        with_sets(_job(), {"hat": 1})


def test_a_ratio_is_met_where_it_divides() -> None:
    assert apportion(10, {"small": 3, "middle": 5, "large": 2}) == {"small": 3, "middle": 5, "large": 2}
    assert apportion(40, {"small": 3, "middle": 5, "large": 2}) == {"small": 12, "middle": 20, "large": 8}


@given(st.lists(st.floats(0.1, 20), min_size=1, max_size=6), st.integers(0, 60))
def test_one_set_more_never_takes_one_away(shares: list[float], total: int) -> None:
    named = {str(place): share for place, share in enumerate(shares)}
    before, after = apportion(total, named), apportion(total + 1, named)
    assert sum(before.values()) == total
    assert sum(after.values()) == total + 1
    assert all(after[name] >= before[name] for name in named)


def test_a_ratio_needs_figures_above_zero() -> None:
    for shares in ({}, {"a": 0.0}, {"a": 1.0, "b": -2.0}):
        with pytest.raises(InputError, match="above 0"):
            apportion(3, shares)


def test_straps_alone_make_a_job() -> None:
    job = strap_job(1100.0, 38.0, joins=1, sets=7)
    strip = job.wanted_strips[0].strip
    assert (strip.length, strip.width, strip.joins, strip.along, job.articles[0].sets) == (
        1100.0,
        38.0,
        1,
        "backbone",
        7,
    )


def test_straps_stay_off_the_belly_and_where_the_leather_is_soft() -> None:
    """On 1000 x 400 mm with a belly of 100 mm along one edge and a neck of little firmness across one end."""
    outline = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 400.0), (0.0, 400.0))
    belly = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 100.0), (0.0, 100.0))
    neck = ((800.0, 100.0), (1000.0, 100.0), (1000.0, 400.0), (800.0, 400.0))
    hide = Hide(
        name="side",
        leather="cow side",
        outline=outline,
        backbone=((0.0, 400.0), (1000.0, 400.0)),
        regions=(
            Region(name="belly", outline=belly, firmness=1),
            Region(name="neck", outline=neck, firmness=2),
        ),
        firmness=4,
    )

    def straps(length: float, **changes: object) -> int:
        (found,) = count(strap_job(length, 50.0, **changes), [hide], together=False)  # type: ignore[arg-type]
        return found.proven

    assert straps(900.0, off=()) == 8
    assert straps(900.0) == 6
    assert straps(900.0, least_firmness=3) == 0
    assert straps(780.0, least_firmness=3) == 6
