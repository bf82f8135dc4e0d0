"""Least squares of a few values, against SciPy's (MINPACK)."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from nestplan.intake.photo.least_squares import solve_least_squares

Array = np.ndarray[Any, Any]


def fading(values: Array, times: Array) -> Array:
    """Two fading parts and a level: a valley in which values change together."""
    return np.asarray(
        values[0] * np.exp(-values[1] * times) + values[2] * np.exp(-values[3] * times) + values[4]
    )


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10_000))
def test_the_least_cost_is_that_of_minpack(seed: int) -> None:
    rng = np.random.default_rng(seed)
    times = np.linspace(0, 4, 40)
    true = np.array([rng.uniform(1, 3), rng.uniform(0.2, 0.6), rng.uniform(1, 3), rng.uniform(2, 4), 0.3])
    seen = fading(true, times) + 0.02 * rng.standard_normal(40)
    start = true * rng.uniform(0.8, 1.2, 5)
    size = np.array([1.0, 0.5, 1.0, 2.0, 1.0])

    def residuals(values: Array) -> Array:
        return np.asarray((fading(values, times) - seen) / 0.02)

    def slopes(values: Array) -> Array:
        steps = 1e-6 * np.eye(5)
        return np.array([(residuals(values + s) - residuals(values - s)) / 2e-6 for s in steps]).T

    ours = solve_least_squares(residuals, slopes, start, size=size, most_calls=200)
    theirs = least_squares(residuals, start, slopes, method="lm", x_scale=size, max_nfev=200)
    assert ours.cost == pytest.approx(theirs.cost, rel=1e-6)
    assert ours.residuals == pytest.approx(residuals(ours.values))
    assert ours.slopes == pytest.approx(slopes(ours.values))


def test_it_begins_with_whole_steps_and_stops_when_nothing_falls_any_more() -> None:
    matrix = np.random.default_rng(1).standard_normal((12, 4))
    told = matrix @ np.array([1.0, -2.0, 3.0, 0.5])
    calls = []

    def residuals(values: Array) -> Array:
        calls.append(values)
        return np.asarray(matrix @ values - told)

    found = solve_least_squares(residuals, lambda _: matrix, np.ones(4), size=np.ones(4), most_calls=50)
    assert found.values == pytest.approx([1.0, -2.0, 3.0, 0.5])
    assert len(calls) <= 4


def test_no_more_than_the_calls_allowed_are_made() -> None:
    calls = []

    def residuals(values: Array) -> Array:
        calls.append(values)
        return np.array([10 * (values[1] - values[0] ** 2), 1 - values[0]])

    def slopes(values: Array) -> Array:
        return np.array([[-20 * values[0], 10.0], [-1.0, 0.0]])

    found = solve_least_squares(residuals, slopes, np.array([-1.2, 1.0]), size=np.ones(2), most_calls=5)
    assert len(calls) == found.calls == 5
    found = solve_least_squares(residuals, slopes, np.array([-1.2, 1.0]), size=np.ones(2), most_calls=100)
    assert found.values == pytest.approx([1.0, 1.0])


def test_a_value_that_changes_nothing_stays() -> None:
    slopes = np.array([[2.0, 0.0], [1.0, 0.0]])
    found = solve_least_squares(
        lambda values: slopes @ values - np.array([2.0, 1.0]),
        lambda _: slopes,
        np.array([0.0, 7.0]),
        size=np.ones(2),
        most_calls=30,
    )
    assert found.values == pytest.approx([1.0, 7.0])
