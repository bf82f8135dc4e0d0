"""Many tasks on many workers: one function over a list, answers in order, whoever does the work.

Local processes by default, a Dask cluster where an address is given; both through the executor interface of
concurrent.futures. A task depends on nothing but its own argument, so the answers are the same on any
number of workers. A worker that dies costs its task another try, not the run.
What the tasks compute is not known here.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any, Protocol, TypeVar

from nestplan.errors import Cancelled, InputError, NestplanError

__all__ = ["LocalWorkers", "SerialWorkers", "Workers", "WorkersLostError", "open_workers"]

Argument = TypeVar("Argument")
Answer = TypeVar("Answer")

_SAFE_PATH = "PYTHONSAFEPATH"
"""What tells Python not to look for modules in the current folder (Python 3.11 and later)."""

TRIES = 3
"""How often a task is begun anew after the process that ran it has died."""

OnDone = Callable[[int, Any], None]
Cancelling = Callable[[], bool]


class WorkersLostError(NestplanError):
    """Workers died again and again on the same tasks, or none can be reached."""


class Workers(Protocol):
    """Whoever runs tasks. `count` is how many run at a time."""

    count: int

    def map(
        self,
        function: Callable[[Argument], Answer],
        arguments: Sequence[Argument],
        *,
        on_done: OnDone | None = None,
        cancelled: Cancelling | None = None,
    ) -> list[Answer]:
        """The answers in the order of the arguments.

        `on_done(number, answer)` is called, in the caller's thread, as answers come. `cancelled` is asked a
        few times a second.

        Raises the function's own errors; Cancelled; WorkersLostError where processes died again and again.
        """


class SerialWorkers:
    """Runs the tasks one after the other in this process."""

    count = 1

    def map(
        self,
        function: Callable[[Argument], Answer],
        arguments: Sequence[Argument],
        *,
        on_done: OnDone | None = None,
        cancelled: Cancelling | None = None,
    ) -> list[Answer]:
        """See `Workers.map`."""
        answers: list[Answer] = []
        for number, argument in enumerate(arguments):
            if cancelled is not None and cancelled():
                raise Cancelled(best=answers)
            answers.append(function(argument))
            if on_done is not None:
                on_done(number, answers[-1])
        return answers


@contextmanager
def _without_current_folder() -> Iterator[None]:
    """Processes started meanwhile do not look for modules in the current folder, which may be anybody's."""
    before = os.environ.get(_SAFE_PATH)
    os.environ[_SAFE_PATH] = "1"
    try:
        yield
    finally:
        if before is None:
            os.environ.pop(_SAFE_PATH, None)
        else:
            os.environ[_SAFE_PATH] = before


class _SafeProcess(SpawnProcess):
    def start(self) -> None:
        with _without_current_folder():
            super().start()


class _SafeContext(SpawnContext):
    """Starts processes clean: a forked copy of a process with threads can hang."""

    Process = _SafeProcess


class LocalWorkers:
    """Processes of this machine, started when first needed and started anew when one of them dies."""

    def __init__(self, count: int | None = None) -> None:
        self.count = count if count is not None else os.cpu_count() or 1
        if self.count < 1:
            raise InputError(f"{self.count} workers cannot work.", mend="Ask for 1 or more.", place="workers")
        self._pool: ProcessPoolExecutor | None = None

    def map(
        self,
        function: Callable[[Argument], Answer],
        arguments: Sequence[Argument],
        *,
        on_done: OnDone | None = None,
        cancelled: Cancelling | None = None,
    ) -> list[Answer]:
        """See `Workers.map`."""
        answers: dict[int, Answer] = {}
        tries = [0] * len(arguments)
        while len(answers) < len(arguments):
            missing = [number for number in range(len(arguments)) if number not in answers]
            futures: dict[Future[Answer], int] = {}
            try:
                pool = self._opened()
                futures = {pool.submit(function, arguments[number]): number for number in missing}
                _gather(futures, answers, on_done, cancelled)
            except BrokenProcessPool as broken:
                # The pool cannot say whose process died: each task that was begun and has no answer counts a
                # try.
                self.close()
                for number in missing:
                    if number not in answers and number in _begun(futures):
                        tries[number] += 1
                if max(tries) >= TRIES:
                    raise WorkersLostError(
                        f"A worker process died {TRIES} times on the same task.",
                        mend="Try with fewer workers: the machine may be short of memory.",
                    ) from broken
        return [answers[number] for number in range(len(arguments))]

    def stop(self) -> None:
        """End the processes at once, whatever they are at.

        What they still had to do must not be cancelled before: the pool fails on cancelled tasks of a process that
        died.
        """
        if self._pool is not None:
            # The pool has no public way to do so before Python 3.14 (terminate_workers).
            for process in list((getattr(self._pool, "_processes", None) or {}).values()):
                process.terminate()

    def close(self) -> None:
        """End the processes."""
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None

    def _opened(self) -> ProcessPoolExecutor:
        if self._pool is None:
            # The pool's own helper process is started here already.
            with _without_current_folder():
                self._pool = ProcessPoolExecutor(
                    self.count, mp_context=_SafeContext(), initializer=_leave_interrupts
                )
        return self._pool


class ClusterWorkers:
    """The workers of a Dask cluster; Dask itself begins a task anew when its worker dies."""

    def __init__(self, address: str, *, timeout: float = 10.0) -> None:
        try:
            from distributed import Client, Security
        except ImportError as missing:
            raise InputError(
                "A scheduler address needs the Dask cluster library.", mend="Install nestplan[cluster]."
            ) from missing
        if address.startswith("tls://") and Security().get_connection_args("client")["ssl_context"] is None:
            raise InputError(
                f"The cluster at {address} lets nobody in without a certificate, and none is named.",
                mend="Name it in the settings of Dask: distributed.comm.tls.ca-file, client.cert and client.key.",
                place="scheduler",
            )
        try:
            self._client = Client(address, timeout=timeout, set_as_default=False)
        except Exception as unreachable:
            # What answers there may be anything, and the library stumbles over it anyhow: one asked for exabytes.
            raise InputError(
                f"No scheduler answers at {address}.",
                mend="Check the address and that the cluster runs.",
                place="scheduler",
            ) from unreachable
        self.count = sum(self._client.ncores().values()) or 1

    def map(
        self,
        function: Callable[[Argument], Answer],
        arguments: Sequence[Argument],
        *,
        on_done: OnDone | None = None,
        cancelled: Cancelling | None = None,
    ) -> list[Answer]:
        """See `Workers.map`."""
        from distributed.scheduler import KilledWorker

        executor: Executor = self._client.get_executor(pure=False, retries=0)
        answers: dict[int, Answer] = {}
        futures = {executor.submit(function, argument): number for number, argument in enumerate(arguments)}
        try:
            _gather(futures, answers, on_done, cancelled)
        except KilledWorker as killed:
            raise WorkersLostError(
                "Workers of the cluster died again and again on the same task.",
                mend="Look at the cluster's memory and its workers' logs.",
            ) from killed
        finally:
            for future in futures:
                future.cancel()
        return [answers[number] for number in range(len(arguments))]

    def stop(self) -> None:
        """Nothing more than `close`: tasks not yet begun are called off already, the workers are the cluster's."""

    def close(self) -> None:
        """Leave the cluster; it goes on running."""
        self._client.close()


@contextmanager
def open_workers(
    count: int | None = None, *, scheduler: str | None = None, timeout: float = 10.0
) -> Iterator[Workers]:
    """Workers for the length of a with block: a cluster's, `count` local processes, or none for a count of 1.

    A scheduler has `timeout` seconds to answer.

    Raises InputError where no scheduler answers, for a count below 1 or a missing library.
    """
    if scheduler is None and count == 1:
        yield SerialWorkers()
        return
    workers = LocalWorkers(count) if scheduler is None else ClusterWorkers(scheduler, timeout=timeout)
    try:
        yield workers
    except BaseException:
        # Whoever stops does not want to wait for what is still being worked on.
        workers.stop()
        raise
    finally:
        workers.close()


def _gather(
    futures: dict[Future[Answer], int],
    answers: dict[int, Answer],
    on_done: OnDone | None,
    cancelled: Cancelling | None,
) -> None:
    """Put finished answers into `answers` until none is missing. Raises the first task's error, or Cancelled."""
    open_ones = set(futures)
    while open_ones:
        done, open_ones = wait(open_ones, timeout=0.2, return_when=FIRST_COMPLETED)
        for future in sorted(done, key=futures.__getitem__):
            answers[futures[future]] = future.result()
            if on_done is not None:
                on_done(futures[future], answers[futures[future]])
        if open_ones and cancelled is not None and cancelled():
            raise Cancelled(best=[answers[number] for number in sorted(answers)])


def _leave_interrupts() -> None:
    """In a worker process: Ctrl-C reaches every process of a terminal, but only the one that asks may answer it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _begun(futures: dict[Future[Answer], int]) -> set[int]:
    """Numbers of the tasks a pool had begun when it broke: those that failed with it."""
    return {
        number
        for future, number in futures.items()
        if future.done() and not future.cancelled() and isinstance(future.exception(), BrokenProcessPool)
    }
