"""A kernel means the same whether Python or another kernel calls it."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.nesting.arrays.compile_options import ALLOCATING, FLAT
from nestplan.nesting.arrays.kernel_cache import kernel


@kernel(**ALLOCATING)
def rising(count):
    values = np.empty(count)
    for k in range(count):
        values[k] = 1.0 / (k + 1.0)
    return values


@kernel(**FLAT, forceinline=True)
def summed(values, power):
    total = 0.0
    for k in range(values.shape[0]):
        total += values[k] ** power
    return total


@kernel(**ALLOCATING)
def summed_rising(count, power):
    return summed(rising(count), power) + summed(rising(count), 2.0 * power)


@kernel(**FLAT)
def quotient(dividend, divisor):
    return dividend // divisor


@kernel(**FLAT)
def remainder(dividend, divisor):
    return dividend - quotient(dividend, divisor) * divisor


def test_a_kernel_means_the_same_to_python_and_to_kernels() -> None:
    expected = (1.0 / np.arange(1.0, 21.0) ** 2).sum() + (1.0 / np.arange(1.0, 21.0) ** 4).sum()
    assert summed_rising(20, 2.0) == pytest.approx(expected, rel=1e-12)
    assert summed(rising(20), 2.0) + summed(rising(20), 4.0) == summed_rising(20, 2.0)


def test_an_error_within_a_kernel_that_a_kernel_calls_reaches_python() -> None:
    assert remainder(7, 3) == 1
    with pytest.raises(ZeroDivisionError):
        remainder(7, 0)


def test_a_kernel_is_compiled_for_each_kind_of_arguments_that_python_gives() -> None:
    assert remainder(7.5, 2.0) == 1.5
    assert len(remainder.signatures) == len({str(each) for each in remainder.signatures}) >= 1
