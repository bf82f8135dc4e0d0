"""Strips joined from parts: which copies are whole, and what the others lack."""

from __future__ import annotations

import pytest

from nestplan.model.piece import Strip
from nestplan.model.plan import Placement
from nestplan.model.strip_parts import parts_of_copies, uncovered_length, whole_copies

STRAP = Strip(name="strap", width=20.0, length=1000.0, joins=2, lap=30.0, least_part=100.0)


def part(length: float | None, *, copy: int = 1, strip: str = "strap", layer: str = "leather") -> Placement:
    square = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    return Placement(
        hide="side", strip=strip, layer=layer, copy=copy, length=length, angle=0.0, x=0.0, y=0.0,
        finished=square, cut=square,
    )  # fmt: skip


def test_a_strip_in_one_part_lacks_nothing() -> None:
    assert uncovered_length(STRAP, [part(None)]) == 0.0
    assert uncovered_length(STRAP, [part(1000.0)]) == 0.0


def test_each_join_takes_its_lap_from_the_sum_of_the_parts() -> None:
    assert uncovered_length(STRAP, [part(600.0), part(430.0)]) == 0.0
    assert uncovered_length(STRAP, [part(600.0), part(400.0)]) == pytest.approx(30.0)
    assert uncovered_length(STRAP, [part(500.0), part(300.0), part(260.0)]) == 0.0


def test_a_strip_without_parts_lacks_all_of_it() -> None:
    assert uncovered_length(STRAP, []) == STRAP.length


def test_parts_that_fall_short_by_the_rounding_of_files_make_a_whole_strip() -> None:
    assert uncovered_length(STRAP, [part(999.9999)]) == 0.0
    assert uncovered_length(STRAP, [part(999.9)]) == pytest.approx(0.1)


def test_copies_are_kept_apart_and_other_strips_and_layers_are_left_out() -> None:
    placed = [
        part(600.0, copy=2),
        part(None, copy=1),
        part(430.0, copy=2),
        part(500.0, copy=3),
        part(None, copy=4, strip="lace"),
        part(None, copy=5, layer="lining"),
    ]
    assert {copy: len(parts) for copy, parts in parts_of_copies(STRAP, placed).items()} == {2: 2, 1: 1, 3: 1}
    assert whole_copies(STRAP, placed) == [1, 2]
