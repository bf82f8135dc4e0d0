"""The strip benchmark against a case whose optimum is known by arithmetic.

Outside witness: nine equal squares of side s in a strip of width 3 s need a length of 3 s and no less.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.benchmarks.strip import run


def test_nine_squares_fill_a_strip_three_wide_to_within_three_percent(tmp_path: Path):
    square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]
    # A hair of room across: pieces that touch count as overlapping.
    data = {
        "name": "nine squares",
        "strip_width": 30.01,
        "area": 900.0,
        "items": [{"demand": 9, "angles": [0.0], "polygon": square}],
    }
    path = tmp_path / "nine.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    row = run(path, seconds=60.0, seed=1, rounds=40)
    assert row["fault_mm2"] < 1e-6
    assert 30.0 <= row["length"] < 30.9
    assert row["density"] == pytest.approx(100.0 * 900.0 / (30.01 * row["length"]), abs=0.01)
    assert row["ratio"] is None
