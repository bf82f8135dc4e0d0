"""Who goes with whom at the least cost."""

from __future__ import annotations

import itertools

import numpy as np

from nestplan.nesting.matching import exchanged


def test_every_thing_has_a_slot_of_its_own_and_no_exchange_of_two_pays() -> None:
    for seed in range(20):
        cost = np.random.default_rng(seed).random((9, 9))
        slot = exchanged(cost)
        assert sorted(slot.tolist()) == list(range(9))
        assert cost[np.arange(9), slot].sum() <= np.trace(cost) + 1e-12
        for i, j in itertools.combinations(range(9), 2):
            assert cost[i, slot[i]] + cost[j, slot[j]] <= cost[i, slot[j]] + cost[j, slot[i]] + 1e-6


def test_three_things_come_near_the_best_of_all_orders() -> None:
    for seed in range(20):
        where, slots = np.random.default_rng(seed).random((2, 6, 2))
        cost = np.hypot(*(where[:, None] - slots[None]).T).T
        best = min(sum(cost[i, k] for i, k in enumerate(way)) for way in itertools.permutations(range(6)))
        assert cost[np.arange(6), exchanged(cost)].sum() <= 1.2 * best


def test_nothing_is_exchanged_among_none_or_one() -> None:
    assert exchanged(np.zeros((0, 0))).tolist() == []
    assert exchanged(np.array([[3.0]])).tolist() == [0]
