"""The same answers from a Dask cluster of two worker processes as from this one, a killed worker or not."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.estimate.buy import buy
from nestplan.estimate.compare import compare
from nestplan.estimate.workers import WorkersLostError, open_workers
from tests.estimate import chores
from tests.estimate.stand_in import ByArea, without_time
from tests.estimate.test_buy import JOB as PANELS
from tests.estimate.test_buy import KIND
from tests.estimate.test_compare import HIDES, JOB

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    cluster = distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        dashboard_address=None,
        silence_logs=logging.CRITICAL,
    )
    try:
        yield cluster.scheduler_address
    finally:
        cluster.close()


def test_a_cluster_gives_the_same_answers_for_the_same_seed(scheduler: str) -> None:
    alone = compare(JOB, HIDES, planner=ByArea(0.6))
    told: list[int] = []
    with open_workers(scheduler=scheduler) as workers:
        assert workers.count == 2
        shared = compare(
            JOB,
            HIDES,
            planner=ByArea(0.6),
            workers=workers,
            on_done=lambda number, answer: told.append(number),
        )
        bought = buy(PANELS, KIND, draws=12, seed=5, planner=ByArea(0.6), workers=workers)
    assert [without_time(answer) for answer in shared] == [without_time(answer) for answer in alone]
    assert sorted(told) == [0, 1, 2, 3]
    assert bought.figures == buy(PANELS, KIND, draws=12, seed=5, planner=ByArea(0.6)).figures


def test_a_killed_worker_of_the_cluster_costs_a_try_and_not_the_run(scheduler: str, tmp_path: Path) -> None:
    with open_workers(scheduler=scheduler) as workers:
        answers = workers.map(chores.die_once, [(number, str(tmp_path)) for number in range(8)])
    assert (tmp_path / "died").exists()
    assert answers == [number + 100 for number in range(8)]


def test_the_error_of_a_task_on_the_cluster_is_the_error_of_the_run(scheduler: str) -> None:
    with open_workers(scheduler=scheduler) as workers, pytest.raises(ValueError, match="three is refused"):
        workers.map(chores.refuse_three, range(6))


def test_a_scheduler_that_does_not_answer_is_said() -> None:
    with (
        pytest.raises((WorkersLostError, InputError), match="No scheduler answers"),
        open_workers(scheduler="tcp://127.0.0.1:9", timeout=1.0),
    ):
        pass
