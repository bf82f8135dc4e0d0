"""Counts of hardware, thread, glue and lace for a job, and what a set costs."""

from __future__ import annotations

import math

import msgspec
import pytest

from nestplan.estimate.planner import EnginePlanner
from nestplan.estimate.supplies import (
    cost_per_set,
    glue_area,
    hand_thread_length,
    leather_shares,
    seam_length,
    shopping_list,
    thread_length,
)
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Mark, Overcut, Piece, Strip
from nestplan.model.plan import Figures
from nestplan.model.supplies import Supplies
from tests.small_jobs import laced_job

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
GROMMETS = tuple(
    Mark(at=(x, y), do="punch", diameter=9.525, what="grommet 3/8 in")
    for x in (16.0, 184.0)
    for y in (20.0, 50.0, 80.0)
)


def _panel(**changes: object) -> Piece:
    figures: dict[str, object] = {
        "name": "panel",
        "outline": ((0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)),
        "marks": GROMMETS,
        "pair": True,
        "cuts": (
            LayerCut(layer="outer", overcut=Overcut(least=6.0, wished=12.0)),
            LayerCut(layer="lining", overcut=Overcut(least=8.0, wished=12.0), reversed=True),
        ),
    }
    return Piece(**(figures | changes))  # type: ignore[arg-type]


def _job(panel: Piece, **changes: object) -> Job:
    figures: dict[str, object] = {
        "name": "belts",
        "articles": (
            Article(
                name="belt",
                sets=5,
                pieces=(panel,),
                strips=(Strip(name="side lace", width=6.0, length=1000.0, count=2, use="lace"),),
            ),
        ),
        "layers": (
            Layer(name="outer", thickness=(2.0, 2.4)),
            Layer(name="lining", thickness=(1.0, 1.2)),
            Layer(name="leather"),
        ),
    }
    return Job(**(figures | changes))  # type: ignore[arg-type]


def test_hardware_and_lace_are_counted_for_pairs_sets_and_all() -> None:
    needs = shopping_list(_job(_panel()))
    per_set = {supply.what: supply.amount for supply in needs.articles[0].per_set}
    totals = {supply.what: supply.amount for supply in needs.totals}
    assert per_set["grommet 3/8 in"] == 12
    assert totals["grommet 3/8 in"] == 60
    assert per_set["side lace"] == pytest.approx(2.0)
    assert totals["side lace"] == pytest.approx(10.0)


def test_glue_covers_both_faces_of_the_joint_up_to_the_trimmed_edge() -> None:
    """Whole joint: the smaller overcut, 6 mm, round 200 x 100 mm (Steiner's formula: A + P r + pi r^2)."""
    joint = 200 * 100 + 600 * 6 + math.pi * 36
    assert glue_area(_panel(), None) == pytest.approx(joint, rel=1e-4)
    needs = shopping_list(_job(_panel(), supplies=Supplies(glue_coats=2, glue_cover=8.0)))
    litres = next(supply.amount for supply in needs.articles[0].per_set if supply.what == "glue")
    assert litres == pytest.approx(2 * joint / 1e6 * 2 * 2 / 8.0, rel=1e-4)


def test_a_band_of_glue_leaves_the_middle_free() -> None:
    band = glue_area(_panel(), 15.0)
    assert glue_area(_panel(), None) - band == pytest.approx(170 * 70, rel=1e-3)
    assert glue_area(_panel(cuts=(LayerCut(layer="outer"),)), 15.0) == 0.0


def test_seams_are_the_stated_length_or_the_edge_of_what_is_lined() -> None:
    assert seam_length(_panel()) == pytest.approx(600.0)
    assert seam_length(_panel(seams=250.0)) == 250.0
    assert seam_length(_panel(cuts=(LayerCut(layer="outer"),))) == 0.0


def test_thread_follows_the_thickness_of_the_stack() -> None:
    job = _job(_panel(), supplies=Supplies(stitches_per_inch=6.0, thread_waste=0.10))
    thread = next(
        supply.amount for supply in shopping_list(job).articles[0].per_set if supply.what == "thread"
    )
    middle = (2.2 + 1.1) / 25.4
    assert thread == pytest.approx(2 * 0.6 * (2 + 2 * middle * 6) * 1.10)


def test_thread_without_a_thickness_takes_the_plain_ratio_and_says_so() -> None:
    layers = (Layer(name="outer", thickness=(2.0, 2.4)), Layer(name="lining"), Layer(name="leather"))
    needs = shopping_list(_job(_panel(), layers=layers))
    assert sum("thickness is not stated" in warning for warning in needs.warnings) == 1
    assert thread_length(100.0, None, 6.0, 0.0) == pytest.approx(250.0)


def test_a_stack_over_the_machine_limit_warns_with_the_name_of_the_piece() -> None:
    needs = shopping_list(_job(_panel(), machine_limit=3.2))
    assert needs.stacks[0].stack.most == pytest.approx(3.6)
    assert any("panel: The stack can be thicker" in warning for warning in needs.warnings)
    assert not any("stack" in warning for warning in shopping_list(_job(_panel())).warnings)


def test_money_is_for_what_has_a_price_and_the_rest_is_named() -> None:
    prices = {"grommet 3/8 in": 0.25, "thread": 0.1, "buckle": 3.0}
    job = _job(_panel(), supplies=Supplies(prices=prices, labour=12.0))
    needs = shopping_list(job)
    thread = next(supply for supply in needs.articles[0].per_set if supply.what == "thread")
    assert needs.articles[0].cost == pytest.approx(12.0 + 12 * 0.25 + 0.1 * thread.amount)
    assert needs.cost == pytest.approx(5 * needs.articles[0].cost)
    assert needs.unpriced == ("glue",)
    assert any("'buckle'" in warning for warning in needs.warnings)
    a_set = cost_per_set(job, _figures(cost=100.0, value_left=40.0), [0.2])[0]
    assert (a_set.hides, a_set.leather, a_set.labour) == (20.0, 12.0, 12.0)
    assert a_set.with_hides == pytest.approx(20.0 + needs.articles[0].cost)
    assert a_set.with_leather == pytest.approx(12.0 + needs.articles[0].cost)
    unpriced = cost_per_set(job, None, [0.2])[0]
    assert (unpriced.hides, unpriced.with_hides, unpriced.with_leather) == (None, None, None)


def test_waiting_times_come_from_the_job_and_only_where_glue_is_used() -> None:
    needs = shopping_list(
        _job(_panel(), supplies=Supplies(minutes_before_joining=7, minutes_before_trimming=45))
    )
    assert "7 minutes" in needs.waits[0]
    assert "45 minutes" in needs.waits[1]
    assert "label" in needs.waits[2]
    plain = _job(_panel(cuts=(LayerCut(layer="outer"),)))
    assert shopping_list(plain).waits == ()


def test_long_lace_is_named_with_its_splices() -> None:
    strips = (Strip(name="long lace", width=6.0, length=5000.0, use="lace"),)
    job = _job(_panel(), articles=(Article(name="belt", sets=1, pieces=(_panel(),), strips=strips),))
    assert any("long lace" in warning and "2 splices" in warning for warning in shopping_list(job).warnings)


def test_holes_that_run_into_each_other_are_said() -> None:
    marks = tuple(Mark(at=(100.0, y), do="punch", diameter=9.0) for y in (40.0, 48.0, 70.0))
    warnings = shopping_list(_job(_panel(marks=marks))).warnings
    assert [warning for warning in warnings if "run into each other" in warning] == [
        "panel: the holes at (100, 40) mm and (100, 48) mm run into each other."
    ]
    row = tuple(Mark(at=(25.4 * place, 50.8), do="punch", diameter=26.0) for place in range(1, 6))
    in_inches = shopping_list(_job(_panel(marks=row), units="in")).warnings
    assert [warning for warning in in_inches if "run into each other" in warning] == [
        "panel: the holes at (1, 2) in and (2, 2) in run into each other, and so do 3 more of its holes with another."
    ]


def test_leather_is_shared_out_by_what_lies_for_each_article() -> None:
    small = Piece(name="small", outline=((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)))
    large = Piece(name="large", outline=((0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)))
    job = Job(
        name="two",
        articles=(Article(name="a", sets=2, pieces=(small,)), Article(name="b", sets=1, pieces=(large,))),
    )
    hide = Hide(
        name="h", leather="cow", outline=((0.0, 0.0), (900.0, 0.0), (900.0, 500.0), (0.0, 500.0)), price=40.0
    )
    plan = EnginePlanner().plan(job, [hide], "complete")
    assert not plan.unplaced
    a, b = leather_shares(job, plan)
    assert b == pytest.approx(2 * a)
    assert 2 * a + b == pytest.approx(1.0)
    assert plan.figures is not None
    hides, leather = plan.figures.cost, plan.figures.leather_cost
    assert hides == 40.0
    # 0.04 of 0.45 m² is cut; what is narrower than the useful width is waste of this job.
    assert leather is not None
    assert 40.0 * 0.04 / 0.45 <= leather <= 20.0


def test_a_plan_of_half_the_sets_shares_its_leather_among_those_that_are_whole() -> None:
    piece = Piece(name="panel", outline=SQUARE)
    job = Job(name="j", articles=(Article(name="a", sets=8, pieces=(piece,)),))
    hide = Hide(name="h", leather="cow", outline=((0.0, 0.0), (210.0, 0.0), (210.0, 210.0), (0.0, 210.0)))
    plan = EnginePlanner().plan(job, [hide], "complete")
    assert plan.figures is not None
    assert plan.figures.sets[0].whole == 4
    assert leather_shares(job, plan) == (0.25,)


def test_thread_by_hand_is_four_times_the_seam_and_a_foot_each() -> None:
    assert hand_thread_length(1000.0, 2) == pytest.approx(4000.0 + 2 * 304.8)
    by_hand = shopping_list(_job(_panel(), supplies=Supplies(stitch="saddle")))
    thread = next(supply for supply in by_hand.articles[0].per_set if supply.what == "thread")
    assert thread.amount == pytest.approx((4 * 2 * 600.0 + 2 * 304.8) / 1000.0)
    assert not any("plain ratio" in warning for warning in by_hand.warnings)


def test_a_quart_of_cement_joins_as_much_as_its_data_sheet_says() -> None:
    """A maker's data sheet of 2015: 308 ft2 a gallon for one coat on one face, so 38.5 ft2 of joint a quart."""
    side = math.sqrt(38.5) * 304.8
    ring = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    piece = Piece(name="panel", outline=ring, cuts=(LayerCut(layer="outer"), LayerCut(layer="lining")))
    job = Job(
        name="j",
        articles=(Article(name="a", sets=1, pieces=(piece,)),),
        layers=(Layer(name="outer"), Layer(name="lining")),
        supplies=Supplies(glue_coats=1),
    )
    glue = next(supply for supply in shopping_list(job).totals if supply.what == "glue")
    assert glue.amount == pytest.approx(0.946, rel=0.002)


def _figures(*, cost: float, value_left: float) -> Figures:
    return Figures(
        gross=1.0, usable=1.0, net=0.5, cut=0.5, net_yield=0.5, cut_yield=0.5, lost_to_flaws=0.0,
        lost_to_overcut=0.0, lost_to_gaps=0.0, lost_to_small_offcuts=0.0, offcut_area=0.4, cost=cost,
        value_left=value_left,
    )  # fmt: skip


def test_a_slit_is_cut_and_not_bought_and_one_through_the_edge_is_said() -> None:
    inside = Mark(at=(100.0, 50.0), do="slit", length=25.0, what="strap slit")
    across = Mark(at=(100.0, 4.0), do="slit", length=25.0, angle=90.0)
    piece = _panel(marks=(inside, across))
    shopping = shopping_list(_job(piece))
    assert not any("slit" in supply.what for supply in shopping.totals)
    told = [warning for warning in shopping.warnings if "slit" in warning]
    assert told == ["panel: the slit of 25.0 mm at (100.0, 4.0) runs through the edge."]


def test_hardware_that_is_set_in_several_layers_is_counted_in_each() -> None:
    layers = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    spot = Mark(at=(20.0, 20.0), what="stud")
    for mark, count in (
        (spot, 1),
        (msgspec.structs.replace(spot, layers=("outer", "lining")), 2),
        (msgspec.structs.replace(spot, layers=("outer", "lining"), when="after trimming"), 1),
    ):
        piece = Piece(name="panel", outline=SQUARE, marks=(mark,), cuts=layers)
        job = Job(
            name="j",
            articles=(Article(name="a", sets=1, pieces=(piece,)),),
            layers=(Layer(name="outer"), Layer(name="lining")),
        )
        assert {supply.what: supply.amount for supply in shopping_list(job).totals}["stud"] == count


def test_lace_that_no_strip_is_cut_for_is_to_be_bought() -> None:
    job = laced_job(sets=3)
    article = job.articles[0]
    kept = tuple(strip for strip in article.strips if strip.laces == "before")
    bare = msgspec.structs.replace(job, articles=(msgspec.structs.replace(article, strips=kept),))
    needs = shopping_list(bare)
    laces = {
        supply.what: (supply.amount, supply.cut)
        for supply in needs.articles[0].per_set
        if "lace" in supply.what
    }
    assert set(laces) == {"lace", "lace for beside", "lace for above"}
    side = next(strip.length for strip in article.strips if strip.laces == "beside")
    assert laces["lace for beside"] == (pytest.approx(2 * side / 1000.0), False)
    assert laces["lace"][1]
    assert "lace for beside" in needs.unpriced


def test_stacks_too_thick_in_the_same_way_are_warned_of_once() -> None:
    layers = (Layer(name="outer", thickness=(2.0, 2.4)), Layer(name="lining", thickness=(1.0, 1.2)))
    cuts = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    square = ((0.0, 0.0), (90.0, 0.0), (90.0, 90.0), (0.0, 90.0))
    pieces = tuple(Piece(name=name, outline=square, cuts=cuts) for name in ("front", "side", "back"))
    job = Job(
        name="j", articles=(Article(name="a", sets=1, pieces=pieces),), layers=layers, machine_limit=3.5
    )
    (warning,) = [each for each in shopping_list(job).warnings if "limit" in each]
    assert warning.startswith("front, side, back: The stack can be thicker than 3.5 mm")
    at_limit = msgspec.structs.replace(job, machine_limit=3.6)
    assert not [each for each in shopping_list(at_limit).warnings if "limit" in each]
