"""The log of finished jobs: added to, read strictly, summed up by leather."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from nestplan.errors import InputError, VersionError
from nestplan.model.job_log import FinishedJob, job_log_text, read_job_log, workshop_yields


def finished(**changes: Any) -> FinishedJob:
    values: dict[str, Any] = {
        "id": "a1",
        "date": "2031-05-01",
        "plan": "spring",
        "plan_hash": "a1",
        "job": "belts",
        "leather": "cow side",
        "net": 60.0,
        "gross": 120.0,
        "offcuts": 20.0,
        "really_used": 100.0,
        "planned_yield": 0.6,
    }
    return FinishedJob(**{**values, **changes})


def test_records_are_added_and_read_back_and_old_lines_stay_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / "log.jsonl"
    assert read_job_log(path) == ()
    path.write_text(job_log_text(path, [finished()]).rstrip("\n").replace(":", ": "))
    before = path.read_text()
    path.write_text(job_log_text(path, [finished(id="b2"), finished(id="c3", note="two backs spoiled")]))
    assert path.read_text().startswith(before + "\n")
    assert [job.id for job in read_job_log(path)] == ["a1", "b2", "c3"]
    assert read_job_log(path)[0] == finished()


def test_the_workshops_own_yield_stands_beside_the_plans() -> None:
    jobs = [
        finished(),
        finished(id="b2", net=30.0, really_used=60.0, planned_yield=0.6),
        finished(id="b2", leather="goat skin", net=10.0, really_used=20.0, planned_yield=0.8),
    ]
    cow, goat, everything = workshop_yields(jobs)
    assert (cow.leather, cow.jobs, cow.own_yield, cow.planned_yield) == (
        "cow side",
        2,
        pytest.approx(90 / 160),
        pytest.approx(0.6),
    )
    assert goat.own_yield == pytest.approx(0.5)
    assert (everything.leather, everything.jobs) == ("", 2)
    assert everything.own_yield == pytest.approx(100 / 180)
    assert everything.planned_yield == pytest.approx(100 / (100 + 50 + 12.5))
    assert workshop_yields([]) == ()


@pytest.mark.parametrize(
    ("line", "error"),
    [
        ("{", InputError),
        ('{"id": "x"}', InputError),
        ("null", InputError),
        ("NET", InputError),
    ],
)
def test_a_bad_line_is_refused_with_its_number(tmp_path: Path, line: str, error: type[InputError]) -> None:
    path = tmp_path / "log.jsonl"
    bad = (
        job_log_text(path, [finished()]).strip().replace('"net":60.0', '"net":-1.0')
        if line == "NET"
        else line
    )
    path.write_text(job_log_text(path, [finished()]) + bad + "\n")
    with pytest.raises(error) as caught:
        read_job_log(path)
    assert caught.value.place == "line 2"
    assert caught.value.file == str(path)
    with pytest.raises(error):
        job_log_text(path, [finished()])


def test_a_line_from_a_newer_program_is_refused_politely(tmp_path: Path) -> None:
    path = tmp_path / "log.jsonl"
    path.write_text(job_log_text(path, [finished()]).replace('"nestplan":1', '"nestplan":2'))
    with pytest.raises(VersionError):
        read_job_log(path)
