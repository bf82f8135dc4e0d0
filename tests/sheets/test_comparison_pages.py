"""Hides side by side with their plans: all on pages, at one scale."""

from __future__ import annotations

import pytest

from nestplan.drawing.pages import MARGIN, paper_named
from nestplan.drawing.primitives import Outline, bounds_of
from nestplan.estimate.simulate import simulate_hides, usual_kind
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from nestplan.model.plan import Placement, Plan, Source
from nestplan.sheets.comparison_pages import ComparedHide, comparison_booklet
from tests.sheets.looking import words_of

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))


JOB = Job(
    name="squares", articles=(Article(name="square", sets=1, pieces=(Piece(name="s", outline=SQUARE),)),)
)


def _plan(hide: Hide) -> Plan:
    ring = tuple((x + 400.0, y + 200.0) for x, y in SQUARE)
    placed = Placement(hide=hide.name, piece="s", finished=ring, cut=ring, x=400.0, y=200.0)
    return Plan(
        name="squares", job=Source(name="squares"), hides=(Source(name=hide.name),), placements=(placed,)
    )


def _compared(count: int) -> list[ComparedHide]:
    hides = simulate_hides(usual_kind("cow-side"), 3, count)
    return [
        ComparedHide(
            hide, JOB, _plan(hide) if number % 3 else None, f"{number + 1}. {hide.name}", ("a", "b", "c")
        )
        for number, hide in enumerate(hides)
    ]


@pytest.mark.parametrize(("count", "paper"), [(1, "a4"), (7, "a4"), (20, "letter")])
def test_every_hide_is_on_a_page_within_its_margin(count: int, paper: str) -> None:
    sheet = paper_named(paper)
    booklet = comparison_booklet(_compared(count), sheet, "squares: hides by sets")
    words = [word for page in booklet.pages for word in words_of(page.picture)]
    for number in range(count):
        assert f"{number + 1}. cow-side {number + 1}" in words
    for page in booklet.pages:
        xmin, ymin, xmax, ymax = bounds_of(page.picture)
        assert xmin >= MARGIN - 0.5
        assert ymin >= MARGIN - 0.5
        assert xmax <= sheet.width - MARGIN + 0.5
        assert ymax <= sheet.height - MARGIN + 0.5
    pictures = sum(
        len([i for i in page.picture.on("hide") if isinstance(i, Outline) and i.stroke])
        for page in booklet.pages
    )
    assert pictures == count


def test_all_hides_are_drawn_at_one_scale() -> None:
    compared = _compared(4)
    booklet = comparison_booklet(compared, paper_named("a4"), "squares")
    drawn = [
        item.rings[0]
        for page in booklet.pages
        for item in page.picture.on("hide")
        if isinstance(item, Outline) and item.stroke
    ]
    ratios = [
        (each.hide.ring[:, 0].max() - each.hide.ring[:, 0].min()) / (ring[:, 0].max() - ring[:, 0].min())
        for each, ring in zip(compared, drawn, strict=True)
    ]
    assert ratios == pytest.approx([ratios[0]] * 4)
