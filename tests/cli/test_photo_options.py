"""Messages about a photograph: neutral for the window, with the options for the command."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import nestplan.intake.photo
from nestplan.cli.photo_options import naming_options, with_options
from nestplan.errors import InputError


def test_no_message_about_a_photograph_names_an_option_of_the_command() -> None:
    folder = Path(nestplan.intake.photo.__file__).parent
    named = {
        path.name: re.findall(r"--[a-z-]+", path.read_text(encoding="utf-8"))
        for path in sorted(folder.glob("*.py"))
    }
    assert not {name: options for name, options in named.items() if options}


def test_the_command_adds_the_option_to_what_it_is_told_to_do() -> None:
    assert with_options("Give its four corners, or move.") == "Give its four corners (--corners), or move."
    told = with_options("If it is hide, point at it as hide; if it is floor, point at it as floor.")
    assert (
        told
        == "If it is hide, point at it as hide (--hide-at); if it is floor, point at it as floor (--floor-at)."
    )
    assert with_options("Take it again.") == "Take it again."


def test_errors_of_a_photograph_name_options_and_stay_errors() -> None:
    with pytest.raises(InputError) as told, naming_options():
        raise InputError("No reference was found.", mend="Give its four corners.", file="a.jpg")
    assert str(told.value) == "a.jpg: No reference was found. Give its four corners (--corners)."
