"""Small work on pixels: means of blocks and of colours, against NumPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.intake.photo.raster import block_means, grey_level


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
