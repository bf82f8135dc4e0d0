"""Kernel: the random numbers of a search, repeatable from its seed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel


@kernel(**FLAT, forceinline=True)
def next_random(random_state: NDArray[np.uint64]) -> float:
    """Next uniform number in [0, 1) of a splitmix64 generator whose state is `random_state (1,) uint64`."""
    random_state[0] += np.uint64(0x9E3779B97F4A7C15)
    z = random_state[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return np.float64(z >> np.uint64(11)) * (1.0 / 9007199254740992.0)
