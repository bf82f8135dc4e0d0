"""A problem packed: each shape and area once, rings grown, discs within, and what each item may do."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.geometry.roughness import DEPTH
from nestplan.nesting.arrays.packing import (
    INFLATION,
    MOST_DISCS,
    MOST_TURNED_DISCS,
    draws_simpler,
    grown,
    middle_of,
    pack,
)
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from tests.nesting.arrays.small_problems import BAR, ELL, FIELD, HALVES, problem


def test_equal_items_share_their_shape_and_area():
    packed = pack(problem(ells=3, bars=2))
    assert len(packed.shapes.corner_count) == 2
    assert len(packed.areas.cell) == 1
    assert packed.options.start.tolist() == [0, 1, 2, 3, 4, 5]
    assert packed.options.shape.tolist() == [0, 0, 0, 1, 1]
    assert packed.options.kind.tolist() == [0, 0, 0, 1, 1]


def test_items_that_are_one_record_are_packed_like_equal_records():
    shared = problem(ells=3, bars=2)
    apart = dataclasses.replace(shared, items=tuple(dataclasses.replace(item) for item in shared.items))
    assert len({id(item) for item in apart.items}) == 5
    for one, other in zip(pack(shared).options, pack(apart).options, strict=True):
        assert np.array_equal(one, other)


def test_a_ring_is_grown_all_round_by_the_inflation_and_no_more():
    ring = Polygon(grown(ELL))
    assert ring.contains(Polygon(ELL))
    assert Polygon(ELL).exterior.distance(ring.exterior) == pytest.approx(INFLATION, rel=1e-6)
    assert ring.area < Polygon(ELL).area + 1.01 * INFLATION * Polygon(ELL).length


def test_a_shape_lies_about_the_middle_of_its_smallest_circle():
    packed = pack(problem())
    assert packed.options.middle[0] == pytest.approx(middle_of(ELL))
    x, y = packed.shapes.corner_x[0, :6], packed.shapes.corner_y[0, :6]
    assert 2.0 * np.hypot(x, y).max() == packed.shapes.diameter[0]
    assert packed.shapes.diameter[0] == pytest.approx(np.hypot(90.0, 90.0), abs=0.01)


def test_discs_lie_within_their_shape_and_cover_most_of_it():
    shapes = pack(problem()).shapes
    for shape, ring in enumerate((ELL, BAR)):
        inside = Polygon(ring - np.array(middle_of(ring))).buffer(0.01)
        count = int(shapes.disc_count[shape])
        discs = [
            shapely.Point(shapes.disc_x[shape, k], shapes.disc_y[shape, k]).buffer(
                float(shapes.disc_radius[shape, k])
            )
            for k in range(count)
        ]
        assert all(inside.covers(disc) for disc in discs)
        assert shapely.union_all(discs).area > 0.75 * Polygon(ring).area


def test_an_item_that_may_be_turned_over_has_an_option_for_its_other_side():
    turned = BAR[::-1] * (-1.0, 1.0)
    options = (
        PlacementOption(0, Turns.any(), (Containment(BAR, FIELD),)),
        PlacementOption(0, Turns.any(), (Containment(turned, FIELD),), flipped=True),
    )
    packed = pack(Problem((FIELD,), (Item(BAR, 0, options),)))
    assert packed.options.flipped.tolist() == [False, True]
    assert len(packed.shapes.corner_count) == 2


def test_pairs_are_tabulated_only_where_all_lie_at_single_turns():
    assert len(pack(problem(turns=HALVES)).shapes.tables.left) > 0
    assert len(pack(problem(turns=Turns.any())).shapes.tables.left) == 0


def test_an_area_that_is_a_box_needs_no_grid():
    box = shapely.box(0.0, 0.0, 300.0, 200.0)
    items = (Item(BAR, 0, (PlacementOption(0, Turns.any(), (Containment(BAR, box),)),)),)
    areas = pack(Problem((box,), items)).areas
    assert areas.is_box.tolist() == [True]
    assert areas.box.tolist() == [[0.0, 0.0, 300.0, 200.0]]
    assert (areas.columns[0], areas.rows[0]) == (1, 1)


def test_every_hole_of_an_area_has_a_point():
    areas = pack(problem()).areas
    assert areas.hole_start.tolist() == [0, 1]
    assert FIELD.interiors[0].distance(shapely.Point(areas.hole[0])) == 0.0


def test_a_problem_without_items_is_packed():
    packed = pack(Problem((FIELD,), ()))
    assert len(packed.options.field) == 0
    assert packed.areas.box.shape == (0, 4)


def test_the_search_compares_few_discs_at_any_turn_and_all_where_tables_serve():
    star = np.array([(0.0, 0.0), (90.0, 10.0), (100.0, 80.0), (50.0, 40.0), (10.0, 95.0)])
    field = shapely.box(0.0, 0.0, 500.0, 500.0)
    for turns, most in (
        (Turns.any(), MOST_TURNED_DISCS),
        (Turns.of([(0.0, 0.0), (180.0, 180.0)]), MOST_DISCS),
    ):
        item = Item(star, 0, (PlacementOption(0, turns, (Containment(star, field),)),))
        shapes = pack(Problem((field,), (item,))).shapes
        assert shapes.compared_discs.tolist() == [min(int(shapes.disc_count[0]), most)]
        assert shapes.disc_count[0] > MOST_TURNED_DISCS


def test_discs_are_filled_up_with_points_that_the_shape_holds():
    shapes = pack(problem()).shapes
    for shape, count in enumerate(shapes.disc_count):
        assert (shapes.disc_radius[shape, count:] == 0.0).all()
        assert (shapes.disc_x[shape, count:] == shapes.disc_x[shape, 0]).all()
        assert (shapes.disc_y[shape, count:] == shapes.disc_y[shape, 0]).all()


@pytest.mark.parametrize("tolerance", [0.0, 0.3])
def test_outlines_of_many_points_are_packed_on_the_safe_side(tolerance: float):
    turns = np.linspace(0.0, 2.0 * np.pi, 900, endpoint=False)
    rough = 1.0 + 4e-4 * np.random.default_rng(3).uniform(-1.0, 1.0, len(turns))
    drawn = np.column_stack([np.cos(turns), np.sin(turns)]) * rough[:, None]
    ring, area = 100.0 * drawn, Polygon(400.0 * drawn)
    item = Item(ring, 0, (PlacementOption(0, Turns.any(), (Containment(ring, area),)),))
    given = Problem((area,), (item,), tolerance=tolerance)
    assert draws_simpler(given) == (tolerance > 0.0)
    packed = pack(given)
    count = int(packed.shapes.corner_count[0])
    corners = np.column_stack([packed.shapes.corner_x[0, :count], packed.shapes.corner_y[0, :count]])
    shape = Polygon(corners + packed.options.middle[0])
    assert shape.covers(Polygon(ring))
    lost = tolerance + DEPTH if tolerance else 0.0
    assert shape.exterior.hausdorff_distance(Polygon(ring).exterior) <= lost + 2.0 * INFLATION
    edges = packed.areas.edge
    held = shapely.get_parts(shapely.polygonize([shapely.linestrings(edges.reshape(-1, 2, 2))]))
    assert area.covers(held[0])
    assert held[0].exterior.hausdorff_distance(area.exterior) <= lost
    assert (count < 100 and len(edges) < 300) == (tolerance > 0.0)
