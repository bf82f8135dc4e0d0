"""Messages of what lies below the front ends are neutral; the command adds its options to them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import nestplan
from nestplan.cli.app import leave
from nestplan.cli.option_words import with_options
from nestplan.errors import InputError

PACKAGE = Path(nestplan.__file__).parent
NEUTRAL = ("estimate", "geometry", "intake", "model", "nesting", "sheets", "tasks", "yields")


def words_in(path: Path) -> Iterator[str]:
    """Every text of a module that is not a docstring."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.value


@pytest.mark.parametrize("folder", NEUTRAL)
def test_no_message_that_the_window_may_show_names_an_option_of_the_command(folder: str) -> None:
    paths = sorted((PACKAGE / folder).rglob("*.py"))
    assert paths
    named = {
        str(path.relative_to(PACKAGE)): options
        for path in paths
        if (
            options := [each for text in words_in(path) for each in re.findall(r"(?<!-)--[a-z][a-z-]*", text)]
        )
    }
    assert not named


def test_the_command_adds_the_option_to_what_it_is_told_to_do() -> None:
    assert with_options("Give its four corners, or move.") == "Give its four corners (--corners), or move."
    told = with_options("If it is hide, point at it as hide; if it is floor, point at it as floor.")
    assert (
        told
        == "If it is hide, point at it as hide (--hide-at); if it is floor, point at it as floor (--floor-at)."
    )
    assert with_options("Take it again.") == "Take it again."


def test_options_are_given_what_the_words_speak_of() -> None:
    told = with_options("Leave out the layer 'a frame', or give its layer the role outline if it is a piece.")
    assert told == (
        "Leave out the layer 'a frame' (--ignore-layer 'a frame'), or give its layer the role outline (--layers) "
        "if it is a piece."
    )
    told = with_options("Say of 'red rings' that they mean punch here, mark here or nothing.")
    assert "(--punch 'red rings', --mark 'red rings' or --ignore 'red rings')" in told


def test_errors_are_told_with_their_options(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        leave(InputError("No reference was found.", mend="Give its four corners.", file="a.jpg"), 2)
    assert left.value.code == 2
    said = capsys.readouterr().err
    assert said == "nestplan: a.jpg: No reference was found. Give its four corners (--corners).\n"
