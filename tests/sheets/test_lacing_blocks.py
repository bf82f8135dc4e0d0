"""What the sheets say of lacing: the range, each join with its lace, and nothing where nothing is laced."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.estimate.supplies import shopping_list
from nestplan.model import Job
from nestplan.sheets.job_sheet import job_sheet_booklet
from nestplan.sheets.lacing_blocks import edge_words, join_words, range_words
from nestplan.sheets.lesson_sheet import lesson_sheet_booklet
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.looking import beyond, overprinted, words_of
from tests.sheets.sample_plans import belt_plan
from tests.small_jobs import laced_job, plan_of


def _pages(job: Job, paper: str = "a4") -> list[object]:
    plan = plan_of(job, [], [])
    return [
        *job_sheet_booklet(job, shopping_list(job), paper=paper).pages,
        *lesson_sheet_booklet(plan, job, [], paper=paper, units="in").pages,
    ]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("path", ["criss-cross", "straight bar", "ladder", "spiral"])
def test_no_page_has_words_over_words_or_beyond_the_margin(paper: str, path: str) -> None:
    for page in _pages(laced_job(path=path, widest=60.0), paper):
        assert beyond(page) == []  # type: ignore[arg-type]
        assert overprinted(page.picture) == []  # type: ignore[attr-defined]


def test_job_and_lesson_sheet_tell_the_range_the_joins_and_the_lace() -> None:
    job = laced_job(widest=60.0)
    for pages in (_pages(job)[:3], _pages(job)[3:]):
        words = " ".join(words for page in pages for words in words_of(page.picture))  # type: ignore[attr-defined]
        assert "Lacing" in words
        assert "before" in words
    told = " ".join(words for page in _pages(job) for words in words_of(page.picture))  # type: ignore[attr-defined]
    assert "490 mm round with its joins closed to 540 mm at their widest, 510 mm as worn" in told
    assert f"Lace {job.strip('lace').length:.0f} mm (lace), with 100 mm at each end, tied in a bow" in told
    assert "first end: left 1, right 1, left 2".capitalize() in told


def test_nothing_is_said_of_lacing_where_nothing_is_laced() -> None:
    plan, job, hides = belt_plan()
    pages = lesson_sheet_booklet(plan, job, hides).pages
    assert "Lacing" not in [words for page in pages for words in words_of(page.picture)]


def test_a_join_is_told_in_the_unit_of_the_job() -> None:
    job = laced_job(gap=25.4, widest=50.8, closed=0.0, tail=152.4)
    article = job.articles[0]
    lines = join_words(article, job.worked_joins(article)[0], UnitFormatter("in"))
    assert lines[0] == "before: front to its mate, criss-cross, 6 pairs of holes."
    assert "Between the edges 0 in closed, 1 in as worn, 2 in at the widest." in lines[1]
    assert "with 6 in at each end" in lines[2]


def test_what_is_not_known_is_said() -> None:
    job = laced_job()
    unknown = tuple(msgspec.structs.replace(layer, thickness=None) for layer in job.layers)
    article = msgspec.structs.replace(job.articles[0], strips=())
    bare = msgspec.structs.replace(job, articles=(article,), layers=unknown)
    formatter = UnitFormatter()
    told = join_words(article, bare.worked_joins(article)[0], formatter)
    assert "no strip of the job is for it" in told[2]
    assert "thickness of a layer is not stated" in told[3]
    assert (
        "thickness of a layer is not stated"
        in edge_words(article, bare.worked_edges(article)[0], formatter)[-1]
    )
    panels = tuple(msgspec.structs.replace(piece, around=()) for piece in article.pieces)
    assert range_words(msgspec.structs.replace(article, pieces=panels), formatter) == ""
