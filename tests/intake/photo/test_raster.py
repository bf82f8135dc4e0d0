"""Small work on pixels: means of blocks and of colours against NumPy; medians, CIELAB and levels against SciPy and
scikit-image."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import median_filter
from skimage.color import rgb2lab
from skimage.filters import threshold_otsu

from nestplan.intake.photo.raster import block_means, grey_level, lab_colours, median_of_nine, parting_level


@settings(deadline=None, max_examples=30)
@given(st.integers(1, 5), st.integers(5, 40), st.integers(5, 40), st.booleans(), st.integers(0, 99))
def test_blocks_are_means(step: int, rows: int, columns: int, coloured: bool, seed: int) -> None:
    shape = (rows, columns, 3) if coloured else (rows, columns)
    picture = np.random.default_rng(seed).uniform(0, 255, shape).astype(np.float32)
    high, wide = rows // step, columns // step
    whole = picture[: high * step, : wide * step]
    expected = whole.reshape(high, step, wide, step, *shape[2:]).mean(axis=(1, 3))
    assert block_means(picture, step) == pytest.approx(expected, rel=1e-5)


def test_grey_is_the_mean_of_three() -> None:
    picture = np.random.default_rng(3).uniform(0, 255, (7, 9, 3)).astype(np.float32)
    assert grey_level(picture) == pytest.approx(picture.mean(axis=2), rel=1e-6)


@settings(deadline=None, max_examples=20)
@given(st.integers(1, 30), st.integers(1, 30), st.booleans(), st.integers(0, 99))
def test_the_median_of_nine_is_scipys(rows: int, columns: int, coloured: bool, seed: int) -> None:
    picture = np.random.default_rng(seed).integers(0, 9, (rows, columns, 3)).astype(np.float32)
    expected = np.stack([median_filter(picture[..., k], size=3) for k in range(3)], axis=-1)
    if coloured:
        assert (median_of_nine(picture) == expected).all()
    else:
        assert (median_of_nine(picture[..., 0]) == expected[..., 0]).all()


def test_cielab_is_that_of_scikit_image() -> None:
    picture = np.random.default_rng(5).integers(0, 256, (60, 50, 3), dtype=np.uint8)
    picture[0, :3] = [[0, 0, 0], [255, 255, 255], [3, 3, 2]]
    assert lab_colours(picture) == pytest.approx(rgb2lab(picture), abs=3e-4)


@settings(deadline=None, max_examples=30)
@given(st.integers(2, 4000), st.integers(1, 4000), st.floats(0.5, 6), st.integers(0, 99))
def test_the_parting_level_is_that_of_scikit_image(some: int, others: int, apart: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = np.concatenate([rng.normal(0, 1, some), rng.normal(apart, 0.5, others)])
    levels = np.linspace(values.min(), values.max(), 257)

    # Theirs sums in single precision, so two levels that part nearly as well may change places.
    def spread(level: float) -> float:
        low, high = values[values <= level], values[values > level]
        return float(len(low) * len(high) * (low.mean() - high.mean()) ** 2)

    ours, theirs = parting_level(values), float(threshold_otsu(values))
    assert levels[0] < ours < levels[-1]
    assert spread(ours) >= 0.99 * spread(theirs)
