"""What is proven of a problem: so many sets at most, so many hides at least. Worked out once, for all who ask."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.yields import SetBound, area_bounds, fewest_hides, proven_fewest_hides, set_bounds

__all__ = ["Proofs"]


class Proofs:
    """The bounds on the plans of a job on hides, in any thread."""

    def __init__(self, job: Job, hides: Sequence[Hide]) -> None:
        self._job, self._hides = job, hides
        self._fewest: int | None = None
        self._fewest_is_final = False
        self._sets: tuple[SetBound, ...] | None = None
        self._lock = threading.Lock()

    def fewest_hides(self, reached: int | None, stop: Callable[[], bool]) -> int:
        """So many hides at least any plan needs that places all that is asked.

        Where a plan has `reached` as few as their area allows, nothing is left to prove. Once `stop` says so, what is
        proven by then; whoever asks later has it proven further.
        """
        with self._lock:
            if self._fewest is not None and self._fewest_is_final:
                return self._fewest
            by_area = fewest_hides(self._job, self._hides)
            if by_area >= len(self._hides) or (reached is not None and reached <= by_area):
                return by_area
            if stop():
                return max(by_area, self._fewest or 0)
            fewest = proven_fewest_hides(self._job, self._hides, stop=stop)
            self._fewest_is_final = not stop()
            self._fewest = max(fewest, self._fewest or 0)
            return self._fewest

    def set_bounds(self, reached: Sequence[int], stop: Callable[[], bool]) -> tuple[SetBound, ...]:
        """For each article so many sets at most: proven once, as far as a plan that has `reached` so many leaves it
        open, until `stop` says so."""
        with self._lock:
            if self._sets is None:
                self._sets = set_bounds(self._job, self._hides, reached=reached, stop=stop)
            return self._sets

    def sets_by_now(self) -> tuple[SetBound, ...]:
        """The bounds on sets as proven by now, at once: by area where nothing was proven yet."""
        return self._sets or area_bounds(self._job, self._hides)

    def hides_by_now(self) -> int | None:
        """The bound on hides as proven by now; None where only the area tells one."""
        return self._fewest
