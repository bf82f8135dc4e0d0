"""The engine: a job and hides in, a checked plan out.

Its front door is `nest` in `nestplan.nesting.nest`; here are only the light things its callers hand to it, so that
importing them brings neither numba nor shapely.
"""

from __future__ import annotations

from nestplan.nesting.progress import Observer, Progress
from nestplan.nesting.stop_rules import AllPlaced, AnyOf, Cancel, NoGain, Passes, Seconds, StopRule

__all__ = [
    "AllPlaced",
    "AnyOf",
    "Cancel",
    "NoGain",
    "Observer",
    "Passes",
    "Progress",
    "Seconds",
    "StopRule",
]
