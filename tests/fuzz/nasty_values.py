"""Values that files should not hold, and rings that are hard to read: what mutations put in place of good ones."""

from __future__ import annotations

import json
import math
import random
from typing import Any

__all__ = [
    "LITERALS",
    "TEXTS",
    "nasty_number",
    "nasty_number_text",
    "nasty_ring",
    "nasty_value",
    "number_of_copies",
]

_MOST_COPIED = 70_000_000
"""Bytes that copies of a part may come to: more than any reader takes, and no more than a machine makes in a second."""

TEXTS = (
    "",
    " ",
    "\0",
    "\n",
    "\r",
    "\u202eabc",
    "\ud800",
    "\udfff\ud800",
    "\uffff",
    "\u0000\u001b[2J",
    "<b>&amp;</b>",
    "]]>",
    "../../../../etc/passwd",
    "/dev/zero",
    "con",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "1e400 in",
    "1/0 in",
    "1 1/2 in",
    "0x10",
    "-3 ft",
    "5-6 oz",
    "1_000",
    "٣ mm",
    "½ in",
    "1 m2",
    "22 3/4",
    "9" * 400 + " mm",
    "1e-400 mm",
    "1 1/" + "9" * 300 + " in",
    "all",
    "grain",
    "through",
    "punch",
    "hide",
    "x" * 300,
    "W" * 70_000,
    "\u0301" * 500,
    "漢" * 200,
    "🐄" * 90,
)

_NUMBERS: tuple[float | int, ...] = (
    0,
    -0.0,
    1,
    -1,
    2,
    3,
    0.5,
    0.00004,
    0.00005,
    1e-9,
    1e-300,
    5e-324,
    99.99995,
    359.99999999,
    360,
    -90,
    1e3,
    49_999.99999,
    50_000.00001,
    1e5,
    1e6,
    1e9,
    1e12,
    1e16,
    1e154,
    1e155,
    1e300,
    1.7e308,
    2**31,
    2**32,
    2**53 + 1,
    2**63 - 1,
    2**63,
    2**64,
    -(2**63) - 1,
    10**30,
)

LITERALS = (
    "NaN",
    "Infinity",
    "-Infinity",
    "1e999",
    "-1e999",
    "1" + "0" * 5000,
    "0.1" + "0" * 400 + "1",
    "01",
    "1.",
)
"""Numbers as no library writes them, put into the text afterwards."""

_LITERAL_MARK = "@literal@"


def nasty_number(chance: random.Random) -> float | int:
    if chance.random() < 0.75:
        return chance.choice(_NUMBERS)
    return chance.choice((-1.0, 1.0)) * 10.0 ** chance.uniform(-12, 18)


def nasty_number_text(chance: random.Random) -> str:
    """A number for a format that is text."""
    if chance.random() < 0.25:
        return chance.choice((*LITERALS, "", "-", "1e", ".", "1,5", "0x7f", "+-1", "nan", "inf", "1e308"))
    return repr(nasty_number(chance))


def nasty_value(chance: random.Random, *, depth: int = 0) -> Any:
    """Anything that JSON can say, and a mark for what it cannot (see `json_text`)."""
    kind = chance.randrange(11)
    if kind <= 3:
        return nasty_number(chance)
    if kind <= 5:
        return chance.choice(TEXTS)
    if kind == 6:
        return chance.choice((None, True, False))
    if kind == 7:
        return [list(point) for point in nasty_ring(chance)]
    if kind == 8:
        return f"{_LITERAL_MARK}{chance.randrange(len(LITERALS))}"
    if depth > 2:
        return []
    inner = [nasty_value(chance, depth=depth + 1) for _ in range(chance.randrange(4))]
    if kind == 9:
        return inner
    return {chance.choice(("name", "at", "outline", "type", "x", "")): each for each in inner}


def json_text(value: Any) -> str:
    """The value as JSON, with its marks replaced by the literals they stand for."""
    text = json.dumps(value)
    for number, literal in enumerate(LITERALS):
        text = text.replace(f'"{_LITERAL_MARK}{number}"', literal)
    return text


def nasty_ring(chance: random.Random) -> list[tuple[float, float]]:
    """Points (n, 2), mm, of a ring that crosses or touches itself, has no area, is far away, or has many points."""
    size = 10.0 ** chance.uniform(-3, 6) if chance.random() < 0.3 else 300.0
    count = chance.choice((0, 1, 2, 3, 4, 5, 8, 30, 30, 300, 3000))
    return _scaled(_SHAPES[chance.randrange(len(_SHAPES))](chance, count), size, chance)


def _scaled(ring: list[tuple[float, float]], size: float, chance: random.Random) -> list[tuple[float, float]]:
    shift = chance.choice((0.0, 0.0, 500.0, 1e5, -1e9))
    return [(x * size + shift, y * size) for x, y in ring]


def _random_points(chance: random.Random, count: int) -> list[tuple[float, float]]:
    return [(chance.random(), chance.random()) for _ in range(count)]


def _star(chance: random.Random, count: int) -> list[tuple[float, float]]:
    """A polygon that goes round several times."""
    turns = chance.randrange(1, max(2, count // 2))
    angles = [2.0 * math.pi * turns * number / max(count, 1) for number in range(count)]
    return [(math.cos(angle), math.sin(angle)) for angle in angles]


def _walk(chance: random.Random, count: int) -> list[tuple[float, float]]:
    x = y = 0.0
    found = []
    for _ in range(count):
        x, y = x + chance.gauss(0, 0.05), y + chance.gauss(0, 0.05)
        found.append((x, y))
    return found


def _comb(chance: random.Random, count: int) -> list[tuple[float, float]]:
    thin = 10.0 ** chance.uniform(-9, 0)
    return [(number * thin, float(number % 2)) for number in range(count)] + [
        (count * thin, -0.1),
        (0.0, -0.1),
    ]


def _near(chance: random.Random, count: int) -> list[tuple[float, float]]:
    """Points almost upon each other."""
    return [
        (x + chance.choice((0.0, 1e-8, 1e-5)), y) for x, y in _star(chance, max(count, 3)) for _ in range(2)
    ]


def _line(chance: random.Random, count: int) -> list[tuple[float, float]]:
    return [(chance.random(), 0.0) for _ in range(count)]


def _spiral(chance: random.Random, count: int) -> list[tuple[float, float]]:
    out = [
        (number * math.cos(0.3 * number), number * math.sin(0.3 * number)) for number in range(1, count + 1)
    ]
    back = [(x * 1.0001, y * 1.0001) for x, y in reversed(out)]
    return [(x / (count + 1), y / (count + 1)) for x, y in out + back]


_SHAPES = (_random_points, _star, _walk, _comb, _near, _line, _spiral)


def number_of_copies(wanted: int, size: int) -> int:
    """So many copies of a part of `size` bytes as are wanted, or as stay a file and not a flood; at least one."""
    return max(1, min(wanted, _MOST_COPIED // max(size, 1)))
