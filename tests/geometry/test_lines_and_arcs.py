"""Edges as lines and arcs: straight edges straight, arcs smooth, corners sharp, whatever the noise."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.lines_and_arcs import edge_noise, fit_circle, fit_edge
from nestplan.intake.panels import disc, pointed_panel, scalloped_panel, strap, trapezoid_panel

Floats = np.ndarray


def photographed(ring: Floats, *, noise: float = 0.06, step: float = 0.4, seed: int = 0) -> Floats:
    """Points along a ring as a photograph gives them: corners rounded by a pixel, neighbours erring together."""
    line = shapely.LinearRing(ring)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(0.13, line.length, step)))
    kernel = np.array([0.06, 0.24, 0.4, 0.24, 0.06])

    def smooth(values: Floats) -> Floats:
        return sum(w * np.roll(values, k - 2, axis=0) for k, w in enumerate(kernel))  # type: ignore[return-value]

    errors = smooth(np.random.default_rng(seed).standard_normal(points.shape))
    return smooth(points) + noise * errors / errors.std()


def farthest(ring: Floats, truth: Floats) -> float:
    return float(
        shapely.hausdorff_distance(shapely.LinearRing(ring), shapely.LinearRing(truth), densify=0.01)
    )


@pytest.mark.parametrize(
    ("piece", "corners", "arcs"),
    [
        (trapezoid_panel("t", top=100, bottom=130, height=90, lean=10), 4, 0),
        (pointed_panel("p", width=120, height=140, point=40), 5, 0),
        (strap("s", length=200, width=30, tip="point"), 5, 0),
        (scalloped_panel("a", width=160, height=110, scallops=4, depth=12), 7, 4),
    ],
    ids=lambda value: getattr(value, "name", None),
)
def test_a_drawn_shape_comes_back_with_its_corners_and_arcs(piece: object, corners: int, arcs: int) -> None:
    ring = piece.ring  # type: ignore[attr-defined]
    points = photographed(ring)
    fit = fit_edge(points, noise=edge_noise(points), blur=0.8)
    assert len(fit.corners) == corners
    assert sum(stretch.radius is not None for stretch in fit.stretches) == arcs
    assert farthest(fit.ring, ring) < 0.15


def test_straight_edges_are_straight_between_their_corners() -> None:
    ring = trapezoid_panel("t", top=100, bottom=130, height=90).ring
    fit = fit_edge(photographed(ring), noise=0.06, blur=0.8)
    assert len(fit.ring) == 4


def test_a_disc_is_one_circle() -> None:
    fit = fit_edge(photographed(disc("d", diameter=60).ring), noise=0.06, blur=0.8)
    assert len(fit.stretches) == 1
    assert fit.stretches[0].radius == pytest.approx(30, abs=0.05)
    assert not len(fit.corners)


def test_a_free_curve_is_followed_by_smooth_arcs() -> None:
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    ring = np.column_stack([(60 + 12 * np.cos(3 * t)) * np.cos(t), (50 + 9 * np.sin(2 * t)) * np.sin(t)])
    points = photographed(ring)
    fit = fit_edge(points, noise=edge_noise(points), blur=0.8)
    assert not len(fit.corners)
    assert farthest(fit.ring, ring) < 0.4


def test_the_noise_of_an_edge_is_read_from_its_points() -> None:
    ring = scalloped_panel("a", width=160, height=110, scallops=4, depth=12).ring
    for noise in (0.05, 0.15):
        assert edge_noise(photographed(ring, noise=noise)) == pytest.approx(noise, rel=0.5)


@settings(max_examples=25, deadline=None)
@given(
    x=st.floats(-300, 300), y=st.floats(-300, 300), radius=st.floats(2, 200),
    start=st.floats(0, 6), sweep=st.floats(1.5, 6.2),
)  # fmt: skip
def test_a_circle_is_found_from_any_arc_of_it(
    x: float, y: float, radius: float, start: float, sweep: float
) -> None:
    angle = start + sweep * np.linspace(0, 1, 40)
    points = np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])
    centre, found = fit_circle(points)
    assert np.hypot(*(centre - (x, y))) < 1e-3 * radius
    assert found == pytest.approx(radius, rel=1e-3)
