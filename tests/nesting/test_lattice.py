"""Lattices: as dense as is known for shapes whose densest lattice is published, never with copies that overlap."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.construct.lattice import copies_within, densest_lattice, know_lattices, places_beside
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.gather import Pace, Side, gather
from tests.benchmarks.random_start import lay_loosely
from tests.outside.test_collision_against_geos import star

TRIANGLE = np.array([[0.0, 0.0], [120.0, 0.0], [30.0, 80.0]])
ELL = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 30.0], [30.0, 30.0], [30.0, 90.0], [0.0, 90.0]])
FIELD = shapely.box(0.0, 0.0, 600.0, 400.0)


def regular(corners: int) -> np.ndarray:
    """A regular polygon of 50 mm about (200, -70)."""
    angles = np.arange(corners) * 2.0 * np.pi / corners
    return np.column_stack([np.cos(angles), np.sin(angles)]) * 50.0 + (200.0, -70.0)


@pytest.mark.parametrize(
    ("ring", "density"),
    [
        (TRIANGLE, 1.0),
        (ELL, 1.0),
        # Kuperberg and Kuperberg (1990): (5 - sqrt 5) / 3; Kallus and Kusner (2016) for seven corners.
        (regular(5), 0.92131),
        (regular(7), 0.89269),
        # A disc's is pi / sqrt 12 (Lagrange 1773); a polygon of 40 corners lies within the disc.
        (regular(40), 0.9069),
    ],
)
def test_double_lattices_are_as_dense_as_published_ones(ring: np.ndarray, density: float):
    found = densest_lattice(ring).density
    assert 0.99 * density < found < 1.003 * density


def test_a_triangle_that_may_not_turn_covers_two_thirds():
    lattice = densest_lattice(TRIANGLE, half_turned=False)
    assert lattice.pair is None
    assert 0.66 < lattice.density <= 2.0 / 3.0 + 1e-9


def test_copies_of_a_lattice_never_overlap_and_stay_within_the_area():
    rng = np.random.default_rng(5)
    for _ in range(12):
        ring = star(rng) + rng.uniform(-50.0, 50.0, 2)
        lattice = densest_lattice(ring)
        assert 0.2 < lattice.density < 1.0
        poses = copies_within(ring, lattice, FIELD, turn=float(rng.uniform(0.0, 360.0)))
        assert len(poses) > 0.3 * lattice.density * FIELD.area / Polygon(ring).area
        shapes = [
            affinity.translate(affinity.rotate(Polygon(ring), angle, origin=(0.0, 0.0)), x, y)
            for x, y, angle in poses
        ]
        assert all(FIELD.contains(shape) for shape in shapes)
        for a, b in shapely.STRtree(shapes).query(shapes, predicate="intersects").T:
            assert a == b or shapes[a].intersection(shapes[b]).area < 1e-6


def test_places_beside_a_piece_touch_it_nearly_and_do_not_overlap():
    first = Polygon(ELL)
    places = places_beside(ELL, densest_lattice(ELL))
    assert len(places) >= 4
    for x, y, angle in places:
        other = affinity.translate(affinity.rotate(first, angle, origin=(0.0, 0.0)), x, y)
        assert first.intersection(other).area == 0.0
    x, y, angle = places[0]
    nearest = affinity.translate(affinity.rotate(first, angle, origin=(0.0, 0.0)), x, y)
    assert first.distance(nearest) < 0.1


def test_a_search_that_knows_lattices_is_repeatable_and_free_of_overlap():
    outcomes = []
    for workers in (1, 2):
        items = [Item(TRIANGLE, 0, (PlacementOption(0, Turns.any(), (Containment(TRIANGLE, FIELD),)),))] * 20
        layout = lay_loosely(Layout(Problem((FIELD,), tuple(items)), seed=1), Side(), seed=1)
        know_lattices(layout)
        assert layout.pieces.beside_tries[0] > 0
        gather(layout, Side(), share=lambda n: n / 10, workers=workers, pace=Pace(round=4_000))
        assert layout.feasible()
        outcomes.append(layout.poses())
    assert np.array_equal(outcomes[0].x, outcomes[1].x)
    assert np.array_equal(outcomes[0].angle, outcomes[1].angle)


def test_few_equal_items_are_left_without_lattices():
    items = [Item(ELL, k, (PlacementOption(0, Turns.any(), (Containment(ELL, FIELD),)),)) for k in range(5)]
    layout = Layout(Problem((FIELD,), tuple(items)))
    know_lattices(layout)
    assert layout.pieces.beside_tries[0] == 0
