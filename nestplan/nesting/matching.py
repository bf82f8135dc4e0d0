"""Who goes with whom at the least cost, bettered by exchanges of two."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["exchanged"]


def exchanged(cost: NDArray[np.float64]) -> NDArray[np.int64]:
    """For each thing i the slot it takes, from slot i by exchanges of two that lower the sum of cost[thing, slot].

    Of all exchanges that pay, those that pay most are made together as far as they do not touch the same things.
    """
    count = len(cost)
    slot = np.arange(count)
    while True:
        now = cost[:, slot]
        own = np.diagonal(now)
        gain = own[:, None] + own[None, :] - now - now.T
        first, second = np.nonzero(np.triu(gain, 1) > 1e-6)
        if not len(first):
            return slot
        touched = np.zeros(count, bool)
        for k in np.argsort(-gain[first, second], kind="stable").tolist():
            i, j = int(first[k]), int(second[k])
            if not touched[i] and not touched[j]:
                touched[i] = touched[j] = True
                slot[i], slot[j] = slot[j], slot[i]
