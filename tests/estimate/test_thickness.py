"""Stacks of leather and the limit they warn at."""

from __future__ import annotations

import pytest

from nestplan.errors import InputError
from nestplan.estimate.thickness import StackLayer, stack_of
from nestplan.geometry.units import read_thickness_range


def _layer(name: str, thickness: str) -> StackLayer:
    return StackLayer(name, *read_thickness_range(thickness))


def test_a_stack_is_the_sum_of_its_ranges_in_mm_and_ounces() -> None:
    stack = stack_of([_layer("outer", "5-6 oz"), _layer("lining", "2-3 oz")])
    assert (stack.least, stack.most) == pytest.approx((7 * 25.4 / 64, 9 * 25.4 / 64))
    assert stack.in_words() == "2.78 to 3.57 mm (7 to 9 oz)"
    assert stack.in_words("in") == "7 to 9 oz (2.78 to 3.57 mm)"
    assert "thicker than 8 oz, the limit of the machine: 7 to 9 oz" in stack.warnings(3.175, units="in")[0]


def test_a_limit_warns_and_never_refuses() -> None:
    stack = stack_of([StackLayer("outer", 2.0, 2.5), StackLayer("lining", 1.0, 1.2)])
    assert stack.warnings(None) == ()
    assert stack.warnings(3.7) == ()
    assert "can be thicker" in stack.warnings(3.2)[0]
    assert "is thicker" in stack.warnings(2.9)[0]


def test_glue_counts_once_for_each_joint() -> None:
    layers = [StackLayer(name, 1.0, 1.0) for name in ("a", "b", "c")]
    assert stack_of(layers, glue=0.1).least == pytest.approx(3.2)


def test_stacks_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError):
        stack_of([])
    with pytest.raises(InputError, match="lining"):
        stack_of([StackLayer("outer", 1.0, 2.0), StackLayer("lining", 2.0, 1.0)])


def test_a_stack_exactly_at_the_limit_is_not_warned_of() -> None:
    # 0.1 + 0.2 is a hair more than 0.3 in floating point.
    stack = stack_of([StackLayer("a", 0.1, 0.1), StackLayer("b", 0.2, 0.2)])
    assert stack.warnings(0.3) == ()
    assert stack.warnings(0.29) != ()
