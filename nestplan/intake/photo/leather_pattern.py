"""Leather of two tones, spotted or parted: what looks belong to its pattern, which is neither flaw nor hole.

Looks are those of `raster.colour_looks`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.raster import parting_level

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Looks = NDArray[np.float32]

__all__ = ["SHARP", "LeatherTones", "tones_of"]

SHARP = 0.03
"""Least slope of the way from one tone to the other, half-way along it, where two colours of a hide meet: its share a
block of 1.5 mm (drawn spots and parts 0.046 to 0.12, shine on glossy leather 0.013 to 0.019)."""

_BEYOND, _ASIDE = 0.35, 3.5
"""How far beyond the two tones, as a share of their distance, and how many standard deviations beside the line between
them, looks still belong to the pattern: along its borders tones are mixed."""
_LEAST_SCATTER = 0.01
"""Standard deviation of looks (logarithms) within a tone at least."""


@dataclass(frozen=True, eq=False)
class LeatherTones:
    """Two tones, `dark` and `light` (3,), and `spread` (3, 3): looks about them, times its transpose, deviate by 1."""

    dark: Floats
    light: Floats
    spread: Floats

    @property
    def apart(self) -> float:
        """Standard deviations between the two tones."""
        return float(np.linalg.norm(self._step))

    @property
    def _step(self) -> Floats:
        """The way from the dark tone to the light one (3,), in standard deviations."""
        return np.asarray((self.light - self.dark) @ self.spread.T)

    def hold(self, looks: Looks) -> NDArray[np.bool_]:
        """Which looks (n, 3) are one of the two tones or between them."""
        along = self.along(looks)
        aside = np.linalg.norm((looks - self.dark) @ self.spread.T - along[:, None] * self._step, axis=1)
        return np.asarray((along > -_BEYOND) & (along < 1 + _BEYOND) & (aside < _ASIDE))

    def along(self, looks: Looks) -> Floats:
        """How far looks (n, 3) are from the dark tone to the light one: 0 for that, 1 for this."""
        step = self._step
        return np.asarray((looks - self.dark) @ self.spread.T @ step / max(float(step @ step), 1e-12))

    def slopes(self, looks: Looks) -> Floats:
        """How much of the way from the dark tone to the light one lies in a block, at each place of looks (h, w, 3)."""
        from scipy import ndimage

        along = self.along(looks.reshape(-1, 3)).reshape(looks.shape[:2])
        return np.asarray(ndimage.gaussian_gradient_magnitude(along, 1.0))

    def end_sharply(self, looks: Looks, leather: NDArray[np.bool_]) -> bool:
        """Whether the two tones meet as colours of a hide do, in looks (h, w, 3) of which some are `leather`: where one
        runs into the other over a hand's breadth it is light or shine."""
        from scipy import ndimage

        inside = ndimage.binary_erosion(leather, iterations=4)
        along = self.along(looks[inside])
        half_way = np.abs(along - 0.5) < 0.1
        return bool(half_way.any() and np.median(self.slopes(looks)[inside][half_way]) > SHARP)


def tones_of(looks: Looks) -> LeatherTones:
    """The two tones that leather with these looks (n, 3), of which some differ, falls into."""
    light = looks[:, 0] > parting_level(looks[:, 0])
    parts = [looks[chosen].astype(np.float64) for chosen in (~light, light)]
    # Flaws and borders are among them: medians, and the looks that lie nearest to these.
    middles = [np.median(part, axis=0) for part in parts]
    off = np.concatenate([part - middle for part, middle in zip(parts, middles, strict=True)])
    length = np.linalg.norm(off, axis=1)
    off = off[length <= np.percentile(length, 80)]
    covariance = off.T @ off / len(off) + _LEAST_SCATTER**2 * np.eye(3)
    return LeatherTones(middles[0], middles[1], np.linalg.inv(np.linalg.cholesky(covariance)))
