"""How long something takes where a machine may be busy with other things: tests ask for work, not for haste."""

from __future__ import annotations

import time

__all__ = ["WorkTime"]


class WorkTime:
    """Seconds since it was made: of the clock or of this process's own work, whichever is less.

    On a quiet machine both are alike, for one thread; on a busy one only the work of this process counts.
    """

    def __init__(self) -> None:
        self._clock, self._work = time.monotonic(), time.process_time()

    @property
    def seconds(self) -> float:
        return min(time.monotonic() - self._clock, time.process_time() - self._work)
