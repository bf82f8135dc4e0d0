"""Why something has no place: each reason on a small job that can have no other."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.geometry.pose import Pose
from nestplan.model import Disc, Flaw, Layer, LayerCut, Piece, StretchRule
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from nestplan.nesting.result.reasons import unplaced
from tests.small_jobs import SQUARE, laid, one_piece_job, plain_hide, strap_job, two_region_hide

LONG = ((0.0, 0.0), (900.0, 0.0), (900.0, 60.0), (0.0, 60.0))


def only_reason(job, *hides):
    (found,) = nest(job, hides).unplaced
    return found


def test_too_large_with_the_size_that_would_fit():
    huge = Piece(name="huge", outline=((0, 0), (2000, 0), (2000, 500), (0, 500)))
    found = only_reason(one_piece_job(huge), plain_hide())
    assert found.reason == "too large"
    percent = int(found.change.split(" %")[0].removeprefix("At "))
    assert 40 <= percent <= 62


def test_stretch_with_the_tolerance_that_would_let_it_in():
    # 900 mm long on 1000 x 800 mm: it must lie near the long side, but its axis is to stand square to that.
    cut = LayerCut(stretch=StretchRule(axis=0.0, tolerance=10.0))
    found = only_reason(one_piece_job(Piece(name="long", outline=LONG, cuts=(cut,))), plain_hide())
    assert found.reason == "stretch"
    assert "tolerance of" in found.change


def test_region_with_the_hide_on_which_it_would_fit():
    cut = LayerCut(regions=("belly",))
    piece = Piece(name="long", outline=LONG, cuts=(cut,))
    found = only_reason(one_piece_job(piece), two_region_hide())
    assert found.reason == "region"
    assert "plain" in found.change


def test_flaws_that_leave_no_clear_area():
    flaws = tuple(
        Flaw(spoils="through", disc=Disc(at=(x, y), diameter=20.0))
        for x in range(80, 1000, 80)
        for y in range(80, 800, 80)
    )
    found = only_reason(one_piece_job(Piece(name="square", outline=SQUARE)), plain_hide(flaws=flaws))
    assert found.reason == "flaws"


def test_no_leather_of_the_kind_asked():
    job = one_piece_job(layers=(Layer(name="leather", leather=("goat",)),))
    assert only_reason(job, plain_hide()).reason == "no leather"


def test_no_room_with_the_leather_that_is_missing():
    found = only_reason(one_piece_job(sets=90), plain_hide())
    assert found.reason == "no room"
    assert found.count >= 10
    assert "dm²" in found.change
    inches = only_reason(one_piece_job(sets=90, units="in"), plain_hide())
    assert "ft²" in inches.change


@pytest.mark.parametrize(
    ("length", "width", "changes", "reason"),
    [
        (1500.0, 40.0, {}, "too large"),
        (900.0, 700.0, {}, "no room"),
        (1000.0, 40.0, {"regions": ("bend",)}, "region"),
    ],
)
def test_straps_have_their_reasons_too(length, width, changes, reason):
    hide = two_region_hide()
    assert only_reason(strap_job(length=length, width=width, sets=2, **changes), hide).reason == reason


def reason_at_once(job, *hides):
    """The reason given when there is no time to try anything."""
    (found,) = unplaced(LeatherProblem(job, hides), (), stop=lambda: True)
    return found


def test_without_time_for_trials_what_area_and_discs_prove_is_still_said():
    huge = Piece(name="huge", outline=((0, 0), (2000, 0), (2000, 500), (0, 500)))
    assert reason_at_once(one_piece_job(huge), plain_hide()).reason == "too large"
    in_the_bend = Piece(
        name="wide", outline=((0, 0), (700, 0), (700, 700), (0, 700)), cuts=(LayerCut(regions=("bend",)),)
    )
    assert reason_at_once(one_piece_job(in_the_bend), two_region_hide()).reason == "region"
    assert reason_at_once(one_piece_job(sets=3), plain_hide()).reason == "no room"
    goat = one_piece_job(layers=(Layer(name="leather", leather=("goat",)),))
    assert reason_at_once(goat, plain_hide()).reason == "no leather"
    assert reason_at_once(strap_job(length=1500.0), plain_hide()).reason == "too large"


def test_no_reason_ever_says_that_nobody_looked():
    jobs = [one_piece_job(sets=90), strap_job(sets=40), strap_job(length=1500.0), one_piece_job(sets=3)]
    for job in jobs:
        found = reason_at_once(job, plain_hide())
        assert found.why
        assert "looked into" not in found.why


def test_a_piece_kept_to_one_region_that_is_full_names_the_region():
    piece = Piece(name="front", outline=SQUARE, cuts=(LayerCut(regions=("bend",)),))
    found = only_reason(one_piece_job(piece, sets=60), two_region_hide())
    assert found.reason == "no room"
    assert found.why == "It may lie only in the bend, and the others have taken the room there."


def reason_beside(job, hide, *, free, stop=False):
    """Why what a job asks has no place beside squares 100 mm wide that lie all over a hide but on a part of it: `free`
    (x0, y0, x1, y1)."""
    x0, y0, x1, y1 = free
    filler = Piece(name="filler", outline=SQUARE, count=80)
    article = msgspec.structs.replace(job.articles[0], pieces=(*job.articles[0].pieces, filler))
    job = msgspec.structs.replace(job, articles=(article,), gap=0.0)
    corners = [(100.0 * column, 100.0 * row) for column in range(10) for row in range(8)]
    lying = [
        laid(job, filler, Pose(x, y), hide=hide.name)
        for x, y in corners
        if not (x0 <= x < x1 and y0 <= y < y1)
    ]
    missing = unplaced(LeatherProblem(job, (hide,)), lying, stop=lambda: stop)
    return next(each.why for each in missing if each.piece != "filler")


BAR = ((0.0, 0.0), (280.0, 0.0), (280.0, 90.0), (0.0, 90.0))


@pytest.mark.parametrize(
    ("cut", "hide", "free", "why"),
    [
        (LayerCut(), plain_hide(), (400, 300, 700, 400), "The search ended before"),
        (LayerCut(), plain_hide(), (400, 300, 600, 400), "what they leave is nowhere large enough"),
        (
            LayerCut(least_firmness=3),
            two_region_hide(),
            (600, 300, 900, 400),
            "It may lie only in the bend, and the others have taken the room there",
        ),
        (
            LayerCut(stretch=StretchRule(axis=0.0, tolerance=10.0)),
            plain_hide(),
            (400, 300, 700, 400),
            "in what they leave its stretch keeps it from being turned to fit",
        ),
        (
            LayerCut(shows="grain"),
            plain_hide(flaws=(Flaw(spoils="grain", disc=Disc(at=(550.0, 350.0), diameter=60.0)),)),
            (400, 300, 700, 400),
            "in what they leave flaws keep it out",
        ),
    ],
)
def test_beside_others_the_rule_that_keeps_a_piece_out_is_named(cut, hide, free, why):
    job = one_piece_job(Piece(name="bar", outline=BAR, cuts=(cut,)))
    assert why in reason_beside(job, hide, free=free)


def test_without_time_a_bare_hide_tells_that_the_search_ended_and_a_full_one_that_it_is_full():
    bar = one_piece_job(Piece(name="bar", outline=BAR))
    assert "search ended" in reason_beside(bar, plain_hide(), free=(0, 0, 1000, 600), stop=True)
    assert "taken the room" in reason_beside(bar, plain_hide(), free=(400, 300, 700, 400), stop=True)


def test_pieces_that_only_some_hides_can_hold_name_these():
    hides = (plain_hide("large"), plain_hide("small", outline=LONG, backbone=None))
    wide = Piece(name="wide", outline=((0, 0), (900, 0), (900, 700), (0, 700)), count=2)
    found = only_reason(one_piece_job(wide), *hides)
    assert found.why == "It is too large for any hide but 'large'; the others have taken the room there."


@pytest.mark.parametrize(
    ("changes", "free", "why"),
    [
        ({}, (0, 300, 1000, 400), "The search ended before"),
        ({}, (100, 300, 900, 400), "they leave no straight run of that length"),
        ({"regions": ("bend",), "length": 400.0}, (500, 300, 1000, 400), "in regions"),
        ({"length": 700.0}, (400, 0, 500, 800), "only across its direction"),
    ],
)
def test_beside_others_the_rule_that_keeps_a_strap_out_is_named(changes, free, why):
    job = strap_job(**{"length": 950.0, "sets": 1, **changes})
    assert why in reason_beside(job, two_region_hide(), free=free)


def test_on_many_hides_the_cause_is_that_of_all_of_them():
    hides = [plain_hide(f"hide {number}") for number in range(12)]
    found = only_reason(
        one_piece_job(Piece(name="long", outline=((0, 0), (1300, 0), (1300, 60), (0, 60)))), *hides
    )
    assert found.reason == "too large"
    long = Piece(name="long", outline=LONG, cuts=(LayerCut(stretch=StretchRule(axis=0.0, tolerance=10.0)),))
    assert only_reason(one_piece_job(long), *hides).reason == "stretch"


def test_a_hide_without_a_backbone_is_said_to_have_none_where_a_direction_is_asked():
    piece = Piece(
        name="panel", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=0.0, tolerance=10.0)),)
    )
    hides = (plain_hide("one", backbone=None), plain_hide("two", backbone=None))
    (missing,) = nest(one_piece_job(piece), hides).unplaced
    assert missing.reason == "stretch"
    assert "'one' and 'two' have no backbone" in missing.why
    assert "Draw their backbones" in missing.change
    (alone,) = nest(one_piece_job(piece), hides[:1]).unplaced
    assert "'one' has no backbone" in alone.why
    assert nest(one_piece_job(piece), (plain_hide("one"),)).unplaced == ()


def test_a_hide_that_lies_unused_for_want_of_a_backbone_is_named_where_the_others_are_full():
    piece = Piece(
        name="panel", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=0.0, tolerance=10.0)),)
    )
    hides = (plain_hide("full"), plain_hide("bare", backbone=None))
    plan = nest(one_piece_job(piece, sets=90), hides)
    (missing,) = plan.unplaced
    assert {placed.hide for placed in plan.placements} == {"full"}
    assert missing.reason == "stretch"
    assert "'bare' has no backbone that would tell it. There is no room left elsewhere." in missing.why
    long = Piece(name="long", outline=LONG, cuts=(LayerCut(stretch=StretchRule(axis=0.0, tolerance=10.0)),))
    (missing,) = nest(one_piece_job(long), hides).unplaced
    assert "backbone" not in missing.why
    free = Piece(name="panel", outline=SQUARE)
    (missing,) = nest(one_piece_job(free, sets=900), hides).unplaced
    assert missing.reason == "no room"
