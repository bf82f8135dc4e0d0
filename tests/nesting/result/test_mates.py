"""Mates near each other: names change hands among equal pieces, nothing else does."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace

from nestplan.model import Piece
from nestplan.model.plan import Placement
from nestplan.nesting.result.mates import mates_near
from tests.small_jobs import HANDED, one_piece_job

JOB = one_piece_job(Piece(name="front", outline=HANDED, pair=True, mates_near=True), sets=8)


def scattered(seed: int, count: int) -> list[Placement]:
    """Lefts and rights at random places, named by chance."""
    rng = np.random.default_rng(seed)
    found = []
    for mirrored in (False, True):
        for number in range(count):
            x, y = rng.uniform(0.0, 1000.0, 2).tolist()
            ring = ((x, y), (x + 10.0, y), (x + 10.0, y + 10.0), (x, y + 10.0))
            copy = number + 1 + count * mirrored
            found.append(
                Placement(hide="h", piece="front", mirrored=mirrored, set=number + 1, copy=copy, x=x, y=y,
                          finished=ring, cut=ring)
            )  # fmt: skip
    return found


def mate_distances(placed: Sequence[Placement]) -> list[float]:
    """mm between the middles of every two mates of a set that lie on one hide."""
    sets: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    for placement in placed:
        if placement.piece:
            sets[placement.piece, placement.set].append(placement)
    found = []
    for mates in sets.values():
        for first, one in enumerate(mates):
            for other in mates[first + 1 :]:
                if one.hide == other.hide and (one.layer, one.mirrored) != (other.layer, other.mirrored):
                    found.append(float(np.hypot(*np.subtract(middle(one), middle(other)))))
    return found


def middle(placement: Placement) -> tuple[float, float]:
    ring = placement.finished_ring
    x, y = (ring.min(axis=0) + ring.max(axis=0)) / 2.0
    return float(x), float(y)


def test_each_exchange_is_of_names_alone():
    before = scattered(1, 8)
    after = mates_near(JOB, before)
    assert [replace(p, set=0, copy=0) for p in after] == [replace(p, set=0, copy=0) for p in before]
    assert sorted((p.mirrored, p.set, p.copy) for p in after) == sorted(
        (p.mirrored, p.set, p.copy) for p in before
    )


def test_mates_come_nearer_and_close_to_the_best_that_can_be():
    for seed in range(5):
        before = scattered(seed, 6)
        lefts = np.array([(p.x, p.y) for p in before if not p.mirrored])
        rights = np.array([(p.x, p.y) for p in before if p.mirrored])
        apart = np.linalg.norm(lefts[:, None] - rights[None, :], axis=2)
        least = min(sum(apart[i, k] for i, k in enumerate(way)) for way in itertools.permutations(range(6)))
        reached = sum(mate_distances(mates_near(JOB, before)))
        assert least - 1e-6 <= reached <= 1.15 * least
        assert reached <= sum(mate_distances(before)) + 1e-6


def test_what_is_kept_stays_and_counts_as_a_mate():
    placed = scattered(2, 4)
    kept, rest = placed[0], placed[1:]
    nearest = min((p for p in rest if p.mirrored), key=lambda p: np.hypot(p.x - kept.x, p.y - kept.y))
    rest = [replace(p, set=2) if p is nearest else replace(p, set=1) if p.mirrored and p.set == 2 else p
            for p in rest if p.mirrored]  # fmt: skip
    after = mates_near(JOB, rest, [kept])
    (mate,) = [p for p in after if p.set == 1 and (p.x, p.y) == (nearest.x, nearest.y)]
    assert mate.mirrored
