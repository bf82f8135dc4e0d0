from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.lettering import font_file, shortened, text_width, wrapped

words = st.text(st.characters(codec="latin-1", exclude_categories=("Cc",)), max_size=60)


@given(words, st.floats(1.0, 8.0), st.booleans())
def test_a_width_is_the_sum_of_its_letters(text: str, size: float, bold: bool) -> None:
    one_by_one = sum(text_width(letter, size, bold) for letter in text)
    assert text_width(text, size, bold) == pytest.approx(one_by_one)


@given(words, st.floats(8.0, 80.0))
def test_wrapped_lines_fit_and_lose_no_letter(text: str, width: float) -> None:
    lines = wrapped(text, 3.0, width)
    assert all(text_width(line, 3.0) <= width or len(line) == 1 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_line_breaks_are_kept_and_an_empty_text_is_one_line() -> None:
    assert wrapped("one\ntwo three", 3.0, 100.0) == ["one", "two three"]
    assert wrapped("", 3.0, 100.0) == [""]


@given(words, st.floats(0.0, 60.0))
def test_a_shortened_text_fits(text: str, width: float) -> None:
    assert text_width(shortened(text, 3.0, width), 3.0) <= width + 1e-9


def test_the_fonts_and_their_licence_come_with_the_program() -> None:
    for bold in (False, True):
        assert font_file(bold).is_file()
    assert "Permission is hereby granted" in (font_file().parent / "LICENSE.txt").read_text(encoding="utf-8")


def test_letters_of_many_languages_are_in_the_font() -> None:
    missing = text_width("\U000f0000", 10.0)
    for letter in "äßøłąőşđžñçÞЖщΩβ°²½×–’↔⌀☐":
        assert text_width(letter, 10.0) > 0.0
    assert missing > 0.0
