"""The front door: a job and hides in, a checked plan out. Every plan here has passed the audit inside nest."""

from __future__ import annotations

import itertools

import msgspec
import pytest
import shapely

from nestplan.errors import InputError
from nestplan.model import Article, Job, LayerCut, Overcut, Piece, StretchRule, Strip
from nestplan.model.audit import check
from nestplan.model.files import to_text
from nestplan.model.goals import GOALS
from nestplan.nesting.budget import Cancel
from nestplan.nesting.nest import nest
from nestplan.nesting.progress import Observer
from tests.generated_hides import generated_hide, generated_job
from tests.random_jobs import faults_of
from tests.small_jobs import (
    HANDED,
    SQUARE,
    flawed_hide,
    lined_piece,
    one_piece_job,
    plain_hide,
    strap_job,
    two_region_hide,
)


def middle(placement) -> shapely.Point:
    return shapely.Polygon(placement.finished_ring).centroid


def test_all_squares_of_a_small_job_lie_and_the_figures_say_so():
    plan = nest(one_piece_job(sets=12), [plain_hide()])
    assert len(plan.placements) == 12
    assert plan.unplaced == ()
    assert plan.figures.net == pytest.approx(12 * 100 * 100)
    assert plan.figures.sets[0].whole == 12


def test_no_hide_is_refused():
    with pytest.raises(InputError):
        nest(one_piece_job(), [])


@pytest.mark.parametrize("goal", GOALS.names)
def test_the_same_seed_and_passes_give_the_same_bytes_on_one_and_on_two_workers(goal):
    job = generated_job(3, pieces=12, size=330.0)
    hides = [generated_hide(3, "sheep", name="a"), generated_hide(4, "goat", name="b")]
    texts = {to_text(nest(job, hides, goal=goal, passes=8, seed=5, workers=w)) for w in (1, 2, 2)}
    assert len(texts) == 1


def test_another_seed_gives_another_plan():
    plans = [nest(one_piece_job(sets=5), [plain_hide()], seed=seed).placements for seed in (0, 1)]
    assert plans[0] != plans[1]


def test_kept_placements_stay_and_the_rest_nests_around_them():
    job = one_piece_job(sets=12)
    first = nest(job, [plain_hide()])
    kept = tuple(msgspec.structs.replace(p, locked=True) for p in first.placements[:5])
    again = nest(job, [plain_hide()], keep=kept, seed=9)
    assert [p for p in again.placements if p.locked] == list(kept)
    assert len(again.placements) == 12
    assert sorted(p.copy for p in again.placements) == list(range(1, 13))
    assert again.placements != first.placements


def test_a_search_called_off_beforehand_still_gives_a_right_plan():
    cancel = Cancel()
    cancel.cancel()
    job, hide = generated_job(1, pieces=40), generated_hide(1)
    plan = nest(job, [hide], seconds=60, stop=cancel)
    assert check(plan, job, [hide]) == ()


def test_pairs_come_in_equal_numbers_and_mates_lie_near():
    piece = Piece(name="front", outline=HANDED, pair=True, mates_near=True)
    plan = nest(one_piece_job(piece, sets=10), [plain_hide()])
    hands = [p.mirrored for p in plan.placements]
    assert hands.count(True) == hands.count(False) == 10
    mates = {s: [p for p in plan.placements if p.set == s] for s in range(1, 11)}
    own = sum(middle(a).distance(middle(b)) for a, b in mates.values())
    shuffled = sum(middle(mates[s][0]).distance(middle(mates[s % 10 + 1][1])) for s in mates)
    assert own < shuffled


def test_outer_and_reversed_lining_each_lie_in_their_hand():
    plan = nest(one_piece_job(lined_piece(), sets=4), [plain_hide()])
    assert {(p.layer, p.mirrored) for p in plan.placements} == {("outer", False), ("lining", True)}
    assert plan.figures.sets[0].whole == 4


def test_overcuts_are_widened_to_the_wish_where_there_is_room():
    plan = nest(one_piece_job(lined_piece(), sets=1), [plain_hide()])
    (lining,) = [p for p in plan.placements if p.layer == "lining"]
    assert lining.overcut > 6.0


def test_hidden_pieces_go_to_the_belly_where_grain_pieces_need_the_bend():
    shown = Piece(name="front", outline=SQUARE, cuts=(LayerCut(regions=("bend",)),))
    hidden = Piece(name="back", outline=SQUARE, cuts=(LayerCut(shows="hidden"),))
    job = Job(name="two", articles=(Article(name="bag", sets=15, pieces=(shown, hidden)),))
    plan = nest(job, [two_region_hide()])
    assert plan.unplaced == ()
    on_belly = [p for p in plan.placements if p.piece == "back" and middle(p).x > 500]
    assert len(on_belly) >= 10


def test_straps_and_pieces_share_a_hide():
    square = Piece(name="square", outline=SQUARE)
    strap = Strip(name="strap", width=40.0, length=900.0, count=2)
    job = Job(name="both", articles=(Article(name="bag", sets=3, pieces=(square,), strips=(strap,)),))
    plan = nest(job, [plain_hide()])
    assert plan.unplaced == ()
    assert sum(bool(p.strip) for p in plan.placements) == 6
    assert plan.figures.sets[0].whole == 3


def test_straps_share_their_cuts():
    plan = nest(strap_job(sets=5), [plain_hide()])
    shapes = [shapely.Polygon(p.cut_ring) for p in plan.placements]
    touching = sum(a.distance(b) < 1e-3 for a, b in itertools.combinations(shapes, 2))
    assert touching >= 4


def test_fill_goes_beyond_what_is_asked():
    plan = nest(one_piece_job(sets=2), [flawed_hide("through")], goal="fill", passes=2)
    assert plan.figures.sets[0].whole > 40


def test_one_hide_is_enough_when_all_fits_on_it():
    hides = [plain_hide("first"), plain_hide("second", price=300.0), plain_hide("third", price=50.0)]
    plan = nest(one_piece_job(sets=10), hides, passes=5)
    assert {p.hide for p in plan.placements} == {"third"}


def test_gather_leaves_a_larger_offcut_than_complete():
    job, hide = generated_job(2, pieces=8, size=200.0), generated_hide(2, "bend", flaws=4)
    largest = {}
    for goal in ("complete", "gather"):
        plan = nest(job, [hide], goal=goal, passes=16)
        largest[goal] = max(offcut.area for offcut in plan.figures.offcuts)
    assert largest["gather"] > largest["complete"]


def test_the_observer_hears_of_stages_and_better_plans_in_order():
    class Notes(Observer):
        def __init__(self) -> None:
            self.heard: list[str] = []
            self.last = None

        def on_start(self, progress):
            self.heard.append("start")

        def on_stage(self, progress):
            self.heard.append(progress.stage)

        def on_end(self, progress):
            self.heard.append("end")
            self.last = progress

    notes = Notes()
    nest(one_piece_job(sets=3), [plain_hide()], observer=notes)
    assert notes.heard == ["start", "strips", "lay", "check", "end"]
    assert (notes.last.placed, notes.last.asked, notes.last.sets) == (3, 3, 3)


@pytest.mark.parametrize("seed", range(8))
def test_every_plan_for_a_random_job_passes_the_audit(seed):
    assert faults_of(seed) == []


def test_a_stretch_rule_is_kept_by_every_piece():
    cut = LayerCut(stretch=StretchRule(axis=0.0, tolerance=12.0), overcut=Overcut(least=2.0, wished=4.0))
    piece = Piece(name="panel", outline=HANDED, cuts=(cut,))
    plan = nest(one_piece_job(piece, sets=12), [plain_hide()])
    # The plain hide gives most square to its backbone, at 90 degrees.
    assert all(abs((p.angle - 90.0 + 90.0) % 180.0 - 90.0) <= 12.001 for p in plan.placements)
