from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest

from nestplan.estimate.combine import Combination
from nestplan.estimate.compare import HideAnswer, compare
from nestplan.estimate.comparison_report import (
    answer_captions,
    combination_words,
    comparison_csv,
    comparison_json,
    money_words,
    pictured_answers,
)
from nestplan.model import Job, Layer, Plan, Source
from tests.estimate.stand_in import ByArea
from tests.small_jobs import one_piece_job, plain_hide

HIDES = (plain_hide("one"), plain_hide("two", price=None), plain_hide("goat", leather="goat skin"))
JOB = one_piece_job(sets=5, layers=(Layer(name="leather", leather=("cow side",)),))


@pytest.fixture(scope="module")
def answers() -> tuple[HideAnswer, ...]:
    return compare(JOB, HIDES, planner=ByArea())


def test_the_table_has_a_line_for_each_hide_best_first(answers: tuple[HideAnswer, ...]) -> None:
    rows = list(csv.DictReader(io.StringIO(comparison_csv(answers))))
    assert [row["rank"] for row in rows] == ["1", "2", "3"]
    assert [row["hide"] for row in rows] == [answer.hide for answer in answers]
    priced = next(row for row in rows if row["hide"] == "one")
    assert (priced["cost"], priced["sets"], priced["asked_sets"]) == ("100.0", "5", "5")
    assert next(row for row in rows if row["hide"] == "two")["cost"] == ""


def test_the_json_says_the_same_and_the_cheapest_hides(answers: tuple[HideAnswer, ...]) -> None:
    found = json.loads(comparison_json(answers, together()))
    assert [row["hide"] for row in found["hides"]] == [answer.hide for answer in answers]
    assert found["cheapest"]["hides"] == ["one", "two"]
    assert "cheapest" not in json.loads(comparison_json(answers, None))


def test_captions_and_pictures_follow_the_answers(answers: tuple[HideAnswer, ...]) -> None:
    by_name = {answer.hide: answer for answer in answers}
    assert answer_captions(by_name["one"], "mm")[1].startswith("80 dm², ")
    assert answer_captions(by_name["one"], "mm")[2:] == ("whole hide 100.00 EUR, 20.00 a set",)
    used = replace(by_name["one"], leather_cost=30.0, leather_cost_per_set=6.0)
    assert answer_captions(used, "mm")[3] == "leather used 30.00 EUR, 6.00 a set"
    assert answer_captions(by_name["two"], "in")[1].startswith("8.6 ft², ")
    assert len(answer_captions(by_name["two"], "in")) == 2
    assert answer_captions(by_name["goat"], "mm") == ("No layer of the job takes this leather.",)
    pictured = pictured_answers(answers, JOB, HIDES, "mm")
    assert [hide.name for hide, *_ in pictured] == [answer.hide for answer in answers]
    assert pictured[0][3] == f"1. {answers[0].hide}"
    assert isinstance(pictured[-1][1], Job)


def together(**changes: object) -> Combination:
    plan = Plan(name="p", job=Source(name="j"), hides=())
    values = {
        "hides": ("one", "two"),
        "cost": 150.0,
        "by_area": False,
        "currency": "EUR",
        "floor": 120.0,
        "plan": plan,
        "tried": 1,
        "cheaper_failed": 0,
    }
    return Combination(**{**values, **changes})


@pytest.mark.parametrize(
    ("failed", "sure"),
    [
        (0, "nothing cheaper is large enough"),
        (1, "one cheaper combination was planned and did not hold it; none under 120.00 EUR is large enough"),
        (3, "3 cheaper combinations were planned and did not hold it; none under 120.00 EUR is large enough"),
    ],
)
def test_how_sure_the_cheapest_is_stands_beside_it(failed: int, sure: str) -> None:
    words = combination_words(together(cheaper_failed=failed), "mm")
    assert words == f"Cheapest for the whole job: 'one' + 'two', 150.00 EUR of whole hides ({sure})."


def test_without_prices_the_least_leather_is_told_by_its_area() -> None:
    words = combination_words(together(by_area=True, cost=929_030.4, floor=929_030.4), "in")
    assert words.startswith("Least leather for the whole job: 'one' + 'two', 10 ft²")
    assert money_words(None, "EUR") == ""
    assert money_words(3.0, "") == "3.00"
