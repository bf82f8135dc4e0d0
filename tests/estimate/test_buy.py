"""How much to buy: what purchases say, how sure that is, and that fresh purchases agree."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nestplan.errors import InputError, RuleError
from nestplan.estimate.buy import (
    BuyEstimate,
    Purchase,
    advice_for,
    buy,
    least_trials,
    purchase,
    safe_places,
    sure_share,
)
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
    return buy(JOB, KIND, trials=100, seed=1, planner=ByArea(0.6))


def test_more_leather_suffices_more_often(estimate: BuyEstimate) -> None:
    areas = [figure.area for figure in estimate.figures]
    hides = [figure.hides for figure in estimate.figures]
    assert areas == sorted(areas)  # type: ignore[type-var]
    assert hides == sorted(hides)  # type: ignore[type-var]
    for figure in estimate.figures:
        assert figure.area is not None
        assert figure.least_area <= figure.area
        assert figure.hides is not None
        assert figure.least_hides <= figure.hides
        assert figure.bought is not None
        assert figure.bought > figure.area
        assert figure.money == pytest.approx(figure.bought / FT2 * 8.0)


def test_a_figure_is_enough_in_more_of_its_own_trials_than_it_promises(estimate: BuyEstimate) -> None:
    for figure in estimate.figures:
        assert figure.area is not None
        enough = sum(each.suffices(figure.area) for each in estimate.purchases)
        assert sure_share(enough, len(estimate.purchases)) >= figure.share
        fewer = sum(each.short < figure.area for each in estimate.purchases)
        assert sure_share(fewer, len(estimate.purchases)) < figure.share


def test_the_advice_is_the_least_number_of_hides_that_is_surely_enough(estimate: BuyEstimate) -> None:
    advice = estimate.advice
    counts = [each.enough for each in estimate.purchases if each.enough is not None]
    assert (advice.share, advice.trials) == (0.90, 100)
    assert advice.enough == sum(count <= advice.hides for count in counts)
    assert advice.sure >= 0.90
    assert sure_share(sum(count < advice.hides for count in counts), 100) < 0.90
    assert advice.area == pytest.approx(advice.hides * KIND.area)
    assert advice.money == pytest.approx(advice.area / FT2 * 8.0)


def test_too_few_trials_advise_the_most_that_any_needed_and_say_how_sure_that_is() -> None:
    purchases = [_bought_at(number, hides) for number, hides in enumerate((2, 3, 2, 2, 3, 2, 2, 2, 2, 3))]
    advice = advice_for(0.90, purchases, KIND)
    assert (advice.hides, advice.enough) == (3, 10)
    assert advice.sure == pytest.approx(0.05 ** (1 / 10))
    assert advice_for(0.40, purchases, KIND).hides == 3  # 7 of 10 are only sure of 39 of 100
    assert advice_for(0.39, purchases, KIND).hides == 2
    assert least_trials(0.90) == 29
    assert sure_share(29, 29) >= 0.90 > sure_share(28, 28)


def test_the_sure_share_is_that_of_clopper_and_pearson() -> None:
    """Against the published form by beta quantiles, as scipy computes them."""
    from scipy.stats import beta

    for trials in (10, 40, 100, 400):
        for enough in range(1, trials + 1, 7):
            expected = beta.ppf(0.05, enough, trials - enough + 1)
            assert sure_share(enough, trials) == pytest.approx(expected, abs=1e-6)
    assert sure_share(0, 40) == 0.0


def test_of_a_hundred_estimates_at_least_ninety_five_keep_their_promise() -> None:
    """Estimates from many trials drawn of a large stock of purchases, held against the whole stock."""
    part = job_for_kind(JOB, KIND.kind)
    stock = [purchase((part, KIND, 9_999, number, False, ByArea(0.6))) for number in range(300)]
    enough = sorted(each.enough or math.inf for each in stock)
    shorts = np.sort([each.short for each in stock])
    chance = np.random.default_rng(1)
    advice_kept = figure_kept = 0
    for _ in range(1_000):
        trials = [stock[number] for number in chance.integers(0, len(stock), 60)]
        advice = advice_for(0.80, trials, KIND)
        advice_kept += np.searchsorted(enough, advice.hides, side="right") / len(stock) >= 0.80
        area = sorted(each.short for each in trials)[safe_places(0.80, 60)[1] - 1]
        figure_kept += np.searchsorted(shorts, area, side="right") / len(stock) >= 0.80
    # 950 are expected at least, with a standard deviation of 7.
    assert advice_kept >= 930
    assert figure_kept >= 930


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
    again = buy(JOB, KIND, trials=100, seed=1, planner=ByArea(0.6))
    assert again.figures == estimate.figures
    assert again.purchases == estimate.purchases


def test_other_numbers_of_sets_are_shared_out_in_the_ratio_of_the_job() -> None:
    both = replace_articles(
        (Article(name="a", sets=6, pieces=(PANEL,)), Article(name="b", sets=2, pieces=(_named("q"),)))
    )
    answer = buy(both, KIND, sets=4, trials=10, planner=ByArea(0.6))
    assert dict(answer.sets) == {"a": 3, "b": 1}


def test_a_piece_no_hide_holds_is_said() -> None:
    with pytest.raises(RuleError, match="too large"):
        buy(JOB, KIND, trials=10, planner=ByArea(0.01))
    with pytest.raises(InputError, match="too few"):
        buy(JOB, KIND, trials=5)


def test_order_statistics_cover_as_they_say() -> None:
    """By simulation: the two places hold the quantile between them as often as stated, each by itself."""
    chance = np.random.default_rng(4)
    trials, share, rounds = 60, 0.8, 4000
    values = np.sort(chance.random((rounds, trials)), axis=1)
    low, high = safe_places(share, trials)
    assert 0.95 <= (share <= values[:, high - 1]).mean() <= 0.98
    assert 0.95 <= (values[:, low - 1] <= share).mean() <= 0.98
    # One place less would not be safe.
    assert (share <= values[:, high - 2]).mean() < 0.95


def test_few_purchases_leave_the_high_figures_open() -> None:
    assert safe_places(0.95, 10)[1] == 11
    figures = buy(JOB, KIND, trials=10, planner=ByArea(0.6)).figures
    assert figures[2].area is None
    assert figures[2].hides is None
    assert figures[2].money is None
    assert math.isfinite(figures[2].least_area)


def replace_articles(articles: tuple[Article, ...]) -> Job:
    return Job(name="both", articles=articles)


def _named(name: str) -> Piece:
    return Piece(name=name, outline=PANEL.outline)


def _bought_at(number: int, hides: int) -> Purchase:
    return Purchase(number, (KIND.area,) * hides, hides, ())
