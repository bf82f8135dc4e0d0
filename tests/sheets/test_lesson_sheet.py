"""The lesson sheet: reasons and room for notes."""

from __future__ import annotations

import msgspec

from nestplan.model import Job
from nestplan.sheets.lesson_sheet import lesson_sheet_booklet
from nestplan.sheets.work_steps import work_steps
from tests.sheets.looking import words_of
from tests.sheets.sample_plans import belt_job, belt_plan


def priced() -> Job:
    job = belt_job()
    supplies = msgspec.structs.replace(
        job.supplies, prices={"thread": 0.12, "eyelet 5 mm": 0.08}, labour=20.0
    )
    return msgspec.structs.replace(job, supplies=supplies, machine_limit=3.2)


def words_on(pages: object) -> str:
    return " ".join(words for page in pages for words in words_of(page.picture))  # type: ignore[attr-defined]


def test_a_lesson_gives_reasons_and_room_for_notes_but_no_price() -> None:
    plan, _, hides = belt_plan()
    pages = lesson_sheet_booklet(plan, priced(), hides).pages
    words = words_on(pages)
    assert "Why:" in words
    assert "What goes wrong:" in words
    assert "Time planned:" in words
    assert "Tools for one person" in words
    assert "Why each piece is here: Cow side A" in words
    assert sum(len(page.picture.on("notes")) for page in pages) >= 20
    for money in ("EUR", "182", "price", "Cost", "0.12"):
        assert money not in words


def test_a_class_gets_as_many_tools_as_share_them() -> None:
    plan, job, hides = belt_plan()
    told = [
        words
        for page in lesson_sheet_booklet(plan, job, hides, class_size=9).pages
        for words in words_of(page.picture)
    ]
    assert "Tools for a class of 9" in told
    # One knife for each of nine, a mallet for two people: five.
    assert told[told.index("sharp knife") + 1 : told.index("sharp knife") + 3] == ["9", "each their own"]
    mallet = told.index("mallet and punching board")
    assert told[mallet + 1 : mallet + 3] == ["5", "one for 2"]


def test_the_lesson_has_the_same_steps_as_the_job_sheet() -> None:
    plan, job, hides = belt_plan()
    words = words_on(lesson_sheet_booklet(plan, job, hides).pages)
    for number, step in enumerate(work_steps(job), start=1):
        assert f"{number}. {step.name}" in words
