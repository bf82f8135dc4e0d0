"""Straight edges in a picture: edge points to a fraction of a pixel, linked to pieces, and those in one line to chains.

Edge points are where the gradient is greatest across itself (Canny 1986, "A computational approach to edge detection").
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.reading import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["straight_chains"]

_WIDTH = 1000
_SMOOTHING, _LEAST_STEP = 1.2, 3.0
"""Working width and smoothing, pixels, and the least step of grey (levels a pixel) that is an edge."""
_FAINT_WIDTH, _FAINT_SMOOTHING, _FAINT_STEP, _OVER_NOISE = 560, 2.5, 0.25, 3.2
"""The same for faint edges, which need wider means, and how many times the usual step of the picture, its noise
and texture, an edge must be then."""
_PIECE, _MOST_PIECES = 22, 600
"""Edge points of the shortest straight piece, and how many of the longest are used."""
_BIN = np.pi / 9
"""How far directions of one bin lie from its middle; the next bin's lies an eighth of a half turn on."""
_STRAIGHT = 0.5
"""Root mean square, pixels, of a piece's points about a line."""
_GAP, _TURN, _ASIDE = 70.0, np.radians(3.0), 2.0
"""How far apart, how much turned and how far aside the ends of two pieces of one line may be."""


def straight_chains(photo: Photo, *, faint: bool = False) -> tuple[list[Floats], tuple[int, int], int]:
    """Chains of edge points (n, 2) that lie in one line, the size of the picture they lie in, and how many pixels of
    the photo are one of its, along a side; `faint` ones too, as far as the picture's noise lets them be told."""
    grey, step = _small_grey(photo, _FAINT_WIDTH if faint else _WIDTH)
    points, labels = _straight_pieces(grey, faint=faint)
    chains = _chains(points, labels) if len(points) else []
    return chains, (grey.shape[1], grey.shape[0]), step


def _small_grey(photo: Photo, width: int) -> tuple[NDArray[np.float32], int]:
    from PIL import Image

    step = max(1, round(max(photo.size) / width))
    small = Image.fromarray(photo.image).reduce(step) if step > 1 else Image.fromarray(photo.image)
    return np.asarray(small, dtype=np.float32).mean(axis=2), step


def _straight_pieces(grey: NDArray[np.float32], *, faint: bool) -> tuple[Floats, NDArray[np.intp]]:
    """Edge points (n, 2), (column, row) to a fraction of a pixel, and the piece (n,) each belongs to."""
    from scipy import ndimage

    smoothing = _FAINT_SMOOTHING if faint else _SMOOTHING
    along_x = ndimage.gaussian_filter(grey, smoothing, order=(0, 1))
    along_y = ndimage.gaussian_filter(grey, smoothing, order=(1, 0))
    strength = np.hypot(along_x, along_y)
    least = (
        float(np.clip(_OVER_NOISE * np.median(strength), _FAINT_STEP, _LEAST_STEP)) if faint else _LEAST_STEP
    )
    rows, columns, direction, offset = _edge_points(along_x, along_y, strength, least)
    if len(rows) == 0:
        return np.empty((0, 2)), np.empty(0, dtype=np.intp)
    places = np.column_stack([columns, rows]) + offset
    found: list[tuple[Floats, NDArray[np.intp]]] = []
    # Bins of direction overlap, so that every line lies well inside one: noise turns its points by some degrees.
    for middle in np.arange(8) * np.pi / 8:
        apart = np.abs((direction - middle + np.pi / 2) % np.pi - np.pi / 2)
        chosen = np.flatnonzero(apart < _BIN)
        mask = np.zeros(grey.shape, dtype=bool)
        mask[rows[chosen], columns[chosen]] = True
        pieces, count = ndimage.label(mask, structure=np.ones((3, 3)))
        own = pieces[rows[chosen], columns[chosen]]
        sizes = np.bincount(own, minlength=count + 1)
        for number in np.flatnonzero(sizes >= _PIECE):
            members = chosen[own == number]
            found.append((places[members], members))
    return _without_bent(found)


def _edge_points(
    along_x: NDArray[np.float32], along_y: NDArray[np.float32], strength: NDArray[np.float32], least: float
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats, Floats]:
    """Rows, columns, direction of the edge (radians) and sub-pixel offset (n, 2) where the gradient is greatest, and
    at least `least`."""
    strength[[0, 1, -2, -1]] = 0
    strength[:, [0, 1, -2, -1]] = 0
    rows, columns = np.nonzero(strength > least)
    normal = np.column_stack([along_x[rows, columns], along_y[rows, columns]]).astype(np.float64)
    normal /= np.hypot(*normal.T)[:, None]
    step = np.rint(normal / np.abs(normal).max(axis=1)[:, None]).astype(int)
    here = strength[rows, columns]
    ahead = strength[rows + step[:, 1], columns + step[:, 0]]
    behind = strength[rows - step[:, 1], columns - step[:, 0]]
    top = (here > ahead) & (here >= behind)
    rows, columns, normal, step = rows[top], columns[top], normal[top], step[top]
    here, ahead, behind = here[top], ahead[top], behind[top]
    shift = 0.5 * (ahead - behind) / np.maximum(2 * here - ahead - behind, 1e-6)
    along = (step * normal).sum(axis=1)
    offset = normal * (np.clip(shift, -0.7, 0.7) * along)[:, None]
    return rows, columns, np.arctan2(normal[:, 0], -normal[:, 1]) % np.pi, offset


def _without_bent(found: list[tuple[Floats, NDArray[np.intp]]]) -> tuple[Floats, NDArray[np.intp]]:
    """The longest pieces that are straight, no point twice."""
    taken: set[int] = set()
    points: list[Floats] = []
    labels: list[NDArray[np.intp]] = []
    for places, members in sorted(found, key=lambda piece: -len(piece[1]))[: 2 * _MOST_PIECES]:
        if len(labels) == _MOST_PIECES:
            break
        if sum(int(member) in taken for member in members[::4]) > 0.3 * len(members[::4]):
            continue
        _, values, _ = np.linalg.svd(places - places.mean(axis=0), full_matrices=False)
        if values[1] / np.sqrt(len(places)) > _STRAIGHT + 0.002 * values[0] / np.sqrt(len(places)):
            continue
        taken.update(map(int, members))
        labels.append(np.full(len(places), len(labels)))
        points.append(places)
    if not points:
        return np.empty((0, 2)), np.empty(0, dtype=np.intp)
    return np.vstack(points), np.concatenate(labels)


def _chains(points: Floats, labels: NDArray[np.intp]) -> list[Floats]:
    """Points (n, 2) of pieces that continue each other, together."""
    starts = np.flatnonzero(np.diff(labels, prepend=-1))
    pieces = np.split(points, starts[1:])
    ends, ways = [], []
    for piece in pieces:
        middle = piece.mean(axis=0)
        way = np.linalg.svd(piece - middle, full_matrices=False)[2][0]
        along = (piece - middle) @ way
        ends.append([middle + way * along.min(), middle + way * along.max()])
        ways.append(way)
    end, way = np.array(ends), np.array(ways)
    turned = np.abs(way @ way.T) > np.cos(_TURN)
    linked = np.zeros((len(pieces), len(pieces)), dtype=bool)
    for a in (0, 1):
        for b in (0, 1):
            between = end[None, :, b] - end[:, None, a]
            outward = way * (1 if a == 1 else -1)
            ahead = (between * outward[:, None, :]).sum(axis=2)
            aside = np.abs(between[..., 0] * way[:, None, 1] - between[..., 1] * way[:, None, 0])
            linked |= turned & (ahead > -6) & (ahead < _GAP) & (aside < _ASIDE + 0.02 * np.maximum(ahead, 0))
    np.fill_diagonal(linked, False)
    linked &= linked.T
    return [np.vstack([pieces[k] for k in np.flatnonzero(chain)]) for chain in _joined(linked)]


def _joined(linked: NDArray[np.bool_]) -> Iterator[NDArray[np.bool_]]:
    """Who belongs together (n,), group after group, of those linked in pairs (n, n)."""
    free = np.ones(len(linked), dtype=bool)
    while free.any():
        group = np.zeros(len(linked), dtype=bool)
        newest = group.copy()
        newest[int(np.argmax(free))] = True
        while newest.any():
            group |= newest
            newest = linked[newest].any(axis=0) & ~group
        free &= ~group
        yield group
