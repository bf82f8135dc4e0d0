"""Whatever is typed after a command, it is done or told in words what is wrong; nothing is a fault of the program."""

from __future__ import annotations

import os
import random

import pytest

from tests.fuzz.command_lines import GOOD, commands, mutated_line
from tests.fuzz.typed import Ending, faults_of, typed_lines

pytestmark = [
    pytest.mark.security,
    pytest.mark.skipif(not os.path.exists("/proc/self/mem"), reason="names and limits are those of Linux"),
]


def test_every_command_but_the_window_has_a_good_line_to_begin_with() -> None:
    assert set(GOOD) == set(commands())


def test_lines_are_the_same_for_the_same_seed_and_differ_from_the_good_one() -> None:
    for name, given in commands().items():
        made = [mutated_line(name, given, random.Random(f"{name} {number}")) for number in range(20)]
        assert made == [mutated_line(name, given, random.Random(f"{name} {number}")) for number in range(20)]
        assert len({tuple(line) for line in made}) > 10


def test_nasty_lines_of_every_command_are_done_or_refused_in_words() -> None:
    endings = list(typed_lines(2 * len(GOOD), 11))
    assert [(ending.words, fault) for ending in endings for fault in faults_of(ending)] == []
    assert {ending.line[0] for ending in endings} == {name.split()[0] for name in GOOD}
    assert 10 < sum(ending.code == 2 for ending in endings) < len(endings)


def test_what_no_command_may_do_is_noticed() -> None:
    def faults(code: int = 0, output: str = "", errors: str = "", changed: tuple[str, ...] = ()) -> str:
        return "; ".join(faults_of(Ending(("fit", "x"), code, output, errors, 1.0, changed)))

    assert faults() == faults(2, errors="nestplan: No.") == ""
    assert "left with 1" in faults(1, errors="…")
    assert "left with -9" in faults(-9)
    assert "fault of its own" in faults(1, errors="nestplan met a fault of its own (…)")
    assert "steers" in faults(output="\x1b[31m")
    assert "silent" in faults(2)
    assert "changed a.json" in faults(2, errors="No.", changed=("a.json",))
    assert "letters" in faults(2, errors="No. " * 3000)
