"""Damage to bytes of any kind: what a bad disk, a cut-off copy or a stranger's editor makes of a file."""

from __future__ import annotations

import random

__all__ = ["damaged_bytes"]

_WORDS = (
    b"\x00",
    b"\xff",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\r",
    b"\n",
    b"nan",
    b"1e999",
    b"-1",
    b"9" * 40,
    b"&a;",
    b"[[[[",
    b"{{{{",
    b'"',
    b"null",
    b"\xed\xa0\x80",
    b"\xf0\x9f\x90\x84",
)


def damaged_bytes(content: bytes, chance: random.Random, *, most: int = 4) -> bytes:
    """The content with one to `most` places damaged."""
    made = bytearray(content)
    for _ in range(chance.randint(1, most)):
        if not made:
            break
        _DAMAGES[chance.randrange(len(_DAMAGES))](made, chance)
    return bytes(made)


def _flip(made: bytearray, chance: random.Random) -> None:
    made[chance.randrange(len(made))] ^= 1 << chance.randrange(8)


def _set(made: bytearray, chance: random.Random) -> None:
    made[chance.randrange(len(made))] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)))


def _word(made: bytearray, chance: random.Random) -> None:
    at, word = chance.randrange(len(made)), chance.choice(_WORDS)
    made[at : at + chance.choice((0, len(word)))] = word


def _delete(made: bytearray, chance: random.Random) -> None:
    at = chance.randrange(len(made))
    del made[at : at + chance.choice((1, 2, 4, chance.randint(1, 200)))]


def _copy(made: bytearray, chance: random.Random) -> None:
    at, other = chance.randrange(len(made)), chance.randrange(len(made))
    made[at:at] = made[other : other + chance.randint(1, 300)] * chance.choice((1, 1, 1, 30))


def _cut_off(made: bytearray, chance: random.Random) -> None:
    del made[chance.randrange(len(made)) :]


def _integer(made: bytearray, chance: random.Random) -> None:
    """A number of two or four bytes, as headers have them."""
    size = chance.choice((2, 4))
    value = chance.choice((0, 1, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF)) & (256**size - 1)
    at = chance.randrange(len(made))
    made[at : at + size] = value.to_bytes(size, chance.choice(("big", "little")))


_DAMAGES = (_flip, _flip, _set, _word, _word, _delete, _copy, _cut_off, _integer)
