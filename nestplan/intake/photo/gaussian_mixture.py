"""Mixtures of a few normal distributions: fitted to feature vectors, and asked how likely a sample is.

Expectation maximisation (Dempster, Laird and Rubin 1977), fixed seed, on a sample of at most a few thousand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["GaussianMixture", "fit_gaussian_mixture"]

_SAMPLE_SIZE = 3000
_STEPS = 8
_BLOCK_SIZE = 32_768
"""Samples whose densities are worked out at a time."""


@dataclass(frozen=True, eq=False)
class GaussianMixture:
    """`weights` (k,), `means` (k, d), `whitening` (k, d, d), lower triangles: whitening (x - mean) has unit
    covariance."""

    weights: Floats
    means: Floats
    whitening: Floats

    def distance(self, samples: NDArray[np.float32] | Floats) -> Floats:
        """Squared Mahalanobis distance (n,) of samples (n, d) to the nearest component."""
        peaks = (np.log(self.weights) + self._log_widths()).astype(samples.dtype)[:, None]
        return self._in_blocks(samples, lambda logs: np.maximum(-2 * (logs - peaks).max(axis=0), 0))

    def log_density(self, samples: NDArray[np.float32] | Floats) -> Floats:
        """Log density (n,) of samples (n, d), up to the constant of the dimension."""
        return self._in_blocks(samples, _log_sum_exp)

    def distance_as_lit(self, samples: NDArray[np.float32], shades: Sequence[float]) -> Floats:
        """As `distance`, of samples whose first value is a logarithm of brightness, under that of some shades
        (logarithms of a darkening) in which it is least."""
        least: Floats = reduce(np.minimum, [self.distance(lit) for lit in _lit(samples, shades)])
        return least

    def log_density_as_lit(self, samples: NDArray[np.float32], shades: Sequence[float]) -> Floats:
        """As `log_density`, under that of some shades in which it is greatest (see `distance_as_lit`)."""
        greatest: Floats = reduce(np.maximum, [self.log_density(lit) for lit in _lit(samples, shades)])
        return greatest

    def component_shares(self, samples: NDArray[np.float32] | Floats) -> Floats:
        """Share (k,) of the samples that each component explains best."""
        best = np.argmax(self._logs_of(samples), axis=0)
        return np.asarray(np.bincount(best, minlength=len(self.weights)) / max(len(best), 1))

    def restricted_to(self, keep: NDArray[np.bool_]) -> GaussianMixture:
        """The mixture of the kept components; all of them if none is kept."""
        if not keep.any():
            return self
        return GaussianMixture(
            self.weights[keep] / self.weights[keep].sum(), self.means[keep], self.whitening[keep]
        )

    def _in_blocks(
        self, samples: NDArray[np.float32] | Floats, answer: Callable[[NDArray[Any]], NDArray[Any]]
    ) -> Floats:
        """What `answer` makes (n,) of the components' log densities (k, n), asked for some samples at a time.

        The products of values of all pixels of a picture would take many times the picture's own memory.
        """
        if len(samples) <= _BLOCK_SIZE:
            return np.asarray(answer(self._logs_of(samples)))
        out = np.empty(len(samples), dtype=samples.dtype)
        for first in range(0, len(samples), _BLOCK_SIZE):
            part = slice(first, first + _BLOCK_SIZE)
            out[part] = answer(self._logs_of(samples[part]))
        return np.asarray(out)

    def _logs_of(self, samples: NDArray[np.float32] | Floats) -> NDArray[Any]:
        """Log densities (k, n) of each component, its weight included, of samples (n, d), in their precision."""
        # Among the components, where products lose least of that precision.
        middle: NDArray[Any] = (self.weights @ self.means).astype(samples.dtype)
        return self._logs(_monomials(samples - middle), middle)

    def _log_widths(self) -> Floats:
        # A triangle's determinant is the product of what lies on its diagonal.
        return np.asarray(np.log(np.diagonal(self.whitening, axis1=1, axis2=2)).sum(axis=1))

    def _logs(self, products: NDArray[Any], middle: NDArray[Any]) -> NDArray[Any]:
        """As `_logs_of`, of samples less `middle` (d,) as `_monomials`.

        Each is a square form in the sample, so all of them for all samples are one product of matrices.
        """
        inverse = np.swapaxes(self.whitening, 1, 2) @ self.whitening
        means = self.means - middle
        pulled = (inverse @ means[..., None])[..., 0]
        first, second, shares = _pairs(self.means.shape[1])
        square = inverse[:, first, second] * shares
        level = np.log(self.weights) + self._log_widths() - 0.5 * (pulled * means).sum(axis=1)
        return np.asarray(np.column_stack([square, pulled, level]).astype(products.dtype) @ products)


def _lit(samples: NDArray[np.float32], shades: Sequence[float]) -> Iterator[NDArray[np.float32]]:
    """Samples (n, d) as they would be without each of the shades."""
    for shade in shades:
        yield samples + np.array([shade, *[0] * (samples.shape[1] - 1)], dtype=samples.dtype)


def fit_gaussian_mixture(samples: NDArray[np.float32] | Floats, components: int) -> GaussianMixture:
    """A mixture of at most `components` components of samples (n, d); deterministic."""
    rng = np.random.default_rng(0)
    data = np.asarray(samples, dtype=np.float64)
    if len(data) > _SAMPLE_SIZE:
        data = data[rng.choice(len(data), _SAMPLE_SIZE, replace=False)]
    count, depth = data.shape
    components = max(1, min(components, count // (5 * depth + 5)))
    middle, spread = data.mean(axis=0), data.std(axis=0) + 1e-3
    # No component is narrower than a few grey levels of noise would make it.
    floor = np.diag((0.02 + 0.05 * spread) ** 2)
    scaled = np.ascontiguousarray((data / spread).T)
    starts = _spread_means(scaled, components, rng)
    # Squared distances less what all of a sample's have in common.
    nearest = ((starts**2).sum(axis=1)[:, None] - 2 * starts @ scaled).argmin(axis=0)
    component_shares = (nearest == np.arange(components)[:, None]).astype(np.float64)
    products = _monomials(data - middle)
    mixture = _maximisation_step(products, component_shares, middle, floor)
    for _ in range(_STEPS):
        logs = mixture._logs(products, middle)
        component_shares = np.exp(logs - logs.max(axis=0))
        component_shares /= component_shares.sum(axis=0)
        mixture = _maximisation_step(products, component_shares, middle, floor)
    return mixture


@cache
def _pairs(depth: int) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Which values (p,) are multiplied with which (p,), each pair once, and their shares (p,) in half a square form."""
    first, second = np.triu_indices(depth)
    return first, second, np.where(first == second, -0.5, -1.0)


def _monomials(samples: NDArray[Any]) -> NDArray[Any]:
    """Rows of all products of two values, the values, and 1 (d (d + 1) / 2 + d + 1, n) of samples (n, d)."""
    values = np.ascontiguousarray(samples.T)
    first, second, _ = _pairs(len(values))
    out = np.empty((len(first) + len(values) + 1, values.shape[1]), dtype=values.dtype)
    for row, (i, j) in enumerate(zip(first, second, strict=True)):
        np.multiply(values[i], values[j], out=out[row])
    out[len(first) : -1] = values
    out[-1] = 1
    return out


def _spread_means(data: Floats, components: int, rng: np.random.Generator) -> Floats:
    """Starting means (k, d) far from each other of data (d, n) (k-means++, Arthur and Vassilvitskii 2007)."""
    count = data.shape[1]
    chosen = [data[:, int(rng.integers(count))]]
    away = ((data - chosen[0][:, None]) ** 2).sum(axis=0)
    while len(chosen) < components:
        total = float(away.sum())
        chosen.append(data[:, int(rng.choice(count, p=away / total)) if total > 0 else 0])
        away = np.minimum(away, ((data - chosen[-1][:, None]) ** 2).sum(axis=0))
    return np.array(chosen)


def _maximisation_step(
    products: Floats, component_shares: Floats, middle: Floats, floor: Floats
) -> GaussianMixture:
    """The components of shares (k, n): their moments are one product of matrices."""
    depth = len(middle)
    mass = component_shares.sum(axis=1)
    keep = mass > depth + 1
    if not keep.any():
        keep = mass == mass.max()
    mass = mass[keep]
    moments = component_shares[keep] @ products.T / mass[:, None]
    means = moments[:, -1 - depth : -1]
    first, second, _ = _pairs(depth)
    covariance = np.empty((len(mass), depth, depth))
    covariance[:, first, second] = covariance[:, second, first] = moments[:, : len(first)]
    covariance += floor - means[:, :, None] * means[:, None, :]
    whitening = np.linalg.inv(np.linalg.cholesky(covariance))
    return GaussianMixture(mass / mass.sum(), means + middle, whitening)


def _log_sum_exp(logs: NDArray[Any]) -> NDArray[Any]:
    """Logarithm (n,) of the sum of exponentials of logs (k, n)."""
    most = logs.max(axis=0)
    return np.asarray(most + np.log(np.exp(logs - most).sum(axis=0)))
