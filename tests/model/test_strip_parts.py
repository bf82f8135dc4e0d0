"""Which copies of a strip are whole, and what the others lack."""

from __future__ import annotations

import pytest

from nestplan.model import Placement, Strip
from nestplan.model.strip_parts import parts_of_copies, uncovered_length, whole_copies

STRAP = Strip(name="strap", width=40.0, length=1500.0, joins=2, lap=25.0)
RING = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0))


def part(copy: int, number: int, length: float | None) -> Placement:
    return Placement(hide="h", strip="strap", copy=copy, part=number, length=length, finished=RING, cut=RING)


def test_parts_lap_so_each_join_costs_its_lap():
    assert uncovered_length(STRAP, [part(1, 1, 1000.0)]) == 500.0
    assert uncovered_length(STRAP, [part(1, 1, 1000.0), part(1, 2, 500.0)]) == pytest.approx(25.0)
    assert uncovered_length(STRAP, [part(1, 1, 1000.0), part(1, 2, 525.0)]) == 0.0
    assert uncovered_length(STRAP, [part(1, 0, None)]) == 0.0


def test_whole_are_copies_in_one_part_and_those_whose_parts_suffice():
    placements = [part(1, 0, None), part(2, 1, 1000.0), part(3, 1, 1000.0), part(3, 2, 525.0)]
    assert [parts[0].copy for parts in whole_copies(STRAP, placements)] == [1, 3]


def test_copies_of_plans_put_together_count_though_they_share_their_numbers():
    one_plan = [part(1, 0, None), part(2, 1, 1000.0), part(2, 2, 525.0)]
    assert len(whole_copies(STRAP, [*one_plan, *one_plan])) == 4
    assert [len(parts) for parts in parts_of_copies(STRAP, [*one_plan, *one_plan])] == [1, 2, 1, 2]


def test_other_strips_and_layers_are_left_out():
    other = Strip(name="strap", width=40.0, length=1500.0, layer="lining")
    assert whole_copies(other, [part(1, 0, None)]) == []
