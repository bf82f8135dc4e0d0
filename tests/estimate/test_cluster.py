"""The same answers from a Dask cluster of two worker processes as from this one, a killed worker or not."""

from __future__ import annotations

import contextlib
import logging
import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.estimate.buy import buy
from nestplan.estimate.compare import compare
from nestplan.estimate.workers import open_workers
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
        bought = buy(PANELS, KIND, trials=12, seed=5, planner=ByArea(0.6), workers=workers)
    assert [without_time(answer) for answer in shared] == [without_time(answer) for answer in alone]
    assert sorted(told) == [0, 1, 2, 3]
    assert bought.figures == buy(PANELS, KIND, trials=12, seed=5, planner=ByArea(0.6)).figures


def test_a_killed_worker_of_the_cluster_costs_a_try_and_not_the_run(scheduler: str, tmp_path: Path) -> None:
    with open_workers(scheduler=scheduler) as workers:
        answers = workers.map(chores.die_once, [(number, str(tmp_path)) for number in range(8)])
    assert (tmp_path / "died").exists()
    assert answers == [number + 100 for number in range(8)]


def test_the_error_of_a_task_on_the_cluster_is_the_error_of_the_run(scheduler: str) -> None:
    with open_workers(scheduler=scheduler) as workers, pytest.raises(ValueError, match="three is refused"):
        workers.map(chores.refuse_three, range(6))


@pytest.fixture
def certificate(tmp_path: Path) -> dict[str, str]:
    """A certificate of our own, as the cluster's documentation asks for: who has it is let in."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not installed here")
    key, cert = tmp_path / "key.pem", tmp_path / "cert.pem"
    command = [
        openssl,
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=localhost",
    ]
    subprocess.run([*command, "-keyout", str(key), "-out", str(cert)], check=True, capture_output=True)
    return {
        "tls_ca_file": str(cert),
        "tls_client_cert": str(cert),
        "tls_client_key": str(key),
        "tls_worker_cert": str(cert),
        "tls_worker_key": str(key),
        "tls_scheduler_cert": str(cert),
        "tls_scheduler_key": str(key),
    }


@pytest.mark.security
def test_a_cluster_over_tls_works_with_the_certificate_and_refuses_without(
    certificate: dict[str, str],
) -> None:
    """As DEVELOPERS.md says: the address is tls://, the certificate is named in the settings of Dask."""
    dask = pytest.importorskip("dask")
    security = distributed.Security(require_encryption=True, **certificate)
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        dashboard_address="127.0.0.1:0",
        silence_logs=logging.CRITICAL,
        security=security,
        protocol="tls://",
    ) as cluster:
        assert cluster.scheduler_address.startswith("tls://")
        named = {
            "distributed.comm.require-encryption": True,
            "distributed.comm.tls.ca-file": certificate["tls_ca_file"],
            "distributed.comm.tls.client.cert": certificate["tls_client_cert"],
            "distributed.comm.tls.client.key": certificate["tls_client_key"],
        }
        with (
            dask.config.set(named),
            open_workers(scheduler=cluster.scheduler_address) as workers,
        ):
            assert workers.map(chores.square, [2, 3]) == [4, 9]
        with (
            pytest.raises(InputError, match="certificate"),
            open_workers(scheduler=cluster.scheduler_address, timeout=2.0),
        ):
            pass


def test_a_scheduler_that_does_not_answer_is_said() -> None:
    with (
        pytest.raises(InputError, match="No scheduler answers"),
        open_workers(scheduler="tcp://127.0.0.1:9", timeout=1.0),
    ):
        pass


@pytest.mark.security
def test_whatever_else_answers_at_the_address_is_no_scheduler() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def answer_nonsense() -> None:
            with contextlib.suppress(OSError):
                while True:
                    connection, _ = listening.accept()
                    # Read as the lengths that Dask's way of talking begins with, these are exabytes.
                    connection.sendall(b"1" * 4096)
                    connection.close()

        threading.Thread(target=answer_nonsense, daemon=True).start()
        with (
            pytest.raises(InputError, match="No scheduler answers"),
            open_workers(scheduler=f"tcp://127.0.0.1:{listening.getsockname()[1]}", timeout=2.0),
        ):
            pass
