"""Kernel: the order in which numbers rise. Stable, and quick to compile, unlike the library's own sort.

The library's `argsort` takes seconds to compile for each kind of array, which a first plan on a new machine would wait
for.
"""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.compile_options import ALLOCATING
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.problem import Floats, Ints

__all__ = ["rising_order"]


@kernel(**ALLOCATING)
def rising_order(keys: Floats) -> Ints:
    """Indices (n,) int64 that put `keys` (n,) float64 in rising order; equal keys keep their order.

    Bottom-up merge sort (Knuth, The Art of Computer Programming 3, section 5.2.4; from memory).
    """
    count = keys.shape[0]
    order = np.empty(count, np.int64)
    spare = np.empty(count, np.int64)
    for i in range(count):
        order[i] = i
    width = 1
    while width < count:
        start = 0
        while start < count:
            middle = min(start + width, count)
            end = min(start + 2 * width, count)
            left, right = start, middle
            for place in range(start, end):
                if left < middle and (right >= end or keys[order[left]] <= keys[order[right]]):
                    spare[place] = order[left]
                    left += 1
                else:
                    spare[place] = order[right]
                    right += 1
            start = end
        for i in range(count):
            order[i] = spare[i]
        width *= 2
    return order
