"""Points of a job file that are written in inches: turned into mm when it is read, and back when it is written."""

from __future__ import annotations

from typing import Any

from nestplan.geometry.units import MM_PER_INCH

__all__ = ["POINT_KEYS", "points_in_inches", "points_in_mm"]

POINT_KEYS = frozenset({"outline", "holes", "around", "at", "start", "end"})
"""Keys of a job file under which points stand, single or in rings."""

_NAMED_BY_THE_USER = frozenset({"changes", "fits", "prices"})
"""Keys under which keys are names of the user's own, whatever they are called: no points stand there."""


def points_in_mm(job: Any) -> Any:
    """Plain data of a job with every point, given in inches, in mm. What is no point stays, so that it is refused."""
    return _scaled(job, MM_PER_INCH)


def points_in_inches(job: Any) -> Any:
    """Plain data of a job with every point, given in mm, in inches."""
    return _scaled(job, 1.0 / MM_PER_INCH)


def _scaled(value: Any, factor: float) -> Any:
    if isinstance(value, dict):
        return {
            key: item
            if key in _NAMED_BY_THE_USER
            else _numbers_scaled(item, factor)
            if key in POINT_KEYS
            else _scaled(item, factor)
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [_scaled(item, factor) for item in value]
    return value


def _numbers_scaled(value: Any, factor: float) -> Any:
    if isinstance(value, dict):
        return _scaled(value, factor)
    if isinstance(value, list | tuple):
        return [_numbers_scaled(item, factor) for item in value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return value * factor
