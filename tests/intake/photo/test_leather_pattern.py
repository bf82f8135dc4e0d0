"""Leather of two tones: its pattern is passed over and told, what lies in one tone is still suggested."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from scipy.ndimage import gaussian_filter

from nestplan.intake.photo.camera import CameraFit
from nestplan.intake.photo.flaws import find_flaws
from nestplan.intake.photo.leather_pattern import tones_of
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.raster import colour_looks
from nestplan.intake.photo.rectification import RectifiedPhoto

Array = np.ndarray[Any, Any]

DARK, LIGHT = np.array([70.0, 46.0, 34.0]), np.array([205.0, 190.0, 170.0])
MARK = (slice(250, 330), slice(145, 151))
"""Rows and columns of a scar, 160 by 12 mm."""


def leather(*, spotted: bool, marked: bool, seed: int = 4) -> tuple[RectifiedPhoto, Outline]:
    """1.2 × 0.8 m of leather at 2 mm a pixel, dark, or with light spots; a lighter scar in the dark if `marked`."""
    rng = np.random.default_rng(seed)
    shape = (400, 600)
    cloud = gaussian_filter(rng.standard_normal(shape), 14.0)
    share = 1 / (1 + np.exp(-np.clip((cloud / cloud.std() - 0.4) / 0.05, -30, 30))) * spotted
    # The scar and what lies round it are dark.
    share[190:, 90:210] = 0
    colour = DARK + share[..., None] * (LIGHT - DARK)
    if marked:
        colour[MARK] *= 1.45
    noisy = gaussian_filter(colour, (0.7, 0.7, 0)) * (1 + 0.02 * rng.standard_normal((*shape, 1)))
    image = np.clip(noisy, 0, 255).astype(np.uint8)
    fit = CameraFit(np.eye(3), np.eye(3)[None], 0.0)
    photo = RectifiedPhoto(
        image, 2.0, (0.0, 800.0), np.ones(shape, dtype=bool), np.zeros((4, 2)), np.eye(3), 0.0, fit,
        has_reference=False,
    )  # fmt: skip
    ring = np.array([[20.0, 20.0], [1180.0, 20.0], [1180.0, 780.0], [20.0, 780.0]])
    return photo, Outline(ring, (), 1.5)


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_spots_are_told_once_and_not_listed(seed: int) -> None:
    found = find_flaws(*leather(spotted=True, marked=False, seed=seed))
    assert found.patterned
    # 54, 59 and 54 places stand out of these three hides.
    assert len(found.places) <= 5


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_a_scar_in_one_tone_of_spotted_leather_is_suggested(seed: int) -> None:
    found = find_flaws(*leather(spotted=True, marked=True, seed=seed))
    scar = shapely.box(2 * 145, 800 - 2 * 330, 2 * 151, 800 - 2 * 250)
    assert found.patterned
    assert any(shapely.Polygon(place.ring).intersects(scar) for place in found.places)


def test_a_scar_on_plain_leather_is_no_pattern() -> None:
    found = find_flaws(*leather(spotted=False, marked=True))
    assert not found.patterned
    assert len(found.places) == 1


def test_two_tones_are_found_and_hold_what_lies_between_them() -> None:
    rng = np.random.default_rng(2)
    dark, light = np.array([4.0, 0.3, -0.2]), np.array([5.1, 0.1, -0.1])
    which = rng.random(4000) < 0.3
    looks = (np.where(which[:, None], light, dark) + 0.03 * rng.standard_normal((4000, 3))).astype(np.float32)
    tones = tones_of(looks)
    assert tones.dark == pytest.approx(dark, abs=0.01)
    assert tones.light == pytest.approx(light, abs=0.01)
    aside, beyond = np.array([0, 0.4, 0]), np.array([1.2, 0, 0])
    asked = np.array([dark, light, (dark + light) / 2, dark - aside, light + beyond])
    assert tones.hold(asked.astype(np.float32)).tolist() == [True, True, True, False, False]
    assert tones.along(asked[:3].astype(np.float32)) == pytest.approx([0, 1, 0.5], abs=0.02)


def test_spots_are_two_tones_and_a_gloss_is_not() -> None:
    rng = np.random.default_rng(5)
    noise = rng.normal(0, 0.05, (4000, 3))
    spots = np.where(rng.random((4000, 1)) < 0.3, 0.0, 1.2) + noise
    gloss = rng.uniform(0, 0.6, (4000, 1)) + noise
    assert tones_of(spots.astype(np.float32)).apart > 10
    assert tones_of(gloss.astype(np.float32)).apart < 6


def test_spots_end_sharply_and_shine_does_not() -> None:
    rng = np.random.default_rng(8)
    rows, columns = np.indices((240, 320))
    away = np.hypot(rows - 120, columns - 160)
    for share, sharp in (((away < 60).astype(float), True), (np.exp(-((away / 90) ** 2)), False)):
        colour = DARK + gaussian_filter(share, 0.8)[..., None] * (LIGHT - DARK)
        looks = colour_looks((colour * (1 + 0.02 * rng.standard_normal((*away.shape, 1)))).astype(np.float32))
        tones = tones_of(looks.reshape(-1, 3))
        assert tones.end_sharply(looks, np.ones(away.shape, dtype=bool)) is sharp
