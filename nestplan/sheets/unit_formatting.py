"""Figures as words for a sheet: lengths, areas, shares and money in the units the maker works in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestplan.geometry.units import show_area, show_length, show_thickness

__all__ = [
    "LengthUnit",
    "UnitFormatter",
    "money",
    "share",
]

LengthUnit = Literal["mm", "in"]

LITRES_PER_QUART = 0.946352946
"""Of the United States: a quarter of a gallon of 231 cubic inches, exactly."""


@dataclass(frozen=True)
class UnitFormatter:
    """How figures are shown: millimetres and dm², or inches in sixteenths and ft²."""

    unit: LengthUnit = "mm"

    def length(self, mm: float) -> str:
        """A length with its unit: to a tenth of a millimetre, or to a sixteenth of an inch."""
        return show_length(mm, self.unit)

    def tape(self, mm: float) -> str:
        """A length as it is read off a tape, without its unit: whole millimetres, or sixteenths of an inch."""
        words = show_length(mm, self.unit, decimals=0 if self.unit == "mm" else None)
        return words.rsplit(" ", 1)[0]

    def size(self, width: float, height: float) -> str:
        """Two lengths, such as `180 × 129 mm`."""
        return f"{self.length(width).rsplit(' ', 1)[0]} × {self.length(height)}"

    def area(self, mm2: float) -> str:
        return show_area(mm2, "ft2" if self.unit == "in" else "dm2")

    def thickness(self, low: float, high: float) -> str:
        """A range of thickness, such as `2–2.4 mm` or `5–6 oz`."""
        unit: Literal["mm", "oz"] = "oz" if self.unit == "in" else "mm"
        words = show_thickness(high, unit)
        if high - low < 1e-6:
            return words
        return f"{show_thickness(low, unit).rsplit(' ', 1)[0]}–{words}"

    def long(self, mm: float) -> str:
        """A long length: metres, or feet with one decimal."""
        if self.unit == "in":
            return f"{mm / 304.8:.1f} ft"
        return f"{mm / 1000.0:.2f} m"

    def amount(self, amount: float, unit: str) -> str:
        """So much of a supply: a number of pieces (`each`), a length of so many `m`, or so much of another unit."""
        if unit == "each":
            return f"{amount:.0f}"
        if unit == "m":
            return self.long(amount * 1000.0)
        return self.volume(amount) if unit == "l" else f"{amount:.2f} {unit}"

    def volume(self, litres: float) -> str:
        """A volume: litres, or US quarts; little of it in millilitres, or fluid ounces."""
        if self.unit == "in":
            quarts = litres / LITRES_PER_QUART
            return f"{quarts:.2f} qt" if quarts >= 0.25 else f"{32.0 * quarts:.1f} fl oz"
        return f"{litres:.2f} l" if litres >= 0.1 else f"{1000.0 * litres:.0f} ml"

    def unit_price(self, price: float, unit: str) -> tuple[float, str]:
        """The price of one metre or litre as that of a foot or quart where those are shown, with the unit's name."""
        if unit == "each":
            return price, ""
        if self.unit == "in":
            return (price * 0.3048, "ft") if unit == "m" else (price * LITRES_PER_QUART, "qt")
        return price, unit


def share(fraction: float) -> str:
    """A share such as `61.3 %`."""
    return f"{100.0 * fraction:.1f} %"


def money(amount: float | None, currency: str) -> str:
    """An amount with its currency, or a dash where it is not known."""
    return "–" if amount is None else f"{amount:.2f} {currency}".rstrip()
