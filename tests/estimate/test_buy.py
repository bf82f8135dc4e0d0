"""How much to buy: what purchases say, how sure that is, and that fresh purchases agree."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nestplan.errors import InputError, RuleError
from nestplan.estimate.buy import BuyEstimate, buy, order_interval, order_place, purchase
from nestplan.estimate.job_variants import job_for_kind
from nestplan.estimate.simulate import usual_kind
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from tests.estimate.stand_in import ByArea

FT2 = 92_903.04
# Without flaws hides are drawn faster, and a planner by area does not see them.
KIND = replace(usual_kind("sheep", price=8.0), flaws=(), area_spread=0.15)
PANEL = Piece(name="panel", outline=((0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0)))
JOB = Job(name="panels", articles=(Article(name="panel", sets=12, pieces=(PANEL,)),))


@pytest.fixture(scope="module")
def estimate() -> BuyEstimate:
    return buy(JOB, KIND, draws=100, seed=1, planner=ByArea(0.6))


def test_more_leather_suffices_more_often(estimate: BuyEstimate) -> None:
    areas = [figure.area for figure in estimate.figures]
    hides = [figure.hides for figure in estimate.figures]
    assert areas == sorted(areas)  # type: ignore[type-var]
    assert hides == sorted(hides)  # type: ignore[type-var]
    for figure in estimate.figures:
        assert figure.area is not None
        assert figure.area_range[0] <= figure.area
        assert figure.area_range[1] is None or figure.area <= figure.area_range[1]
        assert figure.bought is not None
        assert figure.bought > figure.area
        assert figure.money == pytest.approx(figure.bought / FT2 * 8.0)


def test_the_figure_suffices_in_the_share_of_its_own_purchases(estimate: BuyEstimate) -> None:
    for figure in estimate.figures:
        assert figure.area is not None
        enough = sum(each.suffices(figure.area) for each in estimate.purchases) / len(estimate.purchases)
        assert figure.share <= enough <= figure.share + 0.05


def test_fresh_purchases_agree_with_the_figure(estimate: BuyEstimate) -> None:
    part = job_for_kind(JOB, KIND.kind)
    fresh = [purchase((part, KIND, 99, number, False, ByArea(0.6))) for number in range(100)]
    figure = estimate.figures[1]
    assert figure.area is not None
    assert sum(each.suffices(figure.area) for each in fresh) / len(fresh) == pytest.approx(0.8, abs=0.1)


def test_a_purchase_finds_the_least_number_of_hides_that_is_enough(estimate: BuyEstimate) -> None:
    need = 12 * 0.12e6 / 0.6
    for each in estimate.purchases:
        assert each.enough is not None
        assert sum(each.areas[: each.enough]) >= need * 0.999
        assert each.short <= need * 1.001
        assert not each.suffices(each.short - 1.0) or each.short == 0.0


def test_the_first_purchases_tell_the_sets_at_every_number_of_hides(estimate: BuyEstimate) -> None:
    for each in estimate.purchases[:10]:
        assert each.enough is not None
        assert [hides for hides, _ in each.seen] == list(range(1, each.enough + 1))
    assert max(sets for _, sets in estimate.curve) == 12


def test_the_same_seed_gives_the_same_estimate(estimate: BuyEstimate) -> None:
    again = buy(JOB, KIND, draws=100, seed=1, planner=ByArea(0.6))
    assert again.figures == estimate.figures
    assert again.purchases == estimate.purchases


def test_other_numbers_of_sets_are_shared_out_in_the_ratio_of_the_job() -> None:
    both = replace_articles(
        (Article(name="a", sets=6, pieces=(PANEL,)), Article(name="b", sets=2, pieces=(_named("q"),)))
    )
    answer = buy(both, KIND, sets=4, draws=10, planner=ByArea(0.6))
    assert dict(answer.sets) == {"a": 3, "b": 1}


def test_a_piece_no_hide_holds_is_said() -> None:
    with pytest.raises(RuleError, match="too large"):
        buy(JOB, KIND, draws=10, planner=ByArea(0.01))
    with pytest.raises(InputError, match="too few"):
        buy(JOB, KIND, draws=5)


def test_order_statistics_cover_as_they_say() -> None:
    """By simulation: a new value passes the r-th of n, and the range holds the quantile, as often as stated."""
    chance = np.random.default_rng(4)
    draws, share, rounds = 60, 0.8, 4000
    values = np.sort(chance.random((rounds, draws)), axis=1)
    covered = values[:, order_place(share, draws) - 1].mean()
    assert share <= covered <= share + 1.0 / draws + 0.01
    low, high = order_interval(share, draws)
    inside = ((values[:, low - 1] <= share) & (share <= values[:, high - 1])).mean()
    assert 0.945 <= inside <= 0.985


def test_few_purchases_leave_the_high_figures_open() -> None:
    assert order_place(0.95, 10) == 11
    assert order_interval(0.95, 10)[1] == 11
    figures = buy(JOB, KIND, draws=10, planner=ByArea(0.6)).figures
    assert figures[2].area is None
    assert figures[2].hides is None
    assert figures[2].area_range[1] is None
    assert math.isfinite(figures[2].area_range[0])


def replace_articles(articles: tuple[Article, ...]) -> Job:
    return Job(name="both", articles=articles)


def _named(name: str) -> Piece:
    return Piece(name=name, outline=PANEL.outline)
