"""Counting sets by kinds: what is whole, what is lacking, what is spare."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.set_targets import SetTargets


def two_articles() -> tuple[SetTargets, np.ndarray]:
    """Article 0: one of kind 0 and two of kind 1; article 1: one of kind 2. Three sets each."""
    kinds = np.array([0, 1, 1] * 3 + [2] * 3)
    size = np.where(kinds == 0, 50.0, np.where(kinds == 1, 10.0, 30.0))
    aim = SetTargets(kinds, ({0: 1, 1: 2}, {2: 1}), (3, 3), (3, 3), ({},), size, np.ones(12, bool))
    return aim, np.zeros(12, bool)


def test_a_set_is_whole_only_with_all_its_kinds():
    aim, on = two_articles()
    on[[0, 1, 3, 9]] = True
    assert aim.whole(on) == (0, 1)
    on[2] = True
    assert aim.whole(on) == (1, 1)


def test_what_lies_fixed_counts_too():
    aim, on = two_articles()
    held = SetTargets(aim.kinds, aim.needs, aim.asked, aim.most, ({0: 1, 1: 2},), aim.size, aim.able)
    assert held.whole(on) == (1, 0)


def test_the_article_that_lags_is_the_next_target():
    aim, on = two_articles()
    on[[9, 10]] = True
    assert aim.targets(on) == [0, 1]
    on[:9] = True
    assert aim.targets(on) == [1]


def test_lacking_names_one_item_for_each_missing_thing_largest_first():
    aim, on = two_articles()
    on[1] = True
    assert aim.lacking(on, 0) == [0, 2]


def test_spares_are_what_no_whole_set_and_no_target_needs():
    aim, on = two_articles()
    on[[0, 3, 6, 1]] = True
    assert aim.spares(on) == [0, 3, 6, 1]
    assert aim.spares(on, (0,)) == [3, 6]


def test_sets_outweigh_area():
    aim, on = two_articles()
    many = on.copy()
    many[[0, 3, 6]] = True
    whole = on.copy()
    whole[9] = True
    assert aim.merit(whole) > aim.merit(many)


def test_an_article_with_a_piece_that_no_hide_may_take_is_no_target():
    aim, on = two_articles()
    barred = SetTargets(aim.kinds, aim.needs, aim.asked, aim.most, aim.held, aim.size, aim.kinds != 1)
    assert barred.targets(on) == [1]
    assert 1 not in barred.kinds[list(barred.pieces_left(on))]
