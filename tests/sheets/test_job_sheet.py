from __future__ import annotations

import dataclasses

import msgspec
import pytest

from nestplan.estimate.supplies import shopping_list
from nestplan.model import Article, Job, Piece
from nestplan.sheets.job_sheet import job_sheet_booklet
from nestplan.sheets.lesson_sheet import lesson_sheet_booklet
from nestplan.sheets.work_steps import work_steps
from tests.sheets.looking import beyond, overprinted, words_of
from tests.sheets.sample_plans import belt_job, belt_plan


def priced() -> Job:
    job = belt_job()
    supplies = msgspec.structs.replace(
        job.supplies, prices={"thread": 0.12, "eyelet 5 mm": 0.08}, labour=20.0
    )
    return msgspec.structs.replace(job, supplies=supplies, machine_limit=3.2)


def words_on(pages: object) -> str:
    return " ".join(words for page in pages for words in words_of(page.picture))  # type: ignore[attr-defined]


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_no_page_has_words_over_words_or_beyond_the_margin(paper: str) -> None:
    plan, _, hides = belt_plan()
    job = priced()
    pages = [
        *job_sheet_booklet(job, shopping_list(job), plan=plan, paper=paper).pages,
        *lesson_sheet_booklet(plan, job, hides, paper=paper, units="in").pages,
    ]
    for page in pages:
        assert beyond(page) == []
        assert overprinted(page.picture) == []


def test_the_job_sheet_tells_counts_sizes_stacks_supplies_costs_and_cautions() -> None:
    job, plan = priced(), belt_plan()[0]
    shopping = shopping_list(job)
    words = words_on(job_sheet_booklet(job, shopping, plan=plan).pages)
    for needed in (
        "180 × 129 mm", "2 left + 2 right", "4 × punch 5 mm", "waist strap", "eyelet 5 mm", "thread", "glue", "lace",
        "Thickness when glued", "behind the blade", "182.00 EUR",
    ):  # fmt: skip
        assert needed in words
    assert plan.figures is not None
    assert plan.figures.cost is not None
    assert f"{plan.figures.cost + shopping.cost:.2f} EUR" in words
    assert "limit of the machine" in words


def test_what_has_no_price_is_named_as_not_counted() -> None:
    job = priced()
    assert "Without a price, and so not in the costs" in words_on(
        job_sheet_booklet(job, shopping_list(job)).pages
    )


def test_a_job_without_extras_gives_a_short_sheet() -> None:
    job = Job(
        name="j",
        articles=(
            Article(name="a", sets=1, pieces=(Piece(name="p", outline=((0, 0), (9, 0), (9, 9), (0, 9))),)),
        ),
    )
    pages = job_sheet_booklet(job, shopping_list(job)).pages
    assert "Nothing besides leather" in words_on(pages)
    names = [step.name for step in work_steps(job)]
    assert "Glue the layers" not in names
    assert "Lace" not in names
    assert "Cut the pieces" in names


def test_stacks_of_the_same_thickness_are_one_row() -> None:
    shopping = shopping_list(priced())
    front = dataclasses.replace(shopping.stacks[0], piece="front", warnings=())
    twice = dataclasses.replace(shopping, stacks=(front, dataclasses.replace(front, piece="back")))
    assert "front, back" in words_on(job_sheet_booklet(priced(), twice).pages)
