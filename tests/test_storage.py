"""Names for files, and files written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.storage import file_stem, write_atomically


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Cow side: A/B", "cow-side-a-b"),
        ("  – –  ", "unnamed"),
        ("Kuhhälfte 3", "kuhhälfte-3"),
        ("left_over", "left-over"),
        ("../../up", "up"),
    ],
)
def test_a_stem_is_letters_digits_and_single_dashes(name: str, stem: str) -> None:
    assert file_stem(name) == stem


def test_a_stem_keeps_what_is_allowed_besides_and_has_a_word_for_nothing() -> None:
    assert file_stem("left_over", also="_") == "left_over"
    assert file_stem("…", unnamed="hide") == "hide"


def test_a_stem_of_a_long_name_is_cut_off() -> None:
    assert file_stem("x" * 300) == "x" * 80


def test_a_file_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    target = tmp_path / "a.json"
    target.write_bytes(b"old")
    write_atomically(target, b"new")
    assert target.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["a.json"]


def test_a_file_in_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write_atomically(tmp_path / "none" / "a.json", b"new")
