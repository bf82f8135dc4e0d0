"""Gaussian mixtures against NumPy and SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import mahalanobis
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from nestplan.intake.photo.gaussian_mixture import GaussianMixture, fit_gaussian_mixture


def components(depth: int = 3) -> tuple[GaussianMixture, list[np.ndarray]]:
    """Three components far from the origin, and their covariances."""
    rng = np.random.default_rng(5)
    means = rng.normal(0, 2, (3, depth)) + 40
    roots = rng.normal(0, 0.4, (3, depth, depth)) + np.eye(depth)
    covariances = [root @ root.T for root in roots]
    whitening = np.array([np.linalg.inv(np.linalg.cholesky(c)) for c in covariances])
    return GaussianMixture(np.array([0.5, 0.3, 0.2]), means, whitening), covariances


@pytest.mark.parametrize(("kind", "near"), [(np.float64, 1e-9), (np.float32, 2e-3)])
def test_density_and_distance_are_those_of_scipy(kind: type, near: float) -> None:
    mixture, covariances = components()
    samples = np.random.default_rng(1).normal(40, 3, (200, 3)).astype(kind)
    pairs = list(zip(mixture.means, covariances, strict=True))
    logs = [multivariate_normal(mean, covariance).logpdf(samples) for mean, covariance in pairs]
    # SciPy's density has the constant of the dimension, which ours leaves out.
    expected = logsumexp(np.array(logs).T + np.log(mixture.weights), axis=1) + 1.5 * np.log(2 * np.pi)
    assert mixture.log_density(samples) == pytest.approx(expected, rel=near, abs=near)
    far = [[mahalanobis(s, m, np.linalg.inv(c)) ** 2 for m, c in pairs] for s in samples.astype(float)]
    assert mixture.distance(samples) == pytest.approx(np.min(far, axis=1), rel=near, abs=near)


def test_a_sample_in_a_shade_is_as_near_as_it_is_without() -> None:
    mixture, _ = components()
    samples = np.random.default_rng(2).normal(40, 3, (50, 3)).astype(np.float32)
    darkened = samples - np.array([0.6, 0, 0], dtype=np.float32)
    expected = np.minimum(mixture.distance(darkened), mixture.distance(samples))
    assert mixture.distance_as_lit(darkened, (0.0, 0.6)) == pytest.approx(expected, rel=2e-3, abs=2e-3)
    more = np.maximum(mixture.log_density(darkened), mixture.log_density(samples))
    assert mixture.log_density_as_lit(darkened, (0.0, 0.6)) == pytest.approx(more, rel=2e-3, abs=2e-3)


def test_a_mixture_finds_the_components_its_samples_came_from() -> None:
    rng = np.random.default_rng(8)
    centres = np.array([[0.0, 0.0], [5.0, 1.0], [-4.0, 6.0]])
    counts = [1500, 900, 600]
    samples = np.vstack([rng.normal(c, [0.5, 1.0], (n, 2)) for c, n in zip(centres, counts, strict=True)])
    found = fit_gaussian_mixture(samples, 3)
    order = [int(np.argmin(np.hypot(*(found.means - centre).T))) for centre in centres]
    assert sorted(order) == [0, 1, 2]
    assert found.means[order] == pytest.approx(centres, abs=0.15)
    assert found.weights[order] == pytest.approx(np.array(counts) / 3000, abs=0.02)
    assert found.component_shares(samples)[order] == pytest.approx(np.array(counts) / 3000, abs=0.02)


def test_few_samples_make_few_components() -> None:
    samples = np.random.default_rng(2).normal(0, 1, (20, 3))
    found = fit_gaussian_mixture(samples, 6)
    assert len(found.weights) == 1
    assert found.means[0] == pytest.approx(samples.mean(axis=0))
