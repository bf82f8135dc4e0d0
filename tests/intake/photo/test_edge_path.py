"""The exact edge along a rough one, and how sure it is, on drawn discs of leather."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from nestplan.intake.photo.edge_path import EdgePath, follow_edge
from nestplan.intake.photo.outline_checks import WEAK_ODDS, WEAK_SHARE, WEAK_UNCERTAINTY, _weak_edge
from nestplan.intake.photo.rectification import RectifiedPhoto

MIDDLE, RADIUS = 150.0, 100.0


def disc(difference: float, noise: float, soft: float = 0.5) -> EdgePath:
    """The edge found of a disc brighter than the floor by so many levels, which all vary by `noise` over some pixels;
    its rim is `soft` over so many."""
    rng = np.random.default_rng(5)
    rows, columns = np.indices((300, 300))
    inside = gaussian_filter((np.hypot(columns - MIDDLE, rows - MIDDLE) < RADIUS).astype(np.float64), soft)
    stones = gaussian_filter(rng.standard_normal(inside.shape), 1.5)
    grey = 110 + difference * inside + noise * stones / stones.std()
    image = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    turn = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    # Counter-clockwise as people see it, y down.
    rough = MIDDLE + (RADIUS + 1.5) * np.column_stack([np.cos(turn), -np.sin(turn)])
    return follow_edge(image, rough, 5.0)


def warnings_of(path: EdgePath) -> list[str]:
    rectified = cast("RectifiedPhoto", SimpleNamespace(to_mm=lambda places: places))
    return [warning.kind for warning in _weak_edge(rectified, path)]


def test_a_faint_edge_that_all_that_lies_beside_it_tells_is_found() -> None:
    path = disc(5.0, noise=0.8, soft=2.0)
    weak = path.uncertainty >= WEAK_UNCERTAINTY
    assert float(np.mean(weak)) > WEAK_SHARE
    assert float(path.odds.min()) > WEAK_ODDS
    off = np.hypot(*(path.points - MIDDLE).T) - RADIUS
    assert float(np.percentile(np.abs(off), 95)) < 1.0
    assert warnings_of(path) == []


@pytest.mark.parametrize("difference", [0.0, 12.0])
def test_an_edge_between_what_hardly_differs_is_told_as_guessed(difference: float) -> None:
    path = disc(difference, noise=25.0)
    assert float(path.odds.max()) < WEAK_ODDS
    assert warnings_of(path) == ["weak edge"]
