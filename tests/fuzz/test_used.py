"""Odd files that are read all the same are used by the commands without a fault."""

from __future__ import annotations

import os

import pytest

from tests.fuzz.typed import faults_of
from tests.fuzz.used import odd_files, used_files

pytestmark = [
    pytest.mark.security,
    pytest.mark.skipif(not os.path.exists("/proc/self/mem"), reason="limits are those of Linux"),
]


def test_odd_files_are_the_same_for_the_same_seed() -> None:
    first, again, other = odd_files("hide", 3), odd_files("hide", 3), odd_files("hide", 4)
    made = [next(first) for _ in range(5)]
    assert made == [next(again) for _ in range(5)]
    assert made != [next(other) for _ in range(5)]


def test_commands_on_odd_files_are_done_or_refused_in_words() -> None:
    all_used = list(used_files(4, 5))
    assert [(used.ending.words, fault) for used in all_used for fault in faults_of(used.ending)] == []
    assert {kind for used in all_used for kind in used.files} == {"hide", "job", "plan"}
    assert any(used.ending.code != 2 for used in all_used)
