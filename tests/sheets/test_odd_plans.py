"""Plans that nobody would draw by hand: long names, tiny and huge hides, no hide used, foreign letters."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.drawing.pages import Page
from nestplan.drawing.pdf import pdf_bytes
from nestplan.estimate.supplies import shopping_list
from nestplan.geometry.pose import Pose
from nestplan.model import Article, Hide, Job, Piece, Plan, Source
from nestplan.sheets.cut_sheet import cut_sheet_booklet
from nestplan.sheets.full_size import full_size_sheets
from nestplan.sheets.job_sheet import job_sheet_booklet
from nestplan.sheets.lesson_sheet import lesson_sheet_booklet
from nestplan.sheets.plan_pictures import plan_picture
from tests.sheets.looking import beyond, overprinted, words_of
from tests.sheets.pdf_reading import read_pdf
from tests.sheets.sample_plans import belt_plan, lay

LONG = "a name that someone has typed without end, " * 4 + "x" * 20


def all_pages(plan: Plan, job: Job, hides: tuple[Hide, ...]) -> list[Page]:
    return [
        *cut_sheet_booklet(plan, job, hides).pages,
        *full_size_sheets(job).booklet.pages,
        *job_sheet_booklet(job, shopping_list(job), plan=plan).pages,
        *lesson_sheet_booklet(plan, job, hides).pages,
    ]


def check(pages: list[Page]) -> None:
    for page in pages:
        assert beyond(page) == []
        assert overprinted(page.picture) == []


def renamed(name: str) -> tuple[Plan, Job, tuple[Hide, ...]]:
    """The belts with one name for every hide, region, article, piece and strip, numbered where they must differ."""
    plan, job, hides = belt_plan()

    def called(number: int) -> str:
        return f"{name[:190]} {number}"

    new_hides = tuple(
        msgspec.structs.replace(
            hide,
            name=called(n),
            leather=name[:200],
            regions=tuple(
                msgspec.structs.replace(region, name=called(k)) for k, region in enumerate(hide.regions)
            ),
        )
        for n, hide in enumerate(hides)
    )
    article = job.articles[0]
    pieces = {piece.name: called(n) for n, piece in enumerate(article.pieces)}
    strips = {strip.name: called(n + 50) for n, strip in enumerate(article.strips)}
    new_article = msgspec.structs.replace(
        article,
        name=name[:200],
        pieces=tuple(msgspec.structs.replace(piece, name=pieces[piece.name]) for piece in article.pieces),
        strips=tuple(msgspec.structs.replace(strip, name=strips[strip.name]) for strip in article.strips),
    )
    new_job = msgspec.structs.replace(job, name=name[:200], articles=(new_article,))
    names = {hide.name: new.name for hide, new in zip(hides, new_hides, strict=True)}
    placements = tuple(
        msgspec.structs.replace(
            placed,
            hide=names[placed.hide],
            piece=pieces.get(placed.piece, ""),
            strip=strips.get(placed.strip, ""),
        )
        for placed in plan.placements
    )
    new_plan = msgspec.structs.replace(
        plan,
        name=name[:200],
        job=Source(name=name[:200]),
        hides=tuple(Source(name=hide.name) for hide in new_hides),
        placements=placements,
        figures=None,
        unplaced=tuple(msgspec.structs.replace(each, strip=called(51)) for each in plan.unplaced),
    )
    return new_plan, new_job, new_hides


@pytest.mark.parametrize("name", [LONG, "W" * 200, "žluťoučký kůň · Ελληνικά · Кожа"])
@pytest.mark.security
def test_names_of_any_length_stay_on_the_page(name: str) -> None:
    plan, job, hides = renamed(name)
    check(all_pages(plan, job, hides))
    picture = plan_picture(plan, job, hides)
    assert beyond(picture, margin=3.0) == []
    assert overprinted(picture.picture) == []


@pytest.mark.security
def test_letters_that_the_font_lacks_do_not_stop_a_sheet() -> None:
    plan, job, hides = renamed("革ベルト 🐄")
    assert read_pdf(pdf_bytes(cut_sheet_booklet(plan, job, hides)))


@pytest.mark.parametrize("scale", [0.02, 40.0])
def test_hides_of_any_size_are_drawn(scale: float) -> None:
    side = 1000.0 * scale
    hide = Hide(name="h", leather="l", outline=((0, 0), (side, 0), (side, side), (0, side)))
    piece = Piece(name="p", outline=((0, 0), (0.4 * side, 0), (0.4 * side, 0.3 * side), (0, 0.3 * side)))
    job = Job(name="j", articles=(Article(name="a", sets=1, pieces=(piece,)),))
    placed = lay(job, hide, "p", "leather", Pose(0.1 * side, 0.1 * side, 10.0))
    plan = Plan(name="p", job=Source(name="j"), hides=(Source(name="h"),), placements=(placed,))
    check(cut_sheet_booklet(plan, job, (hide,)).pages)
    assert beyond(plan_picture(plan, job, (hide,)), margin=3.0) == []


def test_a_plan_that_uses_no_hide_still_has_a_picture() -> None:
    plan, job, hides = belt_plan()
    picture = plan_picture(msgspec.structs.replace(plan, placements=()), job, hides)
    assert any("Cow side A" in words for words in words_of(picture.picture))


def test_a_hide_that_is_all_cut_already_needs_no_table() -> None:
    plan, job, hides = belt_plan()
    done = tuple(msgspec.structs.replace(placed, done=True) for placed in plan.placements)
    check(cut_sheet_booklet(msgspec.structs.replace(plan, placements=done), job, hides).pages)
    words = " ".join(
        words
        for page in cut_sheet_booklet(msgspec.structs.replace(plan, placements=done), job, hides).pages
        for words in words_of(page.picture)
    )
    assert "already cut" in words
