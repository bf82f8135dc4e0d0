"""The collision kernels' yes and no against GEOS (through shapely) on random polygons and areas.

Outside witness: GEOS `intersects`, `intersection` and `covers`. A pair whose common area, or whose distance, is
smaller than rounding can tell is left out and counted.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, affinity

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout, ShapePose
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem

PAIRS = 10_000
SHAPES = 40


def star(rng: np.random.Generator) -> np.ndarray:
    """A random simple ring of 3 to 24 points about the origin, often far from convex."""
    count = int(rng.integers(3, 25))
    angles = np.sort(rng.uniform(0.0, 2.0 * np.pi, count))
    while np.max(np.diff(np.append(angles, angles[0] + 2.0 * np.pi))) > 0.95 * np.pi:
        angles = np.sort(rng.uniform(0.0, 2.0 * np.pi, count))
    radii = rng.uniform(15.0, 100.0, count)
    return np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])


def test_every_verdict_on_ten_thousand_random_pairs_is_that_of_geos():
    rng = np.random.default_rng(5)
    field = shapely.box(-2000.0, -2000.0, 2000.0, 2000.0)
    rings = [star(rng) for _ in range(SHAPES)]
    leave = [(PlacementOption(0, Turns.any(), (Containment(ring, field),)),) for ring in rings]
    items = tuple(Item(ring, k, leave[k]) for k, ring in enumerate(rings))
    layout = Layout(Problem((field,), items))
    colliding = undecided = 0
    for _ in range(PAIRS):
        a, b = rng.choice(SHAPES, 2, replace=False)
        spots = []
        for item in (a, b):
            x, y = rng.uniform(-70.0, 70.0, 2)
            spots.append(layout.shape_pose(layout.options_of(item)[0], x, y, float(rng.uniform(0.0, 360.0))))
        layout.place(int(a), spots[0])
        verdict = layout.loss_at(int(b), spots[1]) > 0.0
        first, second = (
            affinity.translate(affinity.rotate(Polygon(rings[item]), angle, origin=(0.0, 0.0)), x, y)
            for item, (x, y, angle) in zip((a, b), map(layout.item_pose, spots), strict=True)
        )
        layout.lift(int(a))
        overlap = first.intersection(second).area
        gap = first.distance(second)
        if overlap <= 1e-6 and gap <= 0.02:
            undecided += 1
            continue
        assert verdict == (overlap > 0.0), (a, b, spots)
        colliding += verdict
    assert 2_000 < colliding < 9_000
    assert undecided < 20


def test_every_verdict_on_an_area_with_holes_is_that_of_geos():
    rng = np.random.default_rng(6)
    outline = 6.0 * star(rng)
    while Polygon(outline).area < 300_000.0:
        outline = 6.0 * star(rng)
    area = Polygon(outline)
    for _ in range(40):
        hole = 0.12 * star(rng) + rng.uniform(-500.0, 500.0, 2)
        area = area.difference(Polygon(hole))
    parts = shapely.get_parts(area)
    area = shapely.MultiPolygon([part for part in parts if part.area > 1.0])
    rings = [0.4 * star(rng) for _ in range(SHAPES)]
    field = shapely.box(-1000.0, -1000.0, 1000.0, 1000.0)
    items = tuple(
        Item(ring, k, (PlacementOption(0, Turns.any(), (Containment(ring, area),)),))
        for k, ring in enumerate(rings)
    )
    layout = Layout(Problem((field,), items))
    inside = undecided = 0
    for _ in range(PAIRS // 2):
        item = int(rng.integers(SHAPES))
        x, y = rng.uniform(-550.0, 550.0, 2)
        spot = layout.shape_pose(layout.options_of(item)[0], x, y, float(rng.uniform(0.0, 360.0)))
        verdict = layout.loss_at(item, spot) == 0.0
        px, py, angle = layout.item_pose(spot)
        ring = affinity.translate(affinity.rotate(Polygon(rings[item]), angle, origin=(0.0, 0.0)), px, py)
        outside = ring.difference(area).area
        if outside <= 1e-6 and ring.exterior.distance(area.boundary) <= 0.02:
            undecided += 1
            continue
        assert verdict == (outside == 0.0), (item, spot)
        inside += verdict
    assert inside > 100
    assert undecided < 20


def test_a_layout_called_feasible_has_no_overlap_by_geos():
    field = shapely.box(0.0, 0.0, 100.0, 100.0)
    ring = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 30.0], [0.0, 30.0]])
    item = Item(
        ring,
        0,
        (PlacementOption(0, Turns.none().union(Turns.of([(0.0, 0.0)])), (Containment(ring, field),)),),
    )
    layout = Layout(Problem((field,), (item, item)))
    layout.place(0, ShapePose(0, 20.0, 20.0, 0.0))
    layout.place(1, ShapePose(1, 50.0, 20.0, 0.0))
    assert not layout.feasible(), "touching counts as contact"
    layout.place(1, ShapePose(1, 50.01, 20.0, 0.0))
    assert layout.feasible()
    first, second = (Polygon(layout.poses().ring_of(item, k)) for k in range(2))
    assert first.intersection(second).area == 0.0
