"""Order: as numpy's stable sort."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nesting.arrays.sort_kernels import rising_order


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(-5, 5), max_size=60))
def test_the_order_is_rising_and_keeps_equal_keys_as_they_were(keys: list[int]) -> None:
    values = np.array(keys, float)
    assert rising_order(values).tolist() == np.argsort(values, kind="stable").tolist()
