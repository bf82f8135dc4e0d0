"""Marks and openings by themselves: their measures, ends and rings, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.errors import InputError, ShapeError
from nestplan.model.marks import Mark, Opening


def test_a_mark_has_the_size_that_its_kind_is_measured_by() -> None:
    assert Mark(at=(0.0, 0.0), do="punch", diameter=4.5).size == 4.5
    assert Mark(at=(0.0, 0.0), do="slit", length=12.0).size == 12.0
    assert Mark(at=(0.0, 0.0)).size is None


def test_a_slit_lies_along_its_angle_with_its_point_in_the_middle() -> None:
    upright = Mark(at=(10.0, 20.0), do="slit", length=8.0, angle=90.0)
    np.testing.assert_allclose(upright.ends, [(10.0, 16.0), (10.0, 24.0)], atol=1e-12)


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"do": "punch"}, "diameter"),
        ({"do": "slit"}, "length"),
        ({"do": "stitch"}, "do"),
        ({"at": (float("nan"), 0.0)}, "at"),
        ({"do": "slit", "length": 5.0, "angle": 4000.0}, "angle"),
    ],
)
def test_a_mark_that_cannot_be_made_is_refused_with_its_place(fields: dict[str, object], place: str) -> None:
    with pytest.raises(InputError) as raised:
        Mark(**({"at": (0.0, 0.0)} | fields))  # type: ignore[arg-type]
    assert raised.value.place == place


def test_an_opening_has_a_ring_and_may_not_cross_itself() -> None:
    assert len(Opening(outline=((0, 0), (10, 0), (0, 10))).ring) == 3
    with pytest.raises(ShapeError):
        Opening(outline=((0, 0), (10, 10), (10, 0), (0, 10)))
