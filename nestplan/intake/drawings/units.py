"""Units of length that drawing files use, in millimetres."""

from __future__ import annotations

from nestplan.errors import UnitError

__all__ = ["DRAWING_UNITS", "missing_units", "unit_scale"]

DRAWING_UNITS: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1000.0,
    "in": 25.4,
    "ft": 304.8,
    "pt": 25.4 / 72.0,
    "pc": 25.4 / 6.0,
    "px": 25.4 / 96.0,
    "mil": 0.0254,
    "um": 0.001,
}
"""Millimetres in one drawing unit. `px`, `pt`, `pc` as CSS Values and Units defines them (96, 72, 6 to 1
in)."""


def unit_scale(units: str) -> float:
    """Millimetres in one drawing unit of that name; raises UnitError for an unknown name."""
    scale = DRAWING_UNITS.get(units.strip().lower())
    if scale is None:
        raise UnitError(
            f"'{units}' is no unit of length for a drawing.", mend=f"Say one of: {_unit_names()}."
        )
    return scale


def missing_units(why: str) -> UnitError:
    """The error for a drawing that does not say how large its unit is."""
    return UnitError(why, mend=f"Say what one unit of the drawing is: units of {_unit_names()}.")


def _unit_names() -> str:
    return ", ".join(DRAWING_UNITS)
