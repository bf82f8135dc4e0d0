"""The lens's distortion from lines: checked floors drawn through a known lens, and floors without a line."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.intake.photo.camera import RadialDistortion
from nestplan.intake.photo.distortion import distortion_from_lines
from nestplan.intake.photo.reading import Photo


def checked(k: float, *, turn: float = 0.3, size: tuple[int, int] = (1000, 750)) -> Photo:
    """A floor of square tiles, 70 pixels a side, as a lens with distortion k shows it."""
    width, height = size
    lens = RadialDistortion(k, ((width - 1) / 2, (height - 1) / 2), float(np.hypot(width, height)) / 2)
    columns, rows = np.meshgrid(np.arange(width), np.arange(height))
    straight = lens.undistort(np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64))
    u = straight @ [np.cos(turn), np.sin(turn)] / 70
    v = straight @ [-np.sin(turn), np.cos(turn)] / 70
    soft = np.tanh(8 * np.sin(np.pi * u)) * np.tanh(8 * np.sin(np.pi * v))
    grey = 130 + 60 * soft.reshape(height, width)
    grey = grey + np.random.default_rng(4).normal(0, 3, grey.shape)
    return Photo(np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2), "tiles")


@pytest.mark.parametrize("k", [-0.1, -0.03, 0.0, 0.04])
def test_a_tiled_floor_tells_the_distortion(k: float) -> None:
    told = distortion_from_lines(checked(k))
    assert told is not None
    assert told[0] == pytest.approx(k, abs=2.5 * told[1])
    assert told[1] < 0.01


def test_a_floor_without_lines_tells_nothing() -> None:
    noise = np.random.default_rng(1).normal(128, 20, (600, 800, 3)).clip(0, 255).astype(np.uint8)
    assert distortion_from_lines(Photo(noise, "carpet")) is None


def test_round_things_are_no_lines() -> None:
    rows, columns = np.mgrid[0:750, 0:1000]
    rings = np.sin(np.hypot(rows - 300, columns - 420) / 14) > 0
    picture = np.repeat((60 + 130 * rings).astype(np.uint8)[..., None], 3, axis=2)
    assert distortion_from_lines(Photo(picture, "rings")) is None
