"""The job's straps and laces on its hides."""

from __future__ import annotations

import itertools

import pytest
import shapely

from nestplan.model import Article, Disc, Flaw, Job, Strip
from nestplan.nesting.construct import straps
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.construct.strips import lay_strips
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.nest import nest
from tests.generated_hides import generated_hide
from tests.small_jobs import plain_hide, strap_job


def test_straps_lie_along_the_backbone_and_share_one_straight_edge():
    problem = LeatherProblem(strap_job(sets=8), (plain_hide(),))
    laid, missing = place_strips(problem, problem.required_strips)
    assert (len(laid), missing) == (8, [])
    assert {p.angle % 180.0 for p in laid} == {0.0}
    assert sorted(p.copy for p in laid) == list(range(1, 9))


def test_what_the_first_hide_cannot_give_comes_from_the_next():
    problem = LeatherProblem(strap_job(width=100.0, sets=11), (plain_hide("a"), plain_hide("b")))
    laid, missing = place_strips(problem, problem.required_strips)
    assert missing == []
    assert sorted([sum(p.hide == name for p in laid) for name in "ab"]) == [3, 8]


def test_a_hide_is_laid_once_while_it_can_hold_fewer_straps_than_are_left(monkeypatch):
    widths = {"a": 700.0, "b": 500.0, "c": 300.0}
    hides = [
        plain_hide(name, outline=((0.0, 0.0), (1000.0, 0.0), (1000.0, high), (0.0, high)))
        for name, high in widths.items()
    ]
    problem = LeatherProblem(strap_job(width=100.0, sets=14), hides)
    asked = []

    def counted(area, requests, **turns):
        asked.append((area.area, [request.count for request in requests]))
        return lay_strips(area, requests, **turns)

    monkeypatch.setattr(straps, "lay_strips", counted)
    laid, missing = place_strips(problem, problem.required_strips)
    assert [sum(p.hide == name for p in laid) for name in widths] == [7, 5, 2]
    assert missing == []
    # The last hide holds three and only two are left: it is laid again.
    assert [count for _, (count,) in asked] == [14, 14, 14, 2]


def test_straps_keep_the_knife_gap_from_pieces_that_lie():
    problem = LeatherProblem(strap_job(width=100.0, sets=7), (plain_hide(),))
    block = place_strips(problem, problem.required_strips)[0][0]
    problem = LeatherProblem(strap_job(width=30.0, sets=5), (plain_hide(),))
    around = [block.__class__(hide="plain", piece="x", finished=block.finished, cut=block.cut)]
    laid, _ = place_strips(problem, problem.required_strips, around)
    gaps = [shapely.Polygon(p.cut_ring).distance(shapely.Polygon(block.cut_ring)) for p in laid]
    assert min(gaps) >= problem.job.gap - 0.01


@pytest.mark.parametrize("seed", [4, 8, 10, 11, 13])
def test_long_thin_laces_share_one_cut_line_to_the_last_digit(seed):
    # 1/4 in by 40 in: a line rounded one way for one lace and another way for the next would make them overlap.
    lace = Strip(name="lace", width=6.35, length=1016.0, count=12, along="any", use="lace")
    job = Job(name="laces", articles=(Article(name="laces", sets=1, strips=(lace,)),))
    plan = nest(job, [generated_hide(seed)])
    shapes = [shapely.Polygon(p.cut_ring) for p in plan.placements]
    assert len(shapes) == 12
    assert all(a.intersection(b).area == 0.0 for a, b in itertools.combinations(shapes, 2))


def test_a_gap_between_strips_is_kept_where_the_job_asks_one():
    plan = nest(strap_job(sets=6, use="strap"), [plain_hide()])
    job = strap_job(sets=6)
    wide = type(job)(name="gapped", articles=job.articles, strip_gap=2.0)
    gapped = nest(wide, [plain_hide()])
    ys = [sorted(p.y for p in made.placements) for made in (plan, gapped)]
    assert ys[0][1] - ys[0][0] == pytest.approx(40.0, abs=0.01)
    assert ys[1][1] - ys[1][0] == pytest.approx(42.0, abs=0.01)


def test_no_strap_runs_over_a_flaw_of_either_face():
    flaw = Flaw(spoils="flesh", disc=Disc(at=(500.0, 400.0), diameter=40.0), margin=3.0)
    plan = nest(strap_job(sets=19), [plain_hide(flaws=(flaw,))])
    hole = shapely.Point(500.0, 400.0).buffer(22.9)
    assert len(plan.placements) >= 16
    assert all(not shapely.Polygon(p.cut_ring).intersects(hole) for p in plan.placements)


def test_a_joined_strap_is_several_placements_of_one_copy():
    plan = nest(strap_job(length=1500.0, sets=2, joins=1), [plain_hide()])
    assert plan.unplaced == ()
    for copy in (1, 2):
        parts = [p for p in plan.placements if p.copy == copy]
        assert [p.part for p in parts] == [1, 2]
        assert sum(p.length for p in parts) - 25.0 == pytest.approx(1500.0)


def test_a_lace_from_a_disc_says_its_length_and_that_it_is_a_spiral():
    plan = nest(strap_job(width=6.0, length=3000.0, sets=2, use="lace", source="disc"), [plain_hide()])
    assert [p.spiral for p in plan.placements] == [True, True]
    assert all(p.length == 3000.0 for p in plan.placements)
    # Round a 2 in hole with a 3 1/2 in tail: area of the ring over the width.
    for placement in plan.placements:
        area = shapely.Polygon(placement.cut_ring).area
        assert (area - shapely.Point(0, 0).buffer(25.4).area) / 6.0 == pytest.approx(3089.0, rel=0.01)


@pytest.mark.parametrize(("answered_no", "looked_at"), [(0, 1), (3, 2), (99, 3)])
def test_once_told_to_stop_only_the_first_hide_is_looked_at(answered_no: int, looked_at: int):
    # Each plain hide holds eight straps of 100 mm; twenty ask for three hides.
    names = ("a", "b", "c")
    problem = LeatherProblem(strap_job(width=100.0, sets=20), tuple(plain_hide(name) for name in names))
    times: list[bool] = []

    def stop() -> bool:
        # Asked once before each further hide is chosen, and once for each other hide it is compared with.
        times.append(True)
        return len(times) > answered_no

    placed, missing = place_strips(problem, problem.required_strips, stop=stop)
    laid = {placement.hide for placement in placed}
    assert len(laid) == looked_at
    assert len(placed) + sum(strips.count for strips in missing) == 20


def test_laces_from_discs_are_missing_once_told_to_stop():
    lace = Strip(name="lace", width=6.0, length=3000.0, count=3, use="lace", source="disc")
    job = Job(name="laces", articles=(Article(name="laces", sets=1, strips=(lace,)),))
    problem = LeatherProblem(job, (plain_hide(),))
    assert len(place_strips(problem, problem.required_strips)[0]) == 3
    placed, missing = place_strips(problem, problem.required_strips, stop=lambda: True)
    assert placed == []
    assert [strips.count for strips in missing] == [3]
