"""A hide on its page: as large as it fits, its key below it, crowded numbers on details."""

from __future__ import annotations

import re

import msgspec
import numpy as np

from nestplan.drawing.booklet_builder import BookletBuilder
from nestplan.drawing.pages import MARGIN, Booklet, paper_named
from nestplan.drawing.primitives import Outline, bounds_of
from nestplan.geometry.pose import Pose
from nestplan.sheets import hide_pages
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_pages import add_hide, draw_planned_hide
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.looking import beyond, words_of
from tests.sheets.sample_plans import belt_plan, strip_at


def booklet_of(narrow: bool = False) -> tuple[Booklet, set[str]]:
    """The pages of the cow side; with many laces 3 mm wide, whose numbers find no room on the whole hide."""
    plan, job, hides = belt_plan()
    if narrow:
        article = job.articles[0]
        lace = msgspec.structs.replace(article.strips[0], width=3.0)
        thin = msgspec.structs.replace(article, strips=(lace, *article.strips[1:]))
        job = msgspec.structs.replace(job, articles=(thin,))
        strips = tuple(
            strip_at(job, hides[0], "waist strap", Pose(400.0 + 4.0 * n, 20.0 + 60.0 * n), copy=n + 1)
            for n in range(3)
        )
        plan = msgspec.structs.replace(plan, placements=strips, figures=None)
    builder = BookletBuilder(paper_named("a4").turned(), "Hide")
    steps = cutting_steps(plan, job, hides[0])
    add_hide(builder, plan, job, hides[0], steps, UnitFormatter("mm"))
    return builder.finish(), {step.label for step in steps}


def test_the_hide_is_drawn_at_the_scale_that_is_written_and_fills_its_page() -> None:
    booklet, _ = booklet_of()
    page = booklet.pages[0]
    ratio = float(re.search(r"drawn 1 : ([\d.]+)", " ".join(words_of(page.picture))).group(1))  # type: ignore[union-attr]
    xmin, ymin, xmax, ymax = bounds_of(item for item in page.picture.on("hide") if isinstance(item, Outline))
    _, _, hides = belt_plan()
    size = hides[0].ring.max(axis=0) - hides[0].ring.min(axis=0)
    assert np.allclose((xmax - xmin, ymax - ymin), size / ratio, rtol=0.01)
    assert xmax - xmin > 0.85 * (page.width - 2 * MARGIN) or ymax - ymin > 0.5 * page.height
    assert beyond(page) == []


def test_numbers_without_room_stand_on_detail_drawings() -> None:
    booklet, labels = booklet_of(narrow=True)
    assert len(booklet.pages) > 1
    told = [words for page in booklet.pages for words in words_of(page.picture)]
    assert any("stand on the detail drawings" in words for words in told)
    assert labels <= set(told)
    assert all(beyond(page) == [] for page in booklet.pages)


def test_a_hide_is_drawn_no_closer_than_its_crowded_numbers_ask(monkeypatch) -> None:
    drawn = []

    def noted(*args, ratio, **changes):
        drawing = draw_planned_hide(*args, ratio=ratio, **changes)
        drawn.append(len(drawing.crowded))
        return drawing

    monkeypatch.setattr(hide_pages, "draw_planned_hide", noted)
    booklet_of()
    # All that had no room on the whole hide have it on the first detail.
    assert drawn == [4, 0]
    drawn.clear()
    booklet_of(narrow=True)
    assert 2 <= len(drawn) <= 4
    assert all(crowded > 0 for crowded in drawn[:-1])
