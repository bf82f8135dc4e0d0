"""A look as a mixture of a few bells (normal distributions): learning it and asking how like it a sample is.

Expectation maximisation (Dempster, Laird and Rubin 1977), fixed seed, on a sample of at most a few thousand.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Mixture", "fit_mixture"]

_SAMPLE = 3000
_STEPS = 8


@dataclass(frozen=True, eq=False)
class Mixture:
    """`weights` (k,), `means` (k, d), `whiten` (k, d, d): x -> whiten (x - mean) has unit covariance."""

    weights: Floats
    means: Floats
    whiten: Floats

    def _parts(self, samples: NDArray[np.float32] | Floats) -> tuple[Floats, Floats]:
        """Squared distances (n, k) and log densities (n, k) of each bell, weights included in the latter."""
        distance = np.empty((len(samples), len(self.weights)), dtype=samples.dtype)
        logs = np.empty_like(distance)
        for k, (weight, mean, whiten) in enumerate(zip(self.weights, self.means, self.whiten, strict=True)):
            apart = samples @ whiten.T.astype(samples.dtype)
            apart -= (whiten @ mean).astype(samples.dtype)
            distance[:, k] = np.einsum("ij,ij->i", apart, apart)
            logs[:, k] = np.log(weight) + np.log(abs(np.linalg.det(whiten))) - 0.5 * distance[:, k]
        return distance, logs

    def distance(self, samples: NDArray[np.float32] | Floats) -> Floats:
        """Squared Mahalanobis distance (n,) of samples (n, d) to the nearest bell."""
        return np.asarray(self._parts(samples)[0].min(axis=1))

    def log_density(self, samples: NDArray[np.float32] | Floats) -> Floats:
        """Log density (n,) of samples (n, d), up to the constant of the dimension."""
        return _log_sum(self._parts(samples)[1])

    def shares(self, samples: NDArray[np.float32] | Floats) -> Floats:
        """Share (k,) of the samples that each bell explains best."""
        best = np.argmax(self._parts(samples)[1], axis=1)
        return np.asarray(np.bincount(best, minlength=len(self.weights)) / max(len(best), 1))

    def only(self, keep: NDArray[np.bool_]) -> Mixture:
        """The mixture of the kept bells; all of them if none is kept."""
        if not keep.any():
            return self
        return Mixture(self.weights[keep] / self.weights[keep].sum(), self.means[keep], self.whiten[keep])


def fit_mixture(samples: NDArray[np.float32] | Floats, bells: int) -> Mixture:
    """A mixture of at most `bells` bells of samples (n, d); deterministic."""
    rng = np.random.default_rng(0)
    data = np.asarray(samples, dtype=np.float64)
    if len(data) > _SAMPLE:
        data = data[rng.choice(len(data), _SAMPLE, replace=False)]
    count, depth = data.shape
    bells = max(1, min(bells, count // (5 * depth + 5)))
    spread = data.std(axis=0) + 1e-3
    # No bell is narrower than a few grey levels of noise would make it.
    floor = np.diag((0.02 + 0.05 * spread) ** 2)
    means = _spread_out(data / spread, bells, rng) * spread
    shares = np.zeros((count, bells))
    shares[np.arange(count), (((data[:, None] - means[None]) / spread) ** 2).sum(axis=2).argmin(axis=1)] = 1
    mixture = _maximise(data, shares, floor)
    for _ in range(_STEPS):
        _, logs = mixture._parts(data)
        shares = np.exp(logs - _log_sum(logs)[:, None])
        mixture = _maximise(data, shares, floor)
    return mixture


def _spread_out(data: Floats, bells: int, rng: np.random.Generator) -> Floats:
    """Starting means far from each other (k-means++, Arthur and Vassilvitskii 2007)."""
    chosen = [data[int(rng.integers(len(data)))]]
    while len(chosen) < bells:
        away = np.min([((data - mean) ** 2).sum(axis=1) for mean in chosen], axis=0)
        total = float(away.sum())
        chosen.append(data[int(rng.choice(len(data), p=away / total))] if total > 0 else data[0])
    return np.array(chosen)


def _maximise(data: Floats, shares: Floats, floor: Floats) -> Mixture:
    mass = shares.sum(axis=0)
    keep = mass > data.shape[1] + 1
    if not keep.any():
        keep = mass == mass.max()
    shares, mass = shares[:, keep], mass[keep]
    means = shares.T @ data / mass[:, None]
    whiten = []
    for k in range(len(mass)):
        apart = data - means[k]
        covariance = (apart * shares[:, k, None]).T @ apart / mass[k] + floor
        whiten.append(np.linalg.inv(np.linalg.cholesky(covariance)))
    return Mixture(mass / mass.sum(), means, np.array(whiten))


def _log_sum(logs: Floats) -> Floats:
    columns = [logs[:, k] for k in range(logs.shape[1])]
    most = functools.reduce(np.maximum, columns)
    total = np.zeros_like(most)
    for column in columns:
        total += np.exp(column - most)
    return np.asarray(most + np.log(total))
