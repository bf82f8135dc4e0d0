from __future__ import annotations

import csv
import json
import os
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.estimate.buy import BuyEstimate, buy
from nestplan.estimate.compare import compare
from nestplan.estimate.count import count
from nestplan.estimate.planner import EnginePlanner
from nestplan.tasks.estimating import (
    COMPARISON_FILES,
    PURCHASE_FILES,
    count_tasks,
    counts_json,
    open_crew,
    purchase_json,
    purchase_plot,
    write_comparison,
    write_purchase,
)
from nestplan.tasks.hide_kinds import hide_kind
from tests.small_jobs import one_piece_job, plain_hide

PLANNER = EnginePlanner(passes=0)
HIDES = (plain_hide("barley"), plain_hide("rye", price=50.0))


@pytest.mark.parametrize(
    ("tasks", "options", "workers"),
    [
        (1, {}, 1),
        (8, {"processes": 1}, 1),
        (8, {"seconds_each": 0.5}, 1),
        (2, {"processes": 2}, 2),
        (2, {"processes": 2, "seconds_each": 60.0}, 2),
        (500, {}, os.cpu_count() or 1),
    ],
)
def test_a_crew_is_as_large_as_its_work_is_worth(tasks: int, options: dict[str, float], workers: int) -> None:
    with open_crew(tasks, **options) as crew:  # type: ignore[arg-type]
        assert crew.count == workers


def test_answers_are_one_for_each_hide_and_one_for_all() -> None:
    assert count_tasks(HIDES) == 3
    assert count_tasks(HIDES, together=False) == 2
    assert count_tasks(HIDES[:1]) == 1
    job = one_piece_job(sets=2)
    counts = count(job, HIDES, planner=PLANNER)
    stored = json.loads(counts_json(counts))
    assert len(stored) == count_tasks(HIDES)
    assert stored[0]["proven"] == counts[0].proven
    assert "plan" not in stored[0]


def test_a_comparison_is_written_into_a_folder_that_is_there(tmp_path: Path) -> None:
    job = one_piece_job(sets=2)
    answers = compare(job, HIDES, by="cost", planner=PLANNER)
    write_comparison(tmp_path, job, HIDES, answers, None, by="cost", units="mm")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(COMPARISON_FILES)
    rows = list(csv.DictReader((tmp_path / "compare.csv").read_text().splitlines()))
    assert [row["hide"] for row in rows] == ["rye", "barley"]
    assert "cheapest" not in json.loads((tmp_path / "compare.json").read_text())
    with pytest.raises(InputError, match="cannot be written"):
        write_comparison(tmp_path / "none", job, HIDES, answers, None, by="cost", units="mm")


@pytest.fixture(scope="module")
def estimate() -> BuyEstimate:
    kind = hide_kind("belly", area="2 ft2", changes=["grain.per_m2=0"])
    return buy(one_piece_job(sets=9), kind, trials=10, curve_trials=2, planner=PLANNER)


def test_a_purchase_is_written_with_its_plot(estimate: BuyEstimate, tmp_path: Path) -> None:
    marked = []

    def words(figure: object) -> str:
        marked.append(figure)
        return f"mark {len(marked)}"

    plot = purchase_plot(estimate, units="in", mark_words=words, notes=["rests on this"])
    write_purchase(tmp_path, estimate, plot)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(PURCHASE_FILES)
    assert marked == [figure for figure in estimate.figures if figure.area is not None]
    assert marked
    picture = (tmp_path / "buy.svg").read_text()
    assert "mark 1" in picture
    assert "rests on this" in picture
    assert "ft²" in picture
    assert (tmp_path / "buy.png").stat().st_size > 5000
    assert (tmp_path / "buy.json").read_text() == purchase_json(estimate)


def test_a_purchase_as_json_holds_every_purchase(estimate: BuyEstimate) -> None:
    stored = json.loads(purchase_json(estimate))
    assert len(stored["purchases"]) == 10
    assert stored["sets"] == {"thing": 9}
    assert stored["net_mm2"] == pytest.approx(9 * 10_000)
