"""Damage to bytes of any kind: what a bad disk, a cut-off copy or a stranger's editor makes of a file."""

from __future__ import annotations

import gzip
import io
import random
import zipfile

__all__ = ["damaged_bytes", "disguised"]

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


_HEADS = (
    b"%PDF-1.7\n1 0 obj<</Type/Catalog>>endobj\n",
    b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic",
    b"\x89PNG\r\n\x1a\n",
    b"\xff\xd8\xff\xe0",
    b"GIF89a\x40\x01\x30\x01",
    b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
    b"AutoCAD Binary DXF\r\n\x1a\x00",
    b"AC1032\x00\x00\x00\x00\x00",
    b"SQLite format 3\x00",
    b"#!/bin/sh\n",
    b"<?xml version='1.0'?><!DOCTYPE html>",
    b"P6\n99999 99999\n255\n",
    b"\x7fELF\x02\x01\x01",
)
_ENCODINGS = ("utf-8-sig", "utf-16", "utf-16-le", "utf-32", "utf-7", "cp037", "latin-1", "shift-jis")
_ENDS = (b"\n", b"\r\n", b"\r", b"\n\r", b"\n\n", b"\x0b", b"\x85", b"\xe2\x80\xa8", b"")


def disguised(content: bytes, other: bytes, chance: random.Random) -> bytes:
    """The content in another dress: another encoding, mixed line ends, the head of another kind of file before it, in
    an archive, twice, with the `other` content around or in place of it."""
    return _DISGUISES[chance.randrange(len(_DISGUISES))](content, other, chance)


def _other_encoding(content: bytes, other: bytes, chance: random.Random) -> bytes:
    text = content.decode("utf-8", "replace")
    return text.encode(chance.choice(_ENCODINGS), "replace")


def _mixed_line_ends(content: bytes, other: bytes, chance: random.Random) -> bytes:
    return b"".join(line + chance.choice(_ENDS) for line in content.splitlines())


def _other_head(content: bytes, other: bytes, chance: random.Random) -> bytes:
    head = chance.choice(_HEADS)
    return head + content[chance.choice((0, len(head), len(content))) :]


def _twice(content: bytes, other: bytes, chance: random.Random) -> bytes:
    return content + chance.choice((b"", b"\n", b"\x00", b"\x00" * 5000)) + chance.choice((content, other))


def _swapped(content: bytes, other: bytes, chance: random.Random) -> bytes:
    return other


def _spliced(content: bytes, other: bytes, chance: random.Random) -> bytes:
    return content[: chance.randint(0, len(content))] + other[chance.randint(0, len(other)) :]


def _packed(content: bytes, other: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.5:
        made = gzip.compress(content, mtime=0)
    else:
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w") as archive:
            archive.writestr(zipfile.ZipInfo("../inside.json"), content)
        made = stream.getvalue()
    return made[: chance.choice((len(made), len(made) // 2))]


def _padded(content: bytes, other: bytes, chance: random.Random) -> bytes:
    pad = chance.choice((b" ", b"\n", b"\t", b"\x00", b"\xef\xbb\xbf", b"\xc2\xa0", b",")) * chance.choice(
        (1, 3, 70_000)
    )
    return pad + content if chance.random() < 0.6 else content + pad


_DISGUISES = (
    _other_encoding,
    _other_encoding,
    _mixed_line_ends,
    _mixed_line_ends,
    _other_head,
    _twice,
    _swapped,
    _spliced,
    _packed,
    _padded,
)
