"""Counting sets by kinds: what is whole, what is lacking, what is spare."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.set_targets import SetTargets


def two_articles() -> tuple[SetTargets, np.ndarray]:
    """Article 0: one of kind 0 and two of kind 1; article 1: one of kind 2. Three sets each."""
    kinds = np.array([0, 1, 1] * 3 + [2] * 3)
    size = np.where(kinds == 0, 50.0, np.where(kinds == 1, 10.0, 30.0))
    targets = SetTargets(kinds, ({0: 1, 1: 2}, {2: 1}), (3, 3), (3, 3), {}, size, np.ones(12, bool))
    return targets, np.zeros(12, bool)


def test_a_set_is_whole_only_with_all_its_kinds():
    targets, placed = two_articles()
    placed[[0, 1, 3, 9]] = True
    assert targets.whole(placed) == (0, 1)
    placed[2] = True
    assert targets.whole(placed) == (1, 1)


def test_what_lies_fixed_counts_too():
    targets, placed = two_articles()
    kept = SetTargets(
        targets.kinds,
        targets.needs,
        targets.asked,
        targets.most,
        {0: 1, 1: 2},
        targets.size,
        targets.placeable,
    )
    assert kept.whole(placed) == (1, 0)


def test_the_article_that_lags_is_the_next_target():
    targets, placed = two_articles()
    placed[[9, 10]] = True
    assert targets.targets(placed) == [0, 1]
    placed[:9] = True
    assert targets.targets(placed) == [1]


def test_lacking_names_one_item_for_each_missing_thing_largest_first():
    targets, placed = two_articles()
    placed[1] = True
    assert targets.lacking(placed, 0) == [0, 2]


def test_spares_are_what_no_whole_set_needs():
    targets, placed = two_articles()
    placed[[0, 3, 6, 1]] = True
    assert targets.spares(placed) == [0, 3, 6, 1]


def test_sets_outweigh_area():
    targets, placed = two_articles()
    many = placed.copy()
    many[[0, 3, 6]] = True
    whole = placed.copy()
    whole[9] = True
    assert targets.merit(whole) > targets.merit(many)


def test_an_article_with_a_piece_that_no_hide_may_take_is_no_target():
    targets, placed = two_articles()
    barred = SetTargets(
        targets.kinds,
        targets.needs,
        targets.asked,
        targets.most,
        targets.kept,
        targets.size,
        targets.kinds != 1,
    )
    assert barred.targets(placed) == [1]
    assert 1 not in barred.kinds[list(barred.pieces_left(placed))]
