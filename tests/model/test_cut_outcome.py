"""What a cut makes of a plan's hides: texts of all files, nothing written."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import shapely

from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model import Plan
from nestplan.model.cut_outcome import CutOutcome, outcome_of_cut
from nestplan.model.files import content_hash, read_hide
from nestplan.model.job_log import JOB_LOG_NAME, read_job_log
from tests.small_jobs import laid, one_piece_job, plain_hide, plan_of

JOB = one_piece_job(sets=2)
PIECE = JOB.articles[0].pieces[0]
BARLEY, RYE, OATS = plain_hide("barley"), plain_hide("rye", leather="goat skin"), plain_hide("oats")


def plan(*, second: str = "barley") -> Plan:
    placements = [
        laid(JOB, PIECE, Pose(0, 0), hide="barley"),
        laid(JOB, PIECE, Pose(200, 0), hide=second, copy=2, set=2),
    ]
    return plan_of(JOB, [BARLEY, RYE, OATS], placements)


def cut(folder: Path, the_plan: Plan, **changes: Any) -> CutOutcome:
    hides = {hide.name: (folder / f"{hide.name}.hide.json", hide) for hide in (BARLEY, RYE, OATS)}
    values: dict[str, Any] = {
        "offcuts": {"barley": [shapely.box(0, 200, 1000, 800)]},
        "net": {
            name: 10_000.0 * sum(place.hide == name for place in the_plan.placements)
            for name in ("barley", "rye")
        },
        "job": JOB.name,
        "plan_hash": content_hash(the_plan),
        "date": "2031-05-01",
        "log": folder / JOB_LOG_NAME,
    }
    return outcome_of_cut(the_plan, hides, **{**values, **changes})


def test_only_hides_with_something_on_them_are_used_up(tmp_path: Path) -> None:
    done = cut(tmp_path, plan())
    assert [(hide.name, hide.used) for hide in done.used] == [("barley", "small")]
    assert [(path.name, hide.name) for path, hide in done.offcuts] == [
        ("barley-offcut-1.hide.json", "barley, offcut 1")
    ]
    assert list(tmp_path.iterdir()) == []
    for path, text in done.files:
        path.write_text(text)
    assert read_hide(tmp_path / "barley.hide.json").used == "small"
    rest = read_hide(tmp_path / "barley-offcut-1.hide.json")
    assert rest.origin is not None
    assert rest.origin.parent_hash == content_hash(BARLEY)
    (record,) = read_job_log(tmp_path / JOB_LOG_NAME)
    assert record == done.records[0]


def test_the_log_takes_hides_less_offcuts_or_what_the_workshop_says(tmp_path: Path) -> None:
    (record,) = cut(tmp_path, plan()).records
    assert record.net == pytest.approx(20_000)
    assert record.gross == pytest.approx(800_000)
    assert record.offcuts == pytest.approx(600_000)
    assert record.really_used == pytest.approx(200_000)
    assert record.own_yield == pytest.approx(0.1)
    assert record.planned_yield == pytest.approx(0.1)
    (record,) = cut(tmp_path, plan(), really_used={"": 250_000.0}, note="one spoiled").records
    assert record.own_yield == pytest.approx(0.08)
    assert record.planned_yield == pytest.approx(0.1)
    assert record.note == "one spoiled"


def test_each_kind_of_leather_has_its_own_record(tmp_path: Path) -> None:
    records = cut(tmp_path, plan(second="rye"), really_used={"goat skin": 90_000.0}).records
    assert [(record.leather, record.net, record.really_used) for record in records] == [
        ("cow side", pytest.approx(10_000), pytest.approx(200_000)),
        ("goat skin", pytest.approx(10_000), pytest.approx(90_000)),
    ]
    for wrong in ({"": 1.0}, {"sheep": 1.0}):
        with pytest.raises(InputError) as caught:
            cut(tmp_path, plan(second="rye"), really_used=wrong)
        assert caught.value.place == "really used"


def test_an_offcut_that_covers_what_was_cut_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="covers something that was cut"):
        cut(tmp_path, plan(), offcuts={"barley": [shapely.box(0, 50, 1000, 800)]})
