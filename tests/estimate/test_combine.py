"""The cheapest hides for a job, against every combination."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError, RuleError
from nestplan.estimate.combine import by_cost, cheapest, too_small
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Piece
from tests.estimate.stand_in import ByArea

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))


def _hide(name: str, side: float, price: float | None, leather: str = "cow") -> Hide:
    outline = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    return Hide(name=name, leather=leather, outline=outline, price=price)


def _job(sets: int) -> Job:
    return Job(
        name="squares",
        articles=(Article(name="square", sets=sets, pieces=(Piece(name="s", outline=SQUARE),)),),
    )


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=9))
def test_combinations_come_by_rising_cost_each_once(costs: list[float]) -> None:
    listed = list(by_cost(costs))
    assert len(listed) == 2 ** len(costs) - 1
    assert len({chosen for _, chosen in listed}) == len(listed)
    assert all(a[0] <= b[0] + 1e-9 for a, b in itertools.pairwise(listed))
    assert all(cost == pytest.approx(sum(costs[number] for number in chosen)) for cost, chosen in listed)


@settings(max_examples=6)
@given(st.integers(0, 10_000), st.integers(1, 60))
def test_the_cheapest_is_the_cheapest_of_all_combinations(seed: int, sets: int) -> None:
    chance = np.random.default_rng(seed)
    hides = [_hide(str(n), float(chance.uniform(200, 900)), float(chance.uniform(5, 60))) for n in range(5)]
    job, planner = _job(sets), ByArea(0.7)
    fitting = [
        sum(hide.price or 0.0 for hide in some)
        for size in range(1, 6)
        for some in itertools.combinations(hides, size)
        if not planner.plan(job, some, "complete").unplaced
    ]
    if not fitting:
        with pytest.raises(RuleError):
            cheapest(job, hides, planner=planner)
        return
    found = cheapest(job, hides, planner=planner)
    assert found.cost == pytest.approx(min(fitting))
    assert found.floor <= found.cost + 1e-9
    assert not found.plan.unplaced
    assert found.cost == pytest.approx(sum(hide.price or 0.0 for hide in hides if hide.name in found.hides))


def test_hides_without_a_price_are_weighed_by_their_area() -> None:
    hides = [_hide("large", 900.0, None), _hide("small", 500.0, 9.0), _hide("middle", 600.0, None)]
    found = cheapest(_job(14), hides, planner=ByArea(0.7))
    assert found.by_area
    assert found.hides == ("small",)
    assert found.cost == pytest.approx(250_000.0)


def test_layers_that_share_leather_are_bounded_together() -> None:
    front = Piece(name="front", outline=SQUARE, cuts=(LayerCut(layer="outer"), LayerCut(layer="lining")))
    job = Job(
        name="lined",
        articles=(Article(name="lined", sets=10, pieces=(front,)),),
        layers=(Layer(name="outer", leather=("cow",)), Layer(name="lining", leather=("cow", "goat"))),
    )
    cow, goat = _hide("cow", 400.0, 1.0), _hide("goat", 300.0, 1.0, "goat")
    assert too_small(job, [cow])
    assert not too_small(job, [cow, goat])
    assert too_small(job, [goat])


def test_a_rack_too_small_is_said_before_any_plan_is_made() -> None:
    with pytest.raises(RuleError, match="too small"):
        cheapest(_job(100), [_hide("a", 300.0, 3.0)], planner=ByArea())
    with pytest.raises(RuleError, match="1 tried"):
        cheapest(_job(12), [_hide(name, 300.0, 3.0) for name in "ab"], planner=ByArea(0.5), most_tries=9)
    with pytest.raises(InputError):
        cheapest(_job(1), [])
