"""What an estimate of leather to buy says: the advice first, and only what the trials bear out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nestplan.estimate.buy import BuyAdvice, BuyEstimate, BuyFigure, buy
from nestplan.estimate.buying_report import (
    advice_words,
    area_to_pass,
    buying_notes,
    buying_table,
    mark_words,
    wanted_words,
)
from nestplan.estimate.simulate import usual_kind
from nestplan.geometry.units import show_area
from tests.estimate.stand_in import ByArea
from tests.small_jobs import one_piece_job

FT2 = 92_903.04
KIND = replace(usual_kind("cow-side", area=22 * FT2, price=9.0, currency="EUR"), flaws=())


def show(mm2: float) -> str:
    return show_area(mm2, "ft2", decimals=1)


@pytest.fixture(scope="module")
def estimate() -> BuyEstimate:
    return buy(one_piece_job(sets=9), KIND, trials=30, curve_trials=0, planner=ByArea(0.6))


def advised(estimate: BuyEstimate, **changes: object) -> str:
    advice = BuyAdvice(0.9, 1, 100, 100, 0.97, 22 * FT2, None)
    return advice_words(replace(estimate, advice=replace(advice, **changes)), show)  # type: ignore[arg-type]


def test_the_advice_names_number_kind_size_and_how_often_it_is_enough(estimate: BuyEstimate) -> None:
    assert advised(estimate) == (
        "Buy 1 cow side of about 22 ft²: enough in 100 of 100 trials, so in 9 of 10 purchases or more (95 % sure)."
    )
    assert advised(estimate, hides=3, enough=97, area=66 * FT2, money=594.0, share=0.85).startswith(
        "Buy 3 cow sides of about 22 ft² each, 66 ft² together, for about 594.00 EUR: enough in 97 of 100 trials, "
        "so in 85 of 100 purchases or more"
    )


def test_few_trials_promise_less_and_say_what_it_would_take(estimate: BuyEstimate) -> None:
    words = advised(estimate, enough=12, trials=12, sure=0.779)
    assert "enough in 12 of 12 trials. So few trials make that sure for 77 of 100 purchases only" in words
    assert words.endswith("for 9 of 10 it takes 29 trials or more.")
    assert "nothing up to 60 hides was" in advised(estimate, enough=40, trials=100, sure=0.31)


def test_the_table_is_in_plain_words_and_leaves_open_what_cannot_be_said(estimate: BuyEstimate) -> None:
    rows = buying_table(estimate, show)
    assert [row[0] for row in rows] == [
        "enough in", "5 of 10 purchases", "8 of 10 purchases", "95 of 100 purchases",
    ]  # fmt: skip
    assert rows[1][4].endswith("EUR")
    # All of 30 are enough: that is sure for 90 of 100 only.
    assert rows[3][1:] == ["takes 59 trials or more to say", "", "", ""]
    assert len({len(row) for row in rows}) == 1


def test_an_area_of_nothing_is_one_hide_whichever_it_is() -> None:
    figure = BuyFigure(0.95, 0.0, 0.0, 1, 1, None, None)
    assert area_to_pass(figure, show) == "1 hide, whichever it is"
    assert mark_words(replace(figure, area=20 * FT2), show) == "enough in 95 of 100 purchases: 20 ft²"
    assert area_to_pass(replace(figure, area=None), show) == "not known"


def test_what_the_figures_rest_on_stands_below(estimate: BuyEstimate) -> None:
    notes = buying_notes(estimate, show)
    assert "30 trials on simulated hides, seed 0, planned with by area." in notes[2]
    assert notes[3:] == list(KIND.words)
    assert wanted_words(estimate, show).startswith("For 9 × ")
