"""Nonlinear least squares for a few values: the camera's.

Levenberg's and Marquardt's method in trust regions (Moré 1978, "The Levenberg-Marquardt algorithm: implementation and
theory"). SciPy's does the same, but loading it takes longer than all that is solved here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["LeastSquares", "solve_least_squares"]

_FIRST_REACH = 100.0
"""How long the first step may be, as a multiple of the values' own length."""
_ENOUGH = 1e-8
"""Relative change of the cost, or of the values, below which the solution counts as found; and the cosine of the angle
between residuals and slopes below which it does."""


@dataclass(frozen=True, eq=False)
class LeastSquares:
    """Values (v,) with their residuals (r,) and slopes (r, v); `cost`: half the sum of squares of the residuals."""

    values: Floats
    residuals: Floats
    slopes: Floats
    cost: float
    calls: int


def solve_least_squares(
    residuals: Callable[[Floats], Floats],
    slopes: Callable[[Floats], Floats],
    start: Floats,
    *,
    size: Floats,
    most_calls: int,
) -> LeastSquares:
    """The values at which the sum of squares of `residuals` is least, from `start` on.

    `size` (v,): how large a step of each value is. At most `most_calls` of `residuals` are made.
    """
    values, off = start, residuals(start)
    cost, calls = float(off @ off) / 2, 1
    reach = _FIRST_REACH * (float(np.linalg.norm(values / size)) or 1.0)
    model = _LinearModel.of(slopes(values), size, off)
    while calls < most_calls and not model.is_flat():
        damping, step = model.step_within(reach)
        length = float(np.linalg.norm(step))
        trial = values + step * size
        trial_off = residuals(trial)
        calls += 1
        trial_cost = float(trial_off @ trial_off) / 2
        promised = model.promised(step)
        gained = cost - trial_cost
        ratio = gained / promised if promised > 0 else 0.0
        if not ratio > 0.25:
            # As far as a parabola through cost, slope and the trial's cost has its lowest point.
            slope = -promised - damping * length**2 / 2
            share = 0.5 if gained >= 0 else 0.5 * slope / min(slope + gained, -1e-300)
            reach = min(reach, 10 * length) * float(np.clip(share, 0.1, 0.5))
        elif ratio >= 0.75 or damping == 0:
            reach = 2 * length
        if ratio > 1e-4:
            values, off, cost = trial, trial_off, trial_cost
            model = _LinearModel.of(slopes(values), size, off)
        if max(abs(gained), promised) <= _ENOUGH * max(cost, 1e-300) and ratio <= 2:
            break
        if reach <= _ENOUGH * float(np.linalg.norm(values / size)):
            break
    return LeastSquares(values, off, model.slopes, cost, calls)


@dataclass(frozen=True, eq=False)
class _LinearModel:
    """Residuals (r,) as they change with small steps, taken apart into singular values and directions."""

    slopes: Floats
    left: Floats
    singular: Floats
    right: Floats
    residuals: Floats

    @classmethod
    def of(cls, slopes: Floats, size: Floats, residuals: Floats) -> _LinearModel:
        left, singular, right = np.linalg.svd(slopes * size, full_matrices=False)
        return cls(slopes, left.T @ residuals, singular, right, residuals)

    def is_flat(self) -> bool:
        """Whether no value changes the residuals' length any more."""
        pull = self.right.T @ (self.singular * self.left)
        norms = np.linalg.norm(self.singular[:, None] * self.right, axis=0)
        length = float(np.linalg.norm(self.residuals))
        return length == 0 or bool((np.abs(pull) <= _ENOUGH * length * np.maximum(norms, 1e-300)).all())

    def step_within(self, reach: float) -> tuple[float, Floats]:
        """The damping and the step that leads lowest among those not much longer than `reach`."""
        told = self.singular > np.finfo(np.float64).eps * self.singular[0]
        along = np.where(told, -self.left / np.where(told, self.singular, 1.0), 0.0)
        if float(np.linalg.norm(along)) <= 1.1 * reach:
            return 0.0, np.asarray(self.right.T @ along)
        squares, pull = self.singular**2, self.singular * self.left
        damping = float(np.linalg.norm(pull)) / reach * 1e-3
        for _ in range(10):
            along = -pull / (squares + damping)
            length = float(np.linalg.norm(along))
            if abs(length - reach) <= 0.1 * reach:
                break
            # Newton's step on 1 / length, which is nearly linear in the damping.
            bent = float((along**2 / (squares + damping)).sum())
            damping = max(damping * 1e-3, damping + (length - reach) / reach * length**2 / bent)
        return damping, np.asarray(self.right.T @ along)

    def promised(self, step: Floats) -> float:
        """By how much half the sum of squares falls with a step if the slopes stay."""
        moved = self.singular * (self.right @ step)
        return float(-(moved @ self.left) - (moved @ moved) / 2)
