from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.drawing.booklet_builder import BookletBuilder, Column
from nestplan.drawing.pages import PAPERS, paper_named
from tests.sheets.looking import beyond, overprinted, words_of

cells = st.text("abcdefg hijkl mno", max_size=60)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(cells, cells, cells), max_size=60),
    st.sampled_from(["a4", "letter", "a3"]),
    st.booleans(),
)
def test_a_table_of_any_length_stays_within_the_margins(
    rows: list[tuple[str, str, str]], paper: str, lying: bool
) -> None:
    sheet = paper_named(paper)
    booklet = BookletBuilder(
        sheet.turned() if lying else sheet, "A title that is quite long, so that it may have to be cut " * 4
    )
    booklet.heading("Heading")
    booklet.table((Column("one", 1.0), Column("two", 2.0, "right"), Column("three", 1.0, "middle")), rows)
    booklet.bullets(["a point"], box=True)
    pages = booklet.finish().pages
    assert all(beyond(page) == [] for page in pages)
    assert all(overprinted(page.picture) == [] for page in pages)


def test_the_headings_of_a_table_stand_on_every_page() -> None:
    booklet = BookletBuilder(PAPERS["a4"], "title")
    booklet.table((Column("number", 1.0), Column("word", 3.0)), [[str(n), "word"] for n in range(200)])
    pages = booklet.finish().pages
    assert len(pages) > 3
    assert all(words_of(page.picture).count("number") == 1 for page in pages)
    found = [words for page in pages for words in words_of(page.picture) if words.isdigit()]
    assert found == [str(n) for n in range(200)]


def test_every_page_says_its_number_and_how_many_there_are() -> None:
    booklet = BookletBuilder(PAPERS["a4"], "title")
    booklet.open_page()
    booklet.open_page()
    pages = booklet.finish().pages
    assert [f"page {n} of 3" in words_of(page.picture) for n, page in enumerate(pages, start=1)] == [True] * 3


def test_a_block_that_does_not_fit_goes_to_the_next_page() -> None:
    booklet = BookletBuilder(PAPERS["a4"], "title")
    booklet.skip(200.0)
    box = booklet.reserve(100.0)
    assert len(booklet.pages) == 2
    assert box[3] - box[1] == 100.0
