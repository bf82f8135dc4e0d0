"""Thickness of what is glued together: a stack of layers in mm and ounces, and a warning at a limit.

A stack over the limit is a warning, never a refusal: the user knows the machine. Thicknesses are mm; a layer
is a range, since leather is listed as one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from nestplan.errors import InputError
from nestplan.geometry.units import show_thickness

__all__ = ["Stack", "StackLayer", "stack_of"]

_SAME_MM = 1e-6
"""Sums of thicknesses nearer to a limit than this are at the limit, not over it."""


@dataclass(frozen=True)
class StackLayer:
    """A layer of a stack: its name and its thickness from `least` to `most`, mm."""

    name: str
    least: float
    most: float


@dataclass(frozen=True)
class Stack:
    """Layers glued together: total thickness from `least` to `most`, mm."""

    layers: tuple[StackLayer, ...]
    least: float
    most: float

    @property
    def middle(self) -> float:
        """Half way between least and most, mm; what thread is calculated from."""
        return 0.5 * (self.least + self.most)

    def in_words(self, units: Literal["mm", "in"] = "mm") -> str:
        """The stack in mm and ounces, such as `2.78 to 3.57 mm (7 to 9 oz)`; ounces first where `units` are inches."""
        both: tuple[Literal["mm", "oz"], ...] = ("oz", "mm") if units == "in" else ("mm", "oz")
        if math.isclose(self.least, self.most):
            first, second = (show_thickness(self.least, unit) for unit in both)
        else:
            first, second = (
                f"{show_thickness(self.least, unit).rsplit(' ', 1)[0]} to {show_thickness(self.most, unit)}"
                for unit in both
            )
        return f"{first} ({second})"

    def warnings(
        self, limit: float | None, *, what: str = "the machine", units: Literal["mm", "in"] = "mm"
    ) -> tuple[str, ...]:
        """Where the stack may be or surely is too thick for `limit` mm; empty without a limit or below it."""
        if limit is None or self.most <= limit + _SAME_MM:
            return ()
        sure = "is" if self.least > limit + _SAME_MM else "can be"
        most = show_thickness(limit, "oz" if units == "in" else "mm")
        return (f"The stack {sure} thicker than {most}, the limit of {what}: {self.in_words(units)}.",)


def stack_of(layers: Sequence[StackLayer], *, glue: float = 0.0) -> Stack:
    """The stack of `layers`, with `glue` mm for each joint: the sum of the ranges.

    Cement adds next to nothing, so `glue` is 0 unless told. Raises InputError for no layers, a thickness that
    is not above 0, or a range upside down.
    """
    if not layers:
        raise InputError("A stack needs a layer.", mend="Name the layers.", place="layers")
    for number, layer in enumerate(layers):
        if not (math.isfinite(layer.most) and 0.0 < layer.least <= layer.most):
            raise InputError(
                f"Layer '{layer.name}' runs from {layer.least} to {layer.most} mm.",
                mend="Give 0 < least <= most.",
                place=f"layers[{number}]",
            )
    joints = glue * (len(layers) - 1)
    return Stack(
        tuple(layers),
        sum(layer.least for layer in layers) + joints,
        sum(layer.most for layer in layers) + joints,
    )
