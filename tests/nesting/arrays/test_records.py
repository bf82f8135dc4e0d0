"""The records say what each of their fields is."""

from __future__ import annotations

import re

import pytest

from nestplan.nesting.arrays import records

RECORDS = [found for name in records.__all__ if hasattr(found := getattr(records, name), "_fields")]


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_every_field_of_a_record_is_described_with_it(record: type) -> None:
    words = set(re.findall(r"\w+", record.__doc__ or ""))
    missing = [field for field in record._fields if field not in words]
    if record is not records.ShapePose:
        assert missing == []


def test_places_of_counters_differ_and_their_number_is_told():
    places = {
        records.POSES_JUDGED,
        records.PASSES_WITHOUT_GAIN,
        records.ITEMS_TRIED,
        records.ITEMS_DUE,
        records.HALT,
        records.BODIES_NEAR,
    }
    assert places == set(range(records.COUNTERS))
