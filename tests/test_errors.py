"""Errors in words: their lengths in mm or in inches, wherever they come from."""

from __future__ import annotations

import pickle

import pytest

from nestplan.errors import InputError, RuleError, told_length


def test_lengths_are_told_in_mm_until_they_are_asked_for_in_inches() -> None:
    error = RuleError(
        f"It is {told_length(127.0)} across.", mend=f"Take out at most {told_length(25.4)}.", place="size {L}"
    )
    assert str(error) == "size {L}: It is 127 mm across. Take out at most 25.4 mm."
    assert error.args == ("It is 127 mm across.",)
    assert str(error.told_in("in")) == "size {L}: It is 5 in across. Take out at most 1 in."


def test_names_and_other_words_stay_as_they_are_and_a_changed_mend_too() -> None:
    error = InputError(f"'{{5}} mm' is {told_length(12.7)} long.", mend="Make it shorter.")
    error.mend = "Take it out."
    assert str(error.told_in("in")) == "'{5} mm' is 0.5 in long. Take it out."
    assert str(error.told_in("mm")) == "'{5} mm' is 12.7 mm long. Take it out."


@pytest.mark.parametrize("units", ["mm", "in"])
def test_an_error_from_a_worker_process_can_still_be_told_in_another_unit(units: str) -> None:
    sent = pickle.loads(pickle.dumps(InputError(f"{told_length(254.0)} is too much.")))
    words = {"mm": "254 mm is too much.", "in": "10 in is too much."}
    assert str(sent.told_in(units)) == words[units]


@pytest.mark.security
@pytest.mark.parametrize(
    "words", ["\0x\0", "\0\0", "\x005 in\0", "\0٣\0", "\0e5\0", "x\0y\0\n\x001", "\x001__0\0"]
)
def test_words_from_a_file_are_no_lengths_whatever_signs_are_in_them(words: str) -> None:
    for units in ("mm", "in"):
        assert str(InputError(f"'{words}' is no number.").told_in(units)) == f"'{words}' is no number."


@pytest.mark.parametrize("mm", [0.0, -3.25, 1e-7, 1e22, 1e300, float("inf"), float("-inf"), float("nan")])
def test_every_length_is_told(mm: float) -> None:
    assert "\0" not in str(InputError(f"It is {told_length(mm)} long."))
