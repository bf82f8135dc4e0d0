"""A table of figures, whole and by what the measured scenes hold."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

__all__ = ["grouped_lines", "tilt_band"]

Row = TypeVar("Row")


def grouped_lines(
    rows: Sequence[Row],
    line: Callable[[str, Sequence[Row]], str],
    groups: Sequence[tuple[str, Callable[[Row], str]]],
) -> list[str]:
    """The `line` of all rows, then for each of `groups` (title, key) its title and a line for each key, in order."""
    lines = [line("all", rows)]
    for title, key in groups:
        lines.append(f"by {title}")
        lines += [
            line(name, [row for row in rows if key(row) == name])
            for name in sorted({key(row) for row in rows})
        ]
    return lines


def tilt_band(tilt: float) -> str:
    """The 15° that a tilt (degrees) lies in, in words."""
    low = tilt // 15 * 15
    return f"{low:.0f} to {low + 15:.0f}°"
