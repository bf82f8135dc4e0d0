from __future__ import annotations

import msgspec
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import Ring, to_polygon
from nestplan.model import Article, Job, Layer, Permissions, Region, Strip
from nestplan.model.piece import LayerCut, Overcut, Part, Piece
from nestplan.yields.bounds import (
    _group_orders,
    _GrowingUnion,
    _SetItem,
    area_bounds,
    fewest_hides,
    job_bound,
    set_bounds,
)
from nestplan.yields.capacity import (
    drawn_coarsely,
    most_by_spacing,
    outline_measures,
)
from tests.small_hides import BOTTLE_NECK, L_SHAPE, RINGS, SQUARE_100, TWO_ROOMS
from tests.yields.most_copies import most_copies, reachable
from tests.yields.small_plans import HAND, hide, hole_at, job_of, panel

SQUARE = tuple((float(x), float(y)) for x, y in SQUARE_100)


def test_panels_that_tile_the_hide_reach_the_bound() -> None:
    piece = panel()
    assert set_bounds(job_of(piece, gap=0), [hide()])[0].sets == 60
    assert set_bounds(job_of(piece, gap=0), [hide(), hide("second")])[0].sets == 120


def test_gap_and_overcut_lower_the_bound_but_not_below_what_fits() -> None:
    # 9 x 5 squares of 100 mm fit at a pitch of 110; by area alone it would be 49.9 and the tolerances.
    piece = panel(overcut=4.25)
    found = set_bounds(job_of(piece, gap=1.5), [hide()])[0].sets
    assert 45 <= found <= 50


def test_leather_that_no_piece_can_reach_does_not_count() -> None:
    rooms = to_polygon(TWO_ROOMS)
    small, large = 40 / 100 * SQUARE_100, 55 / 100 * SQUARE_100
    assert most_copies(small, rooms) == 2
    assert most_copies(large, rooms) == 2
    assert most_copies(65 / 100 * SQUARE_100, rooms) == 0
    # The bottle's walls are 20 mm thick: nothing wider gets past them but through the area itself.
    assert most_copies(30 / 100 * SQUARE_100, to_polygon(BOTTLE_NECK)) == 0


@pytest.mark.parametrize("name", RINGS)
def test_no_point_of_a_shape_inside_lies_out_of_reach(name: str) -> None:
    area = to_polygon(RINGS[name])
    ring = L_SHAPE * 0.12
    found = reachable(area, outline_measures(ring))
    rng = np.random.default_rng(2)
    xmin, ymin, xmax, ymax = area.bounds
    seen = 0
    for _ in range(1500):
        pose = Pose(
            rng.uniform(xmin, xmax), rng.uniform(ymin, ymax), rng.uniform(0, 360), bool(rng.integers(2))
        )
        shape = shapely.Polygon(pose.apply(ring))
        if area.covers(shape):
            seen += 1
            assert shape.difference(found).area < 1e-6
    assert seen or name in {"thin strip", "star", "right triangle", "comb", "bottle neck"}


def test_big_pieces_are_counted_by_their_middles() -> None:
    # Two discs of diameter 60 have their middles at least 60 apart; in a square of 100 only one fits, or two
    # corner to corner only from a side of 30 (2 + sqrt 2) = 102.4 (see the published packings elsewhere).
    turns = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    disc = 30 * np.column_stack((np.cos(turns), np.sin(turns)))
    assert most_copies(disc, to_polygon(SQUARE_100)) == 1
    assert most_by_spacing(shapely.Polygon(), 10) == 0
    assert most_by_spacing(shapely.Point(0, 0).buffer(4), 10) == 1


def test_a_flaw_lowers_the_bound() -> None:
    piece = panel()
    flaws = [hole_at(x, y, 60) for x in (250, 500, 750) for y in (150, 300, 450)]
    assert set_bounds(job_of(piece, gap=0), [hide(flaws=flaws)])[0].sets < 60


def test_the_scarcest_piece_decides_and_is_named() -> None:
    firm = Region(name="bend", outline=((0, 0), (300, 0), (300, 600), (0, 600)), firmness=5)
    front = Piece(name="front", outline=SQUARE, cuts=(LayerCut(regions=("bend",)),))
    bound = set_bounds(job_of(front, panel("back"), gap=0), [hide(regions=(firm,))])[0]
    assert bound.sets == 18
    assert "front" in bound.why


def test_a_part_that_asks_for_more_decides_where_it_is_scarce() -> None:
    firm = Region(name="bend", outline=((0, 0), (50, 0), (50, 600), (0, 600)), firmness=5)
    tab = Part(outline=((0, 0), (50, 0), (50, 50), (0, 50)), name="tab", least_firmness=5)
    piece = Piece(name="front", outline=SQUARE, parts=(tab,))
    bound = set_bounds(job_of(piece, gap=0), [hide(regions=(firm,))])[0]
    assert 6 <= bound.sets <= 12
    assert "tab" in bound.why


def test_pieces_together_cannot_use_more_leather_than_there_is() -> None:
    bound = set_bounds(job_of(panel("front"), panel("back", count=2), gap=0), [hide()])[0]
    assert bound.sets == 20
    assert "runs out" in bound.why


def test_a_job_that_asks_for_more_than_there_is_is_proved_impossible() -> None:
    front, back = (
        Article(name="a", sets=31, pieces=(panel("front"),)),
        Article(name="b", sets=30, pieces=(panel("back"),)),
    )
    job = Job(name="both", articles=(front, back), gap=0)
    assert [bound.sets for bound in set_bounds(job, [hide()])] == [60, 60]
    short = job_bound(job, [hide()])
    assert (short.article, short.sets) == ("both", 0)
    assert short.why == "the leather for 'front', 'back' runs out"
    assert job_bound(job, [hide(), hide("second"), hide("third"), hide("fourth")]).sets == 3


def test_pairs_and_layers_count_each_cut() -> None:
    both = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    piece = Piece(name="hand", outline=HAND, pair=True, cuts=both)
    layers = (Layer(name="outer"), Layer(name="lining"))
    job = job_of(piece, gap=0, layers=layers)
    assert set_bounds(job, [hide()])[0].sets == 600_000 // (4 * 2500)


def test_straps_are_bounded_by_their_area_in_wide_enough_leather() -> None:
    strap = Strip(name="strap", width=30, length=1000)
    assert set_bounds(job_of(strips=[strap]), [hide()])[0].sets == 20
    joined = Strip(name="strap", width=30, length=1500, joins=2)
    assert set_bounds(job_of(strips=[joined]), [hide()])[0].sets == 13
    too_wide = Strip(name="strap", width=650, length=700)
    assert set_bounds(job_of(strips=[too_wide]), [hide()])[0].sets == 0


def test_straps_too_long_for_the_leather_fit_nowhere_and_those_from_discs_may() -> None:
    too_long = Strip(name="strap", width=30, length=1200)
    bound = set_bounds(job_of(strips=[too_long]), [hide()])[0]
    assert (bound.sets, bound.why) == (0, "'strap' fits nowhere")
    any_way = Strip(name="strap", width=30, length=1130, along="any")
    assert set_bounds(job_of(strips=[any_way]), [hide()])[0].sets == 17
    assert set_bounds(job_of(strips=[msgspec.structs.replace(any_way, length=1160)]), [hide()])[0].sets == 0
    lace = Strip(name="lace", width=30, length=1200, use="lace", source="either")
    assert set_bounds(job_of(strips=[lace]), [hide()])[0].sets == 16


def test_no_hide_or_no_hide_of_the_kind_gives_no_set() -> None:
    assert set_bounds(job_of(panel()), [])[0].sets == 0
    other = job_of(panel(), layers=(Layer(name="leather", leather=("goat",)),))
    assert set_bounds(other, [hide()])[0].sets == 0


def test_overcut_may_reach_over_what_the_piece_may_not() -> None:
    # A piece of 100 in a hide of 100: its band needs leather, unless it may run off.
    tight = hide().__class__(name="side", leather="cow side", outline=SQUARE)
    piece = Piece(name="panel", outline=SQUARE, cuts=(LayerCut(overcut=Overcut(least=10, wished=10)),))
    assert set_bounds(job_of(piece), [tight])[0].sets == 0
    free = job_of(piece, permissions=Permissions(run_off=12))
    assert set_bounds(free, [tight])[0].sets == 1


@st.composite
def small_pieces(draw: st.DrawFn) -> Ring:
    """Ragged pieces of 10 to 60 mm."""
    count = draw(st.integers(3, 9))
    radii = np.array(draw(st.lists(st.floats(8, 30), min_size=count, max_size=count)))
    turns = np.arange(count) * 2 * np.pi / count
    return np.column_stack((radii * np.cos(turns), radii * np.sin(turns)))


@given(small_pieces(), st.sampled_from(sorted(RINGS)), st.sampled_from([0.0, 2.0]), st.integers(0, 1000))
@settings(max_examples=40)
def test_what_is_laid_at_random_never_passes_the_bound(ring: Ring, name: str, gap: float, seed: int) -> None:
    area = shapely.box(0, 0, 150, 120) if name == "hide" else to_polygon(RINGS[name])
    rng = np.random.default_rng(seed)
    xmin, ymin, xmax, ymax = area.bounds
    laid: list[shapely.Polygon] = []
    for _ in range(300):
        pose = Pose(rng.uniform(xmin, xmax), rng.uniform(ymin, ymax), rng.uniform(0, 360))
        shape = shapely.Polygon(pose.apply(ring))
        if area.covers(shape) and all(
            shape.distance(other) >= gap and not shape.overlaps(other) for other in laid
        ):
            laid.append(shape)
    assert len(laid) <= most_copies(ring, area, gap)


def test_a_bound_cut_short_is_true_but_less_tight() -> None:
    job, hides = job_of(panel(overcut=4.25), gap=1.5), [hide()]
    proven = set_bounds(job, hides)[0].sets
    asked: list[int] = []

    def after_two() -> bool:
        asked.append(1)
        return len(asked) > 2

    assert proven <= set_bounds(job, hides, stop=after_two)[0].sets <= area_bounds(job, hides)[0].sets
    assert set_bounds(job, hides, stop=lambda: True) == area_bounds(job, hides)


def test_area_alone_bounds_by_finished_leather() -> None:
    assert area_bounds(job_of(panel(), gap=0), [hide(), hide("second")])[0].sets == 120


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(*[st.integers(0, 8)] * 2, *[st.integers(1, 6)] * 2, st.integers(1, 9)),
        min_size=2,
        max_size=7,
    )
)
def test_unions_that_grow_bound_as_unions_made_anew(rooms: list[tuple[int, int, int, int, int]]) -> None:
    items = [
        _SetItem(
            str(n),
            "leather",
            1,
            float(used),
            (shapely.box(x, y, x + w, y + h), shapely.box(y, x, y + w, x + 1)),
            9,
        )
        for n, (x, y, w, h, used) in enumerate(rooms)
    ]
    (order,) = _group_orders(items, job_of(panel()))
    union = _GrowingUnion(order)
    for size in (len(order), *range(2, len(order))):
        group = order[:size]
        parts = [
            part
            for number in (0, 1)
            for part in shapely.get_parts(shapely.union_all([item.rooms[number] for item in group]))
        ]
        least, one_set = min(item.used for item in group), sum(item.used for item in group)
        true = int(sum(part.area for part in parts if part.area >= least) / one_set + 1e-9)
        assert union.sets_at_most(size, 10**9) == true


def test_a_group_that_cannot_lower_the_bound_is_left_out() -> None:
    items = [_SetItem(str(n), "leather", 1, 1.0, (shapely.box(0, 0, 10, 10),), 99) for n in range(3)]
    assert _GrowingUnion(items).sets_at_most(2, 5) > 5
    assert _GrowingUnion(items).sets_at_most(2, 51) == 50


def test_the_fewest_hides_are_counted_by_area_the_largest_first() -> None:
    job = job_of(panel(), gap=0)
    one = fewest_hides(job, [hide(), hide("second"), hide("third")])
    assert one == 1
    area = sum(piece.net_area * piece.piece.count for piece in job.cut_pieces)
    sets = int(1.5 * hide().gross_area / area)
    many = msgspec.structs.replace(job, articles=(msgspec.structs.replace(job.articles[0], sets=sets),))
    assert fewest_hides(many, [hide(), hide("second"), hide("third")]) == 2
    assert fewest_hides(many, [hide()]) == 1


def test_where_a_plan_has_reached_what_the_area_allows_nothing_is_proven() -> None:
    # 60 squares tile the hide; a plan with one fewer than the area allows leaves the proof to be made.
    piece, sheet = panel(), hide()
    job = job_of(piece, gap=0)
    by_area = area_bounds(job, [sheet])[0]
    asked: list[bool] = []
    assert (
        set_bounds(job, [sheet], reached=[by_area.sets], stop=lambda: bool(asked.append(True)))[0] == by_area
    )
    assert not asked
    assert set_bounds(job, [sheet], reached=[by_area.sets - 1])[0].sets <= by_area.sets


def test_an_area_of_many_points_is_drawn_coarsely_and_all_around() -> None:
    turns = np.linspace(0.0, 2.0 * np.pi, 3000, endpoint=False)
    rough = 1.0 + 3e-4 * np.random.default_rng(1).uniform(-1.0, 1.0, len(turns))
    area = shapely.Polygon(1000.0 * np.column_stack([np.cos(turns), np.sin(turns)]) * rough[:, None])
    drawn = drawn_coarsely(area)
    assert shapely.get_num_coordinates(drawn) < 300
    assert drawn.covers(area)
    assert drawn.area < 1.02 * area.area
    assert drawn_coarsely(to_polygon(SQUARE_100)).equals(to_polygon(SQUARE_100))
