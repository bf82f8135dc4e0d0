"""Stops a piece of work at each of its dealings with the disk in turn, as a power cut or a kill would.

The work runs in a forked process. Each write, sync, rename, deletion, creation and lock is counted; at the one that is
asked for, the process ends at once, with no `finally` and no `except` run, or the call fails with an error of the
system. A write can be stopped half-way.
"""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from nestplan.errors import NestplanError

try:
    import fcntl
except ImportError:
    fcntl = None  # type: ignore[assignment]

__all__ = ["Fault", "Outcome", "run_with_fault", "stop_points"]

_COUNTED = (
    "open",
    "write",
    "fsync",
    "replace",
    "rename",
    "unlink",
    "rmdir",
    "mkdir",
    "chmod",
    "ftruncate",
    "link",
)
_STOPPED, _DONE, _REFUSED, _BROKEN, _INTERRUPTED = 9, 0, 2, 3, 4

Outcome = Literal["stopped", "done", "refused", "interrupted"]
"""Ended at the point asked for; ended in order; raised an error that nestplan raises on purpose; ended by Ctrl-C."""

Kind = Literal["stop", "half", "interrupt"]


@dataclass(frozen=True)
class Fault:
    """What happens at the `number`-th dealing with the disk, counted from 1.

    `stop`: the process ends before it; `half`: writes alone are counted, and the process ends in the middle of one;
    `interrupt`: Ctrl-C is pressed, which Python raises where it is; an error number: the call fails with that, and with
    `lasting` so do all later ones that write, sync, create or rename.
    """

    number: int
    kind: Kind | int
    lasting: bool = False


def run_with_fault(work: Callable[[], object], fault: Fault) -> Outcome:
    """Run the work in a process of its own, in which the fault happens."""
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        code = _BROKEN
        try:
            _Disk(fault).install()
            work()
            code = _DONE
        except NestplanError:
            code = _REFUSED
        except KeyboardInterrupt:
            code = _INTERRUPTED
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    outcomes: dict[int, Outcome] = {
        _STOPPED: "stopped",
        _DONE: "done",
        _REFUSED: "refused",
        _INTERRUPTED: "interrupted",
    }
    assert code in outcomes, f"at {fault} the work ended with {code}"
    return outcomes[code]


def stop_points(work: Callable[[Fault], Outcome], *kinds: Kind | int) -> Iterator[Fault]:
    """Every fault of these kinds that does happen in the work, which is told each and says how it ended."""
    for kind in kinds:
        number = 1
        while True:
            fault = Fault(number, kind)
            ended = work(fault)
            if ended == "done" and not isinstance(kind, int):
                break
            yield fault
            number += 1


class _Disk:
    """The dealings with the disk, counted, with a fault at one of them."""

    def __init__(self, fault: Fault) -> None:
        self._fault = fault
        self._count = 0

    def install(self) -> None:
        """Count from now on."""
        for name in _COUNTED:
            setattr(os, name, self._counted(name, getattr(os, name)))
        if fcntl is not None:
            fcntl.flock = self._counted("flock", fcntl.flock)

    def _counted(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*arguments: Any, **options: Any) -> Any:
            if self._is_passed_over(name, arguments):
                return call(*arguments, **options)
            self._count += 1
            if self._count == self._fault.number:
                self._happen(name, call, arguments)
            elif self._fault.lasting and self._count > self._fault.number and name not in ("unlink", "flock"):
                raise OSError(self._fault.kind, os.strerror(int(self._fault.kind)))
            return call(*arguments, **options)

        return counted

    def _is_passed_over(self, name: str, arguments: tuple[Any, ...]) -> bool:
        """Reading is not counted; nor is anything but writing where a write is to be stopped half-way."""
        if self._fault.kind == "half":
            return name != "write"
        return name == "open" and not arguments[1] & (os.O_CREAT | os.O_WRONLY | os.O_RDWR)

    def _happen(self, name: str, call: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
        kind = self._fault.kind
        if kind == "half":
            call(arguments[0], bytes(arguments[1])[: len(arguments[1]) // 2])
        if kind in ("stop", "half"):
            os._exit(_STOPPED)
        if kind == "interrupt":
            raise KeyboardInterrupt
        number = errno.EACCES if kind == errno.ENOSPC and name in ("unlink", "rmdir") else int(kind)
        raise OSError(number, os.strerror(number))
