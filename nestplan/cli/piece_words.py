"""How a command words a piece: its name, size, area, openings and marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestplan.model import Piece

__all__ = ["piece_in_words"]


def piece_in_words(piece: Piece) -> str:
    """One line about a piece."""
    from nestplan.cli.plan_words import counted
    from nestplan.geometry.ring import bounds
    from nestplan.geometry.units import show_area, show_length

    left, low, right, high = bounds(piece.ring)
    holes = f", {counted(len(piece.holes), 'opening')}" if piece.holes else ""
    marks = f", {counted(len(piece.all_marks), 'mark')}" if piece.all_marks else ""
    size = f"{show_length(right - left)} × {show_length(high - low)}"
    wanted = (f", {piece.count} of it" if piece.count > 1 else "") + (
        ", left and right" if piece.pair else ""
    )
    return f"{piece.name}: {size}, {show_area(piece.net_area)}{holes}{marks}{wanted}"
