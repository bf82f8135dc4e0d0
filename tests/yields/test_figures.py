from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.model import Flaw, Layer, Strip
from nestplan.model.hide import Disc
from nestplan.model.piece import Piece
from nestplan.model.plan import Figures
from nestplan.model.values import as_points
from nestplan.yields.bounds import SetBound
from nestplan.yields.figures import figures_of, whole_sets, with_bounds, with_measures
from tests.small_hides import HIDE_LIKE
from tests.yields.small_plans import (
    HAND,
    Laid,
    hide,
    hole_at,
    job_of,
    panel,
    plan_of,
    spiral_at,
    strap_at,
)

STRAP = Strip(name="strap", width=30, length=800, count=1)
LACE = Strip(name="lace", width=5, length=3000, use="lace", source="disc")


def make_up(figures: Figures) -> float:
    """The areas that must make up the gross area."""
    return sum(
        part.net + part.overcut + part.flaws + part.gaps + part.small_offcuts + part.offcuts
        for part in figures.hides
    )


def test_the_parts_make_up_the_whole() -> None:
    piece = panel(overcut=8)
    job = job_of(piece, sets=9)
    laid = [Laid(piece, 30 + 150 * k, 20 + 3 * k, 2.0 * k) for k in range(6)]
    figures = figures_of(plan_of(job, laid), job, [hide(flaws=[hole_at(500, 300, margin=5)])])
    assert make_up(figures) == pytest.approx(figures.gross, rel=1e-9)
    assert figures.gross == 600_000
    assert figures.net == pytest.approx(60_000)
    band = 400 * 8 + math.pi * 64
    assert figures.hides[0].overcut == pytest.approx(6 * band, rel=0.002)
    assert figures.lost_to_flaws == pytest.approx(math.pi * 25**2 / 600_000, rel=0.01)
    assert figures.net_yield == pytest.approx(0.1)
    assert figures.cut_yield == pytest.approx((60_000 + 6 * band) / 600_000, rel=0.001)
    assert 0 < figures.lost_to_gaps < 0.01


def test_nothing_placed_uses_no_hide() -> None:
    job = job_of(panel())
    figures = figures_of(plan_of(job, []), job, [hide()])
    assert (figures.gross, figures.net, figures.net_yield, figures.hides_used) == (0, 0, 0, 0)
    assert (figures.placed, figures.asked) == (0, 4)
    assert figures.cost is None
    assert figures.sets[0].whole == 0
    assert figures.sets[0].bound > 40


def test_usable_leaves_out_what_no_piece_may_cover() -> None:
    piece = panel()
    flaws = [hole_at(500, 300, margin=10), Flaw(spoils="grain", disc=Disc(at=(200, 200), diameter=60))]
    job = job_of(piece)
    plan = plan_of(job, [Laid(piece, 0, 0)])
    shown = figures_of(plan, job, [hide(flaws=flaws)])
    lost = math.pi * (30**2 + 30**2)
    assert shown.usable == pytest.approx(600_000 - lost, rel=1e-4)
    assert shown.lost_to_flaws * shown.gross == pytest.approx(lost, rel=0.01)
    hidden = Piece(name="panel", outline=piece.outline, cuts=(type(piece.cuts[0])(shows="hidden"),))
    hidden_job = job_of(hidden)
    assert figures_of(plan, hidden_job, [hide(flaws=flaws)]).usable > shown.usable


def test_a_flaw_under_the_overcut_band_is_not_lost_twice() -> None:
    piece = panel(overcut=20)
    job = job_of(piece)
    grain = Flaw(spoils="grain", disc=Disc(at=(90, 150), diameter=10))
    figures = figures_of(plan_of(job, [Laid(piece, 100, 100)]), job, [hide(flaws=[grain])])
    assert figures.lost_to_flaws == pytest.approx(0, abs=1e-9)
    assert make_up(figures) == pytest.approx(figures.gross)


def test_openings_in_a_piece_are_not_net() -> None:
    window = ((20.0, 20.0), (80.0, 20.0), (80.0, 80.0), (20.0, 80.0))
    piece = panel(holes=(window,))
    job = job_of(piece)
    figures = figures_of(plan_of(job, [Laid(piece, 10, 10)]), job, [hide()])
    assert figures.net == 10_000 - 3_600
    assert figures.hides[0].overcut == pytest.approx(3_600)
    assert figures.cut == pytest.approx(10_000)


def test_offcuts_are_at_least_as_wide_as_is_useful() -> None:
    piece = panel()
    job = job_of(piece, useful_width=60)
    laid = [Laid(piece, 100 * k, 0) for k in range(10)] + [Laid(piece, 100 * k, 150) for k in range(10)]
    figures = figures_of(plan_of(job, laid), job, [hide()])
    assert len(figures.offcuts) == 1
    assert figures.offcut_area == pytest.approx(1000 * 350, rel=0.01)
    # The lane of 50 mm between the rows is too narrow to keep.
    assert figures.lost_to_small_offcuts * figures.gross == pytest.approx(1000 * 50 - 1000 * 1.5, rel=0.05)
    kept = figures.offcuts[0]
    # The corners of the offcut are rounded by the useful width.
    assert 0.93 * 350_000 < kept.rectangle_width * kept.rectangle_height < 350_000
    assert kept.disc is not None
    assert kept.disc[2] == pytest.approx(175, rel=0.01)


def test_whole_sets_need_every_piece_of_the_set() -> None:
    front, back = panel("front", count=2), panel("back")
    job = job_of(front, back, sets=3)
    laid = [Laid(front, 110 * k, 0) for k in range(5)] + [Laid(back, 110 * k, 110) for k in range(2)]
    figures = figures_of(plan_of(job, laid), job, [hide()])
    assert figures.sets[0].whole == 2
    assert (figures.placed, figures.asked) == (7, 9)
    assert figures.cost == 60
    assert figures.cost_per_set == 30


def test_a_pair_needs_both_hands_unless_it_may_be_turned_over() -> None:
    for turn_over, whole in ((False, 1), (True, 2)):
        piece = Piece(name="hand", outline=HAND, pair=True, turn_over=turn_over)
        job = job_of(piece, sets=2)
        laid = [Laid(piece, 150 * k, 0) for k in range(3)] + [Laid(piece, 900, 300, mirrored=True)]
        plan = plan_of(job, laid)
        assert whole_sets(job.articles[0], job, plan.placements) == whole
        assert figures_of(plan, job, [hide()]).asked == 4


def test_the_parts_of_a_joined_strip_count_once() -> None:
    joined = Strip(name="strap", width=30, length=800, joins=1)
    job = job_of(strips=[joined], sets=2)
    parts = [strap_at(joined, 0, 40 * k, part=k + 1, length=415.0) for k in range(2)]
    figures = figures_of(plan_of(job, [], parts), job, [hide()])
    assert (figures.placed, figures.sets[0].whole, figures.hides[0].strips) == (1, 1, 1)
    assert figures.net == 2 * 415 * 30


def test_a_spiral_lace_is_as_much_leather_as_it_is_long_and_wide() -> None:
    job = job_of(strips=[LACE], sets=1)
    figures = figures_of(plan_of(job, [], [spiral_at(LACE, 300, 300, 160)]), job, [hide()])
    assert figures.net == 3000 * 5
    assert figures.cut == pytest.approx(math.pi * 80**2, rel=1e-3)
    assert figures.hides[0].overcut == pytest.approx(math.pi * 80**2 - 15_000, rel=1e-3)
    assert make_up(figures) == pytest.approx(figures.gross)


def test_every_flaw_hinders_strips() -> None:
    job = job_of(strips=[STRAP], sets=1)
    mark = Flaw(spoils="mark", disc=Disc(at=(500, 500), diameter=100))
    figures = figures_of(plan_of(job, [], [strap_at(STRAP, 0, 0)]), job, [hide(flaws=[mark])])
    assert figures.lost_to_flaws * figures.gross == pytest.approx(math.pi * 50**2, rel=0.01)
    assert figures.usable == pytest.approx(600_000 - math.pi * 50**2, rel=1e-3)


def test_the_marked_area_is_kept_apart_from_the_measured() -> None:
    piece = panel()
    job = job_of(piece)
    plan = plan_of(job, [Laid(piece, 0, 0), Laid(piece, 0, 0, hide="other")])
    marked, other = hide(stated_area=620_000.0), hide("other", stated_area=590_000.0)
    figures = figures_of(plan, job, [marked, other])
    assert figures.gross == 1_200_000
    assert figures.stated == 1_210_000
    assert figures.stated_less_gross == 10_000
    assert [each.stated_less_gross for each in figures.hides] == [20_000, -10_000]
    assert figures_of(plan, job, [marked, hide("other")]).stated is None


def test_money_is_said_only_where_it_is_known() -> None:
    piece = panel()
    job = job_of(piece)
    plan = plan_of(job, [Laid(piece, 0, 0), Laid(piece, 0, 0, hide="other")])
    both = figures_of(plan, job, [hide(), hide("other", price=40.0), hide("unused", price=None)])
    assert both.cost == 100
    assert both.currency == "CRO"
    assert both.cost_per_set == 50
    left = sum(price * area.offcuts / area.gross for price, area in zip((60, 40), both.hides, strict=True))
    assert both.value_left == pytest.approx(left)
    unpriced = figures_of(plan, job, [hide(), hide("other", price=None)])
    assert unpriced.cost is None
    assert unpriced.value_left is None
    foreign = hide("other").__class__(
        name="other", leather="cow side", outline=hide().outline, price=40.0, currency="DUC"
    )
    assert figures_of(plan, job, [hide(), foreign]).cost is None


def test_each_layer_is_summed_over_its_own_hides() -> None:
    outer = panel("front")
    lining = Piece(name="inner", outline=outer.outline, cuts=(type(outer.cuts[0])(layer="lining"),))
    job = job_of(outer, lining, layers=(Layer(name="leather"), Layer(name="lining")))
    plan = plan_of(job, [Laid(outer, 0, 0)])
    figures = figures_of(plan, job, [hide()])
    assert [(layer.layer, layer.net, layer.pieces) for layer in figures.layers] == [
        ("leather", 10_000, 1),
        ("lining", 0, 0),
    ]


def test_known_bounds_and_plain_offcuts_save_time_not_truth() -> None:
    piece = panel()
    job = job_of(piece)
    plan = plan_of(job, [Laid(piece, 0, 0)])
    figures = figures_of(plan, job, [hide()], bounds=[SetBound("case", 7, "said so")], measured=False)
    assert figures.sets[0].bound == 7
    assert figures.sets[0].gap == 3
    assert figures.offcuts[0].disc is None
    assert figures.lace == 0
    assert figures.offcut_area == figures_of(plan, job, [hide()]).offcut_area


def test_bounds_and_measures_may_come_after_the_rest() -> None:
    piece = panel()
    job = job_of(piece)
    plan = plan_of(job, [Laid(piece, 0, 0)])
    bounds = [SetBound("case", 7, "said so")]
    whole = figures_of(plan, job, [hide()], bounds=bounds, fewest=1)
    bare = figures_of(plan, job, [hide()], measured=False)
    assert with_measures(with_bounds(bare, bounds, 1), job) == whole
    assert with_bounds(bare, bounds, None).hides_bound == bare.hides_bound


def test_a_plan_on_a_hide_that_is_not_given_is_refused() -> None:
    piece = panel()
    job = job_of(piece)
    with pytest.raises(InputError, match=r"placements\[0\].hide"):
        figures_of(plan_of(job, [Laid(piece, 0, 0)]), job, [hide("another")])


@pytest.mark.parametrize("seed", range(12))
def test_no_share_is_less_than_nothing(seed: int) -> None:
    """Areas of uneven outlines round: the difference of two equal ones came out as "flaws -0.0 %"."""
    rng = np.random.default_rng(seed)
    ring = HIDE_LIKE * rng.uniform(5, 8)
    x, y = ring.mean(axis=0) + rng.uniform(-20, 20, 2)
    uneven = msgspec.structs.replace(
        hide(),
        outline=as_points(ring + rng.uniform(0, 3, ring.shape)),
        flaws=(hole_at(float(x) + 50.123, float(y) + 50.37, 20.0),),
    )
    job = job_of(panel())
    # The panel's cut shape covers the flaw, so that nothing more is lost to it.
    placed = [Laid(job.articles[0].pieces[0], float(x), float(y), float(rng.uniform(-5, 5)))]
    row = figures_of(plan_of(job, placed), job, [uneven]).hides[0]
    for share in (row.flaws, row.overcut, row.gaps, row.small_offcuts, row.offcuts):
        assert share >= 0.0
        assert not f"{share:.1%}".startswith("-")
