"""A job file whose points are in inches."""

from __future__ import annotations

import json
import typing
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.model.files import content_hash, read_job, write_job
from nestplan.model.job import Job
from nestplan.model.point_units import POINT_KEYS, points_in_inches, points_in_mm
from nestplan.model.values import Point

WRITTEN: dict[str, Any] = {
    "nestplan": 1,
    "kind": "job",
    "name": "belt",
    "units": "in",
    "points": "in",
    "articles": [
        {
            "name": "belt",
            "sets": 1,
            "pieces": [
                {
                    "name": "front",
                    "outline": [[0, 0], [8, 0], [8, 4.5], [0, 4.5]],
                    "holes": [[[3, 2], [4, 2], [4, 3]]],
                    "marks": [{"at": [0.625, 1], "do": "punch", "diameter": "3/16 in"}],
                }
            ],
        }
    ],
}


def test_points_are_inches_and_lengths_what_they_say(tmp_path: Path) -> None:
    path = tmp_path / "belt.job.json"
    path.write_text(json.dumps(WRITTEN))
    job = read_job(path)
    piece = job.piece("front")
    assert piece.outline[2] == pytest.approx((203.2, 114.3))
    assert piece.holes[0][1] == pytest.approx((101.6, 50.8))
    assert piece.marks[0].at == pytest.approx((15.875, 25.4))
    assert piece.marks[0].diameter == pytest.approx(4.7625)


def test_such_a_job_is_written_in_inches_again_and_stays_the_same(tmp_path: Path) -> None:
    path = tmp_path / "belt.job.json"
    path.write_text(json.dumps(WRITTEN))
    job = read_job(path)
    write_job(tmp_path / "again.job.json", job)
    again = json.loads((tmp_path / "again.job.json").read_text())
    assert again["articles"][0]["pieces"][0]["outline"] == WRITTEN["articles"][0]["pieces"][0]["outline"]
    assert again["articles"][0]["pieces"][0]["marks"][0]["diameter"] == "3/16 in"
    assert content_hash(read_job(tmp_path / "again.job.json")) == content_hash(job)


def test_a_job_that_says_nothing_of_its_points_has_them_in_mm(tmp_path: Path) -> None:
    path = tmp_path / "belt.job.json"
    path.write_text(json.dumps({key: value for key, value in WRITTEN.items() if key != "points"}))
    assert read_job(path).piece("front").outline[2] == (8.0, 4.5)


@pytest.mark.parametrize("points", ["inch", 3, None])
def test_another_unit_of_points_is_refused(tmp_path: Path, points: object) -> None:
    path = tmp_path / "belt.job.json"
    path.write_text(json.dumps({**WRITTEN, "points": points}))
    with pytest.raises(InputError) as caught:
        read_job(path)
    assert caught.value.place == "points"


def test_what_is_no_point_is_refused_where_it_stands(tmp_path: Path) -> None:
    broken = json.loads(json.dumps(WRITTEN))
    broken["articles"][0]["pieces"][0]["outline"][1] = ["8 in", 0]
    path = tmp_path / "belt.job.json"
    path.write_text(json.dumps(broken))
    with pytest.raises(InputError) as caught:
        read_job(path)
    assert "outline[1]" in caught.value.place


def test_inches_and_mm_lead_back_to_each_other() -> None:
    piece = points_in_inches(points_in_mm(WRITTEN))["articles"][0]["pieces"][0]
    for key in ("outline", "holes"):
        assert np.allclose(piece[key], WRITTEN["articles"][0]["pieces"][0][key])
    assert points_in_mm({"start": None, "gap": 3, "end": True}) == {"start": None, "gap": 3, "end": True}


def test_the_keys_are_those_of_the_points_of_a_job() -> None:
    found: dict[str, set[bool]] = {}
    seen: set[type] = set()

    def look(record: type) -> None:
        if record in seen:
            return
        seen.add(record)
        for name, hint in typing.get_type_hints(record, include_extras=True).items():
            found.setdefault(name, set()).add(str(Point) in str(hint))
            for part in _parts(hint):
                if isinstance(part, type) and issubclass(part, msgspec.Struct):
                    look(part)

    look(Job)
    assert {name for name, points in found.items() if True in points} == POINT_KEYS
    assert all(len(found[name]) == 1 for name in POINT_KEYS)


def _parts(hint: Any) -> list[Any]:
    arguments = typing.get_args(hint)
    return [hint] if not arguments else [part for each in arguments for part in _parts(each)]
