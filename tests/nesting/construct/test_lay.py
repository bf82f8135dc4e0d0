"""Lay: what it puts down fits, stays the same, and goes where it should. GEOS is the witness."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.problem import Containment, Item, PlacementOption, Poses, Problem

FIELD = Polygon(
    [(0, 0), (620, 10), (650, 300), (430, 430), (20, 440), (40, 250)],
    [[(200, 150), (200, 180), (230, 180), (230, 150)]],
)
ELL = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 30.0], [30.0, 30.0], [30.0, 90.0], [0.0, 90.0]])
BAR = np.array([[0.0, 0.0], [120.0, 0.0], [120.0, 25.0], [0.0, 25.0]])
BOX = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]])
QUICK = LayEffort(samples=1500, refined=2)


def problem(*counts: tuple[np.ndarray, int], fields=(FIELD,), turns=None, areas=None) -> Problem:
    turns = turns or Turns.any()
    items = []
    for kind, (ring, count) in enumerate(counts):
        options = tuple(
            PlacementOption(f, turns, (Containment(ring, areas[kind] if areas else field),))
            for f, field in enumerate(fields)
        )
        items += [Item(ring, kind, options)] * count
    return Problem(tuple(fields), tuple(items))


def rings(asked: Problem, poses: Poses, field: int = 0) -> list[Polygon]:
    return [Polygon(poses.ring_of(item, k)) for k, item in enumerate(asked.items) if poses.field[k] == field]


def worst(asked: Problem, poses: Poses, field: int = 0, area: Polygon = FIELD) -> float:
    found = rings(asked, poses, field)
    overlaps = [a.intersection(b).area for k, a in enumerate(found) for b in found[:k]]
    return max([*overlaps, *(ring.difference(area).area for ring in found)], default=0.0)


def test_all_items_of_a_light_problem_lie_without_overlap():
    asked = problem((ELL, 8), (BAR, 8), (BOX, 8))
    poses = lay(PreparedProblem.of(asked), effort=QUICK)
    assert (poses.field >= 0).all()
    assert worst(asked, poses) < 1e-6


def test_a_full_field_is_used_well_and_what_finds_no_place_is_left_out():
    asked = problem((BOX, 80))
    poses = lay(PreparedProblem.of(asked))
    used = sum(ring.area for ring in rings(asked, poses)) / FIELD.area
    assert (poses.field < 0).any()
    assert worst(asked, poses) < 1e-6
    assert used > 0.70


def test_one_worker_two_workers_and_none_give_the_same_poses():
    asked = problem((ELL, 10), (BAR, 10))
    found = [lay(PreparedProblem.of(asked), effort=QUICK, seed=4)]
    for workers in (1, 2):
        with ThreadPoolExecutor(workers) as pool:
            found.append(lay(PreparedProblem.of(asked), effort=QUICK, seed=4, pool=pool))
    for other in found[1:]:
        assert np.array_equal(found[0].x, other.x)
        assert np.array_equal(found[0].angle, other.angle)


def test_turns_keep_to_what_is_allowed():
    turns = Turns.around(30.0, 10.0, period=180)
    asked = problem((BAR, 12), turns=turns)
    poses = lay(PreparedProblem.of(asked), effort=QUICK)
    assert (poses.field >= 0).all()
    assert all(turns.contains(angle) for angle in poses.angle)


def test_every_demand_of_an_allowance_is_kept():
    left, right = shapely.box(0, 0, 300, 400), shapely.box(250, 0, 650, 400)
    asked = problem((BOX, 5), (ELL, 5), areas=[FIELD.intersection(left), FIELD.intersection(right)])
    poses = lay(PreparedProblem.of(asked), effort=QUICK)
    for k, ring in enumerate(rings(asked, poses)):
        assert ring.difference(left if k < 5 else right).area < 1e-6


def test_placed_items_stay_and_others_go_around_them():
    asked = problem((BOX, 10))
    start = Poses.none(10)
    start.field[3], start.x[3], start.y[3], start.angle[3] = 0, 300.0, 200.0, 12.0
    poses = lay(PreparedProblem.of(asked), start=start, effort=QUICK)
    assert (poses.x[3], poses.y[3], poses.angle[3]) == (300.0, 200.0, 12.0)
    assert (poses.field >= 0).all()
    assert worst(asked, poses) < 1e-6


def test_fixed_rings_are_kept_clear():
    bar = np.array([[0.0, 200.0], [650.0, 200.0], [650.0, 240.0], [0.0, 240.0]])
    plain = problem((BOX, 60))
    asked = Problem(plain.fields, plain.items, ((0, bar),))
    poses = lay(PreparedProblem.of(asked), effort=QUICK)
    assert max(ring.intersection(Polygon(bar)).area for ring in rings(asked, poses)) < 1e-6


def test_a_second_field_is_opened_only_when_the_first_is_full():
    fields = (shapely.box(0, 0, 300, 300), shapely.box(0, 0, 300, 300))
    few = lay(PreparedProblem.of(problem((BOX, 8), fields=fields)), effort=QUICK)
    many = lay(PreparedProblem.of(problem((BOX, 30), fields=fields)), effort=QUICK)
    assert set(few.field.tolist()) == {0}
    assert {0, 1} <= set(many.field.tolist())


def test_what_may_lie_anywhere_leaves_the_ground_that_others_need():
    half = FIELD.intersection(shapely.box(0, 0, 320, 440))
    asked = problem((BOX, 14), (BOX * 1.0, 14), areas=[half, FIELD])
    poses = lay(PreparedProblem.of(asked), effort=QUICK)
    free = [ring.centroid.x for ring in rings(asked, poses)[14:]]
    assert np.mean(np.array(free) > 320) > 0.6


def test_hard_items_come_first():
    asked = problem((BOX, 2), (ELL, 2), (BAR * 2.0, 2))
    assert hardest_first(PreparedProblem.of(asked), range(6))[:2] == [4, 5]


def test_an_item_that_no_field_may_take_is_left_out():
    whole = problem((BOX, 3))
    asked = Problem(whole.fields, (*whole.items, Item(ELL, 9, ())))
    assert lay(PreparedProblem.of(asked), effort=QUICK).field.tolist() == [0, 0, 0, -1]


@pytest.mark.parametrize("seed", range(6))
def test_random_shapes_on_random_fields_never_overlap(seed):
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * np.pi, 30))
    field = Polygon(np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(250, 500, (30, 1)))
    field = max(getattr(field.buffer(0), "geoms", [field.buffer(0)]), key=lambda g: g.area)
    shapes = []
    for _ in range(3):
        angles = np.sort(rng.uniform(0, 2 * np.pi, 12))
        star = np.column_stack([np.cos(angles), np.sin(angles)]) * rng.uniform(20, 80, (12, 1))
        if Polygon(star).is_valid:
            shapes.append((star, 12))
    asked = problem(*shapes, fields=(field,))
    poses = lay(PreparedProblem.of(asked), effort=QUICK, seed=seed)
    assert worst(asked, poses, area=field) < 1e-6


def test_upright_ground_lays_at_quarter_turns_from_the_axis_where_they_are_allowed():
    free = problem((BAR, 6))
    poses = lay(PreparedProblem.of(free).with_quarter_turns((30.0,)), effort=QUICK)
    assert (poses.field >= 0).all()
    assert worst(free, poses) < 1e-6
    assert set(np.round(poses.angle % 90.0, 9)) == {30.0}


def test_upright_ground_leaves_turns_that_hold_no_quarter_as_they_are():
    bound = problem((BAR, 4), turns=Turns.of([(40.0, 50.0), (220.0, 230.0)]))
    ground = PreparedProblem.of(bound)
    assert ground.with_quarter_turns((0.0,)).options.turn_low.tolist() == ground.options.turn_low.tolist()
    both = problem((BAR, 4), turns=Turns.of([(80.0, 100.0), (220.0, 230.0)]))
    options = PreparedProblem.of(both).with_quarter_turns((0.0,)).options
    assert set(options.turn_low.tolist()) == set(options.turn_high.tolist()) == {90.0}
