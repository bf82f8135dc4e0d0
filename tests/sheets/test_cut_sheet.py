from __future__ import annotations

import msgspec
import pytest

from nestplan.drawing.pdf import pdf_bytes
from nestplan.drawing.primitives import Text
from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.sheets.cut_sheet import cut_sheet_booklet
from nestplan.sheets.cutting_order import cutting_steps
from tests.sheets.looking import beyond, colors, overprinted, words_of
from tests.sheets.sample_plans import belt_plan, layered_plan, many_plan, strip_at


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_nothing_is_cut_off_or_printed_over(paper: str, units: str) -> None:
    for page in cut_sheet_booklet(*belt_plan(), units=units, paper=paper).pages:  # type: ignore[arg-type]
        assert beyond(page) == []
        assert overprinted(page.picture) == []


def test_every_number_stands_on_a_drawing_and_in_the_table() -> None:
    plan, job, hides = belt_plan()
    pages = cut_sheet_booklet(plan, job, hides).pages
    drawn = {item.words for page in pages for item in page.picture.on("numbers") if isinstance(item, Text)}
    listed = {
        words
        for page in pages
        for item in page.picture.on("")
        if isinstance(item, Text)
        for words in [item.words]
    }
    for hide in hides:
        labels = {cut.label for cut in cutting_steps(plan, job, hide)}
        assert labels <= drawn
        assert labels <= listed


def test_even_a_lace_far_too_narrow_for_a_number_has_one_on_some_drawing() -> None:
    plan, job, hides = belt_plan()
    narrow = tuple(
        msgspec.structs.replace(strip, width=1.0, length=1100.0, source="edge")
        for strip in job.articles[0].strips[:1]
    )
    pieces = job.articles[0].pieces
    thin_job = msgspec.structs.replace(
        job,
        articles=(
            msgspec.structs.replace(
                job.articles[0], pieces=pieces, strips=(*narrow, *job.articles[0].strips[1:])
            ),
        ),
    )
    laces = [
        strip_at(thin_job, hides[0], "waist strap", Pose(300.0 + 5.0 * n, 700.0 + n), copy=n + 1)
        for n in range(5)
    ]
    thin = msgspec.structs.replace(
        plan, placements=(*laces, *(p for p in plan.placements if p.strip != "waist strap"))
    )
    pages = cut_sheet_booklet(thin, thin_job, hides).pages
    drawn = {item.words for page in pages for item in page.picture.on("numbers") if isinstance(item, Text)}
    assert {cut.label for cut in cutting_steps(thin, thin_job, hides[0])} <= drawn
    assert all(overprinted(page.picture) == [] for page in pages)


def test_crowded_places_get_a_detail_drawing() -> None:
    titles = [words for page in cut_sheet_booklet(*belt_plan()).pages for words in words_of(page.picture)]
    assert any("detail 1" in words for words in titles)


def test_the_figures_are_the_plans_own() -> None:
    plan, job, hides = belt_plan()
    assert plan.figures is not None
    odd = msgspec.structs.replace(plan.figures, net_yield=0.1234, cost=987.65)
    words = " ".join(
        words
        for page in cut_sheet_booklet(msgspec.structs.replace(plan, figures=odd), job, hides).pages
        for words in words_of(page.picture)
    )
    assert "12.3 %" in words
    assert "987.65 EUR" in words


def test_what_is_not_placed_is_told_with_its_reason_and_mend() -> None:
    words = [words for page in cut_sheet_booklet(*belt_plan()).pages for words in words_of(page.picture)]
    assert "Not placed" in words
    assert any("No clear area" in line for line in words)
    assert any("2.4 dm² more" in line for line in words)


def test_a_plan_without_figures_or_placements_still_gives_a_sheet() -> None:
    plan, job, hides = belt_plan()
    bare = msgspec.structs.replace(plan, figures=None, placements=(), unplaced=())
    pages = cut_sheet_booklet(bare, job, hides).pages
    assert len(pages) >= 1
    assert all(beyond(page) == [] for page in pages)


def test_inches_are_told_in_sixteenths() -> None:
    words = [
        words
        for page in cut_sheet_booklet(*belt_plan(), units="in").pages
        for words in words_of(page.picture)
    ]
    assert "15 3/4" in words
    assert any("ft²" in line for line in words)
    assert not any("dm²" in line for line in words if "more" not in line)


def test_the_cautions_and_the_definitions_are_on_it() -> None:
    words = " ".join(
        words for page in cut_sheet_booklet(*belt_plan()).pages for words in words_of(page.picture)
    )
    for needed in (
        "behind the blade", "away from yourself", "ventilate", "local rules and trained practice",
        "in pieces, in shapes"
    ):  # fmt: skip
        assert needed in words


def test_a_cut_sheet_is_black_and_grey_on_white() -> None:
    for page in cut_sheet_booklet(*belt_plan()).pages:
        assert page.background == "#ffffff"
        for color in colors(page.picture):
            assert len({color[1:3], color[3:5], color[5:7]}) == 1


def test_the_same_plan_gives_the_same_bytes() -> None:
    plan, job, hides = many_plan(40)
    assert pdf_bytes(cut_sheet_booklet(plan, job, hides)) == pdf_bytes(cut_sheet_booklet(plan, job, hides))


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(InputError, match="no paper called"):
        cut_sheet_booklet(*belt_plan(), paper="foolscap")


def test_what_is_done_inside_the_outlines_is_told_for_each_layer_of_the_hide() -> None:
    plan, job, hides = layered_plan()
    told = {}
    for hide in hides:
        only = tuple(placed for placed in plan.placements if placed.hide == hide.name)
        pages = cut_sheet_booklet(msgspec.structs.replace(plan, placements=only), job, hides).pages
        words = [words for page in pages for words in words_of(page.picture)]
        assert f"{hide.name}: inside the outlines" in words
        told[hide.name] = " ".join(words)
    outer, lining = (told[hide.name] for hide in hides)
    assert "1 × slit 22 mm (strap slit)" in outer
    assert "4 × punch 5 mm (eyelet 5 mm)" in outer
    assert "1 × mark (label)" not in outer
    assert "1 × mark (label)" in lining
    assert not any(word in lining for word in ("strap slit", "eyelet", "badge"))
