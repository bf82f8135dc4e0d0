"""The generator against the published one."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.random_kernels import next_random

SPLITMIX64 = (6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431)
"""First outputs of splitmix64 (Steele, Lea and Flood 2014) from the state 1234567; from memory."""


def drawn(count: int, state: int) -> list[float]:
    random_state = np.array([state], np.uint64)
    with np.errstate(over="ignore"):
        return [float(next_random.py_func(random_state)) for _ in range(count)]


def test_the_numbers_are_those_of_splitmix64():
    assert drawn(4, 1234567) == [(number >> 11) / 2.0**53 for number in SPLITMIX64]


def test_numbers_lie_evenly_between_nought_and_one():
    found = np.array(drawn(4000, 5))
    assert 0.0 <= found.min() < found.max() < 1.0
    counts = np.histogram(found, bins=10, range=(0.0, 1.0))[0]
    assert counts.min() > 320
