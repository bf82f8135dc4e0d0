"""What is an opening: floor seen through the leather, and not a highlight, a spot or what a coder makes of leather."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from nestplan.intake.photo.camera import CameraFit
from nestplan.intake.photo.leather_pattern import tones_of
from nestplan.intake.photo.openings import (
    Opening,
    differs_from_surroundings,
    find_openings,
    fine_picture,
    goes_on,
)
from nestplan.intake.photo.raster import colour_looks
from nestplan.intake.photo.rectification import RectifiedPhoto

Array = np.ndarray[Any, Any]

GREY_FLOOR, BROWN = (150.0, 150.0, 148.0), (60.0, 34.0, 26.0)


def openings_in(
    *marks: tuple[Array, tuple[float, float, float]], shine: Array | None = None, leather: Any = BROWN
) -> tuple[Opening, ...]:
    """What is found in 0.9 × 0.6 m of leather on a grey floor at 1.5 mm a pixel, with marks (mask, colour) on it and
    shine (h, w), levels, as a camera blurs and a coder would keep it."""
    rng = np.random.default_rng(11)
    shape = (520, 720)
    colour = np.empty((*shape, 3))
    grain = gaussian_filter(rng.standard_normal(shape), 2.0)
    uneven = (1 + 0.08 * grain / grain.std())[..., None]
    colour[:] = np.array(GREY_FLOOR) * uneven
    colour[60:-60, 60:-60] = (np.array(leather) * uneven)[60:-60, 60:-60]
    if shine is not None:
        colour[60:-60, 60:-60] += shine[60:-60, 60:-60, None]
    for mask, own in marks:
        colour[mask] = own
    seen = gaussian_filter(colour, (0.8, 0.8, 0)) * (
        1 + 0.02 * gaussian_filter(rng.standard_normal((*shape, 1)), 0.7)
    )
    image = np.clip(seen + rng.normal(0, 1.0, seen.shape), 0, 255).astype(np.uint8)
    photo = RectifiedPhoto(
        image, 1.5, (0.0, 780.0), np.ones(shape, dtype=bool), np.zeros((4, 2)), np.eye(3), 0.0,
        CameraFit(np.eye(3), np.eye(3)[None], 0.0), has_reference=False,
    )  # fmt: skip
    ring = photo.to_mm([[59.5, 459.5], [659.5, 459.5], [659.5, 59.5], [59.5, 59.5]])
    return find_openings(photo, ring, fine_picture(photo))


def disc(row: float, column: float, radius: float) -> Array:
    rows, columns = np.indices((520, 720))
    return np.asarray((rows - row) ** 2 + (columns - column) ** 2 < radius**2)


def shine_at(row: float, column: float, *, wide: float, levels: float = 90) -> Array:
    """Levels of a highlight that runs out over `wide` pixels."""
    rows, columns = np.indices((520, 720))
    return np.asarray(levels * np.exp(-((rows - row) ** 2 + (columns - column) ** 2) / (2 * wide**2)))


def test_a_hole_in_glossy_leather_is_an_opening_though_shine_has_its_colour() -> None:
    hole = disc(300, 250, 9)
    shine = shine_at(200, 480, wide=110)
    found = openings_in((hole, (112.0, 110.0, 107.0)), shine=shine, leather=(34.0, 24.0, 20.0))
    assert [each.is_floor for each in found] == [True]
    assert found[0].ring.mean(axis=0) == pytest.approx([250 * 1.5, 780 - 300 * 1.5], abs=2)


def test_shine_alone_is_no_opening_for_certain() -> None:
    for wide in (7, 12, 30):
        assert not any(each.is_floor for each in openings_in(shine=shine_at(250, 350, wide=wide)))


def test_a_small_hole_is_an_opening_though_the_leather_tints_it() -> None:
    # As much of the leather's colour is all over the hole as a coder may leave there, or more than that.
    tan = np.array([205.0, 150.0, 92.0])
    hole = disc(260, 360, 7)
    for mixed, floor in ((0.0, True), (0.3, True), (0.8, False)):
        seen = (1 - mixed) * 0.6 * np.array(GREY_FLOOR) + mixed * tan
        found = openings_in((hole, tuple(seen)), leather=tan)
        assert [each.is_floor for each in found] in ([[floor]] if floor else [[False], []])


def test_what_looks_like_floor_in_part_only_goes_on_beyond() -> None:
    rng = np.random.default_rng(3)
    leather, light = np.array([4.2, 0.3, -0.2]), np.array([5.3, 0.03, -0.03])
    noise = rng.normal(0, 0.03, (400, 3))
    tones = tones_of((leather + noise).astype(np.float32))
    for count, like in ((0, False), (48, True)):
        around = np.where(np.arange(400)[:, None] < count, light - [0.2, 0, 0], leather) + noise
        assert goes_on((light + noise[:40]).astype(np.float32), around.astype(np.float32), tones) is like


def test_what_a_coder_makes_of_leather_beside_a_pale_spot_is_no_opening() -> None:
    rng = np.random.default_rng(5)
    leather = np.array([59.0, 41.0, 30.0], dtype=np.float32)
    small = (leather + rng.normal(0, 0.3, (60, 60, 3))).astype(np.float32)
    patch, box = np.ones((8, 8), dtype=bool), (slice(26, 34), slice(26, 34))
    for change, opening in (((3.0, -3.0, 0.5), False), ((-2.2, -2.2, 7.4), True)):
        seen = small.copy()
        seen[box] += np.array(change, dtype=np.float32)
        assert differs_from_surroundings(seen, colour_looks(seen), patch, box) is opening
