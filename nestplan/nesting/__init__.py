"""The engine: a job and hides in, a checked plan out.

Its front door is `nest` in `nestplan.nesting.nest`; here are only the light things its callers hand to it, so that
importing them brings neither numba nor shapely.
"""

from __future__ import annotations

from nestplan.nesting.budget import Cancel, StopRule
from nestplan.nesting.progress import Observer, Progress

__all__ = ["Cancel", "Observer", "Progress", "StopRule"]
