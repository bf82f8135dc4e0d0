"""The table of layers: read, written, edited, refused with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.intake.drawings.layers import (
    layer_roles,
    layer_table_text,
    read_layer_table,
    role_of,
    usual_layers,
)


def test_usual_words_are_known_in_any_case_and_the_users_table_goes_first() -> None:
    assert role_of("HOLES 3mm", None) == "hole"
    assert role_of("Backbone", None) == "backbone"
    assert role_of("layer 7", None) == ""
    assert role_of("Holes", {"hole*": "mark"}) == "mark"
    assert set(usual_layers().values()) <= set(layer_roles())


def test_a_table_written_for_a_drawing_reads_back_the_same(tmp_path: Path) -> None:
    path = tmp_path / "layers.csv"
    path.write_text(layer_table_text(["Cut, outer", "pen", "", "holes"]))
    table = read_layer_table(path)
    assert table == {"(none)": "", "Cut, outer": "", "holes": "hole", "pen": ""}
    path.write_text(path.read_text().replace("(none),", "(none),ignore"))
    assert role_of("", read_layer_table(path)) == "ignore"


@pytest.mark.parametrize(
    ("text", "line"),
    [("layer,role\na,outline\nb\n", 3), ("a,knife\n", 1), (",outline\n", 1), ("a,ignore\n" * 1001, 1001)],
)
def test_a_bad_table_is_refused_with_its_line(tmp_path: Path, text: str, line: int) -> None:
    path = tmp_path / "layers.csv"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_layer_table(path)
    assert caught.value.place == f"line {line}"
    assert caught.value.file == str(path)


def test_a_table_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "layers.csv"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="cannot be read"):
        read_layer_table(path)
    with pytest.raises(InputError, match="cannot be read"):
        read_layer_table(tmp_path / "none.csv")
