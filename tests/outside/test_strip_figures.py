"""The strip benchmark against a case whose optimum is known by arithmetic.

Outside witness: nine equal squares of side s in a strip of width 3 s need a length of 3 s and no less.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.benchmarks.strip import run


def nine_squares(folder: Path, **more: object) -> Path:
    """The file of nine squares of side 10 for a strip three wide; a hair of room across: touching is overlapping."""
    square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]
    items = [{"demand": 9, "angles": [0.0], "polygon": square}]
    data = {"name": "nine squares", "strip_width": 30.01, "area": 900.0, "items": items, **more}
    path = folder / "nine.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def test_nine_squares_fill_a_strip_three_wide_to_within_three_percent(tmp_path: Path):
    row = run(nine_squares(tmp_path), seconds=60.0, seed=1, rounds=40)
    assert row["fault_mm2"] < 1e-6
    assert 30.0 <= row["length"] < 30.9
    assert row["density"] == pytest.approx(100.0 * 900.0 / (30.01 * row["length"]), abs=0.01)
    assert row["ratio"] is None


def test_a_run_ends_once_it_is_as_good_as_was_asked_for_against_the_files_own_figure(tmp_path: Path):
    path = nine_squares(tmp_path, published={"mean_2025": 0.9, "best_2025": 0.99})
    early = run(path, seconds=60.0, seed=1, rounds=40, until=0.9)
    whole = run(path, seconds=60.0, seed=1, rounds=40)
    assert early["ratio"] >= 0.9
    assert early["ratio"] == pytest.approx(early["density"] / 90.0, abs=1e-4)
    assert early["ratio_to_best"] == pytest.approx(early["density"] / 99.0, abs=1e-4)
    assert early["rounds"] < whole["rounds"] == 40
    assert early["density"] <= whole["density"]
