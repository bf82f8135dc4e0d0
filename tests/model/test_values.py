from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from nestplan.errors import InputError, ShapeError, UnitError
from nestplan.model.values import (
    MAX_POINTS,
    Area,
    Length,
    Thickness,
    ThicknessRange,
    as_points,
    as_ring,
    decode_value,
    encode_value,
    need_finite,
    need_thickness_range,
    need_unique,
    need_word,
    schema_of_value,
)


@pytest.mark.parametrize(
    ("kind", "said", "meant"),
    [
        (Length, 12, 12.0),
        (Length, "1 1/2 in", 38.1),
        (Thickness, "5 oz", 5 * 25.4 / 64),
        (Area, "2 dm2", 20_000.0),
        (ThicknessRange, [2.0, "2.4 mm"], (2.0, 2.4)),
        (ThicknessRange, "2-3 oz", (2 * 25.4 / 64, 3 * 25.4 / 64)),
    ],
)
def test_values_are_read_with_their_units(kind: Any, said: Any, meant: Any) -> None:
    found = decode_value(kind, said)
    assert isinstance(found, kind)
    assert found == pytest.approx(meant)


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (Length, True),
        (Length, None),
        (Length, [1.0]),
        (Length, "12"),
        (Area, 20_000.0),
        (Length, math.inf),
        (ThicknessRange, 2.0),
        (ThicknessRange, [1.0, 2.0, 3.0]),
        (ThicknessRange, [1.0, {}]),
    ],
)
def test_what_is_no_such_value_is_refused(kind: Any, said: Any) -> None:
    with pytest.raises((InputError, UnitError)):
        decode_value(kind, said)


@pytest.mark.parametrize(
    ("mm2", "words"),
    [(22.75 * 92_903.04, "22.75 ft2"), (21_000.0, "2.1 dm2"), (12_345.678912, "12345.678912 mm2")],
)
def test_an_area_is_written_in_a_unit_that_keeps_it_short_and_read_again_the_same(
    mm2: float, words: str
) -> None:
    assert encode_value(Area(mm2)) == words
    assert decode_value(Area, words) == pytest.approx(mm2, rel=1e-12)


def test_lengths_are_written_as_plain_numbers() -> None:
    assert type(encode_value(Length(3.5))) is float
    with pytest.raises(NotImplementedError):
        encode_value(object())


def test_every_value_has_a_schema() -> None:
    for kind in (Length, Thickness, ThicknessRange, Area):
        assert "description" in schema_of_value(kind)
    with pytest.raises(NotImplementedError):
        schema_of_value(int)


@pytest.mark.parametrize("thickness", [(0.0, 1.0), (-1.0, 1.0), (2.0, 1.0), (1.0, math.nan)])
def test_a_thickness_runs_from_the_least_to_the_most(thickness: tuple[float, float]) -> None:
    with pytest.raises(InputError) as caught:
        need_thickness_range(thickness)
    assert caught.value.place == "thickness"
    need_thickness_range(None)
    need_thickness_range((1.0, 1.0))


def test_numbers_names_and_words_are_checked() -> None:
    need_finite("x", 1.0, None, -5.0)
    with pytest.raises(InputError):
        need_finite("x", 1.0, math.nan)
    need_unique(("a", "b"), "names")
    with pytest.raises(InputError, match="'a' stands twice"):
        need_unique(("a", "b", "a"), "names")
    need_word("do", "punch", ("punch", "slit"))
    with pytest.raises(InputError, match="'punsh' is none of the words") as caught:
        need_word("do", "punsh", ("slit", "punch"))
    assert caught.value.mend == "Use one of: punch, slit."


def test_points_become_a_ring_and_a_ring_points() -> None:
    points = ((0.0, 0.0), (0.0, 5.0), (5.0, 5.0))
    ring = as_ring(points, "outline")
    assert ring.shape == (3, 2)
    assert as_points(ring) == tuple(reversed(points))
    assert all(type(value) is float for point in as_points(np.array([[1, 2]])) for value in point)


def test_more_points_than_any_outline_needs_are_refused_before_work_starts() -> None:
    turns = np.linspace(0.0, 2.0 * math.pi, MAX_POINTS + 1, endpoint=False)
    with pytest.raises(ShapeError, match=f"more than {MAX_POINTS:,}") as caught:
        as_ring(as_points(1000.0 * np.column_stack((np.cos(turns), np.sin(turns)))), "outline")
    assert caught.value.place == "outline"
