"""The lens's distortion from what is straight in a room: boards, tiles, joints, table edges, skirting.

Each long chain of straight edges tells the distortion under
which it is straight (the plumb line method of Brown 1971, "Close-range camera calibration"). What many chains agree on
is the lens's; the hide's edge, which is curved in its own way, agrees with nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.camera import RadialDistortion
from nestplan.intake.photo.line_segments import straight_chains
from nestplan.intake.photo.reading import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["distortion_from_lines", "distortion_of_chains"]

_LARGEST_NOISE = 1.5
"""Root mean square, pixels, of a chain's points about its curve: the two edges of a joint are one chain."""
_CHAIN_SHARE = 0.28
"""Length of the shortest chain that is asked, as a share of the picture's diagonal."""
_LEAST_CHAINS, _AGREEING = 4, 0.5
"""How many chains must agree, and what share of all."""
_LEAST_ERROR, _LEAST_BEND_ERROR = 0.0025, 0.15
"""No distortion is believed to better than this, and no chain's bend (pixels) to better than that."""


def distortion_from_lines(photo: Photo) -> tuple[float, float] | None:
    """Distortion k (as `RadialDistortion`) and its standard error as long straight lines tell it, or None."""
    chains, size, _ = straight_chains(photo)
    return distortion_of_chains(chains, size)


def distortion_of_chains(chains: Sequence[Floats], size: tuple[int, int]) -> tuple[float, float] | None:
    """As `distortion_from_lines`, of chains (n, 2) of edge points in a picture of `size` pixels."""
    long = [chain for chain in chains if np.hypot(*np.ptp(chain, axis=0)) > _CHAIN_SHARE * np.hypot(*size)]
    agreed = None
    near = 0.0
    for _ in range(2):
        # A bend is nearly linear in k only near the k sought: once more from there.
        told = [answer for chain in long if (answer := _distortion_of_chain(chain, size, near)) is not None]
        agreed = _agreed(np.array(told).reshape(-1, 2))
        if agreed is None:
            return None
        near = agreed[0]
    return agreed


def _distortion_of_chain(chain: Floats, size: tuple[int, int], near: float) -> tuple[float, float] | None:
    """(k, standard error) under which a chain is straight, from its bend about k = `near`.

    None if it is not one line, or passes near the middle.
    """
    bends, errors = [], []
    centre, radius = ((size[0] - 1) / 2, (size[1] - 1) / 2), float(np.hypot(*size)) / 2
    for k in (near - 0.03, near + 0.03):
        straight = RadialDistortion(k, centre, radius).undistort(chain)
        middle = straight.mean(axis=0)
        axes = np.linalg.svd(straight - middle, full_matrices=False)[2]
        along, across = (straight - middle) @ axes[0], (straight - middle) @ axes[1]
        share = along / max(float(np.abs(along).max()), 1e-9)
        design = np.column_stack([np.ones(len(share)), share, share**2])
        answer, *_ = np.linalg.lstsq(design, across, rcond=None)
        noise = float(np.sqrt(((across - design @ answer) ** 2).mean()))
        if noise > _LARGEST_NOISE:
            return None
        # Neighbouring edge points share their errors: about one in ten is independent.
        covariance = np.linalg.inv(design.T @ design)[2, 2] * 10 * noise**2
        # The axis of the points is level: bends of opposite sign keep theirs.
        bends.append(float(answer[2]) * float(np.sign(axes[1] @ (middle - np.array(centre))) or 1.0))
        errors.append(max(float(np.sqrt(covariance)), _LEAST_BEND_ERROR))
    slope = (bends[1] - bends[0]) / 0.06
    if abs(slope) < 4:
        return None
    return (near - 0.03 - bends[0] / slope, max(errors) / abs(slope))


def _agreed(told: Floats) -> tuple[float, float] | None:
    """What most chains (k, standard error) agree on, and its standard error."""
    told = told[(told[:, 1] < 0.02) & (np.abs(told[:, 0]) < 0.28)]
    if len(told) < _LEAST_CHAINS:
        return None
    apart = np.abs(told[:, None, 0] - told[None, :, 0])
    near = apart < 2.5 * np.sqrt(told[:, None, 1] ** 2 + told[None, :, 1] ** 2 + _LEAST_ERROR**2)
    best = int(np.argmax(near.sum(axis=1)))
    kept = told[near[best]]
    if len(kept) < max(_LEAST_CHAINS, _AGREEING * len(told)):
        return None
    weight = 1 / (kept[:, 1] ** 2 + _LEAST_ERROR**2)
    k = float(weight @ kept[:, 0] / weight.sum())
    scatter = float(np.sqrt(weight @ (kept[:, 0] - k) ** 2 / weight.sum() / len(kept)))
    return k, max(float(1 / np.sqrt(weight.sum())), 1.5 * scatter, _LEAST_ERROR)
