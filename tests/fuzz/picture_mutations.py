"""Mutations of pictures that keep their form: chunks, segments and headers of PNG, JPEG, TIFF, WebP and BMP files."""

from __future__ import annotations

import random
import struct
import zlib

from tests.fuzz.byte_mutations import damaged_bytes

__all__ = ["mutated_picture"]

_PNG = b"\x89PNG\r\n\x1a\n"
_SIZES = (0, 1, 2, 299, 300, 301, 4096, 10_900, 20_000, 65_535, 65_536, 2**31 - 1, 2**31, 2**32 - 1)


def mutated_picture(content: bytes, chance: random.Random) -> bytes:
    """The picture with one to four changes to its parts, or to its bytes."""
    for _ in range(chance.choice((1, 1, 2, 3))):
        if content.startswith(_PNG):
            content = _other_png(content, chance)
        elif content.startswith(b"\xff\xd8"):
            content = _other_jpeg(content, chance)
        elif content[:2] in (b"II", b"MM"):
            content = _other_tiff(content, chance)
        elif content.startswith(b"RIFF"):
            content = _other_webp(content, chance)
        elif content.startswith(b"BM"):
            content = _other_head(content, chance, 54)
    if chance.random() < 0.3:
        content = damaged_bytes(content, chance, most=3)
    return content


def _other_head(content: bytes, chance: random.Random, length: int) -> bytes:
    """Another number among the first bytes."""
    made = bytearray(content)
    at = chance.randrange(2, min(length, max(len(made) - 4, 3)))
    made[at : at + 4] = struct.pack("<I", chance.choice(_SIZES))
    return bytes(made)


def _chunks(content: bytes) -> list[tuple[bytes, bytes]]:
    found, at = [], 8
    while at + 8 <= len(content):
        length = int.from_bytes(content[at : at + 4], "big")
        found.append((content[at + 4 : at + 8], content[at + 8 : at + 8 + length]))
        at += length + 12
    return found


def _other_png(content: bytes, chance: random.Random) -> bytes:
    chunks = _chunks(content)
    if not chunks:
        return content
    at = chance.randrange(len(chunks))
    kind = chance.randrange(8)
    if kind == 0:
        chunks[at] = (chunks[at][0], damaged_bytes(chunks[at][1], chance, most=2))
    elif kind == 1:
        del chunks[at]
    elif kind == 2:
        chunks.insert(chance.randrange(len(chunks) + 1), chunks[at])
    elif kind == 3:
        name = chance.choice(
            (b"IHDR", b"IDAT", b"PLTE", b"tRNS", b"iCCP", b"eXIf", b"acTL", b"fdAT", b"zTXt", b"abcd")
        )
        chunks[at] = (name, chunks[at][1])
    elif kind == 4:
        # A text that is a bomb when it is taken apart.
        bomb = zlib.compress(b"0" * chance.choice((10, 70_000_000)), 9)
        name = chance.choice((b"zTXt", b"iTXt", b"iCCP"))
        chunks.insert(1, (name, b"x\0" + (b"\x01\0\0\0" if name == b"iTXt" else b"\0") + bomb))
    elif kind == 5:
        size = struct.pack(">II", chance.choice(_SIZES), chance.choice(_SIZES))
        chunks[0] = (chunks[0][0], size + chunks[0][1][8:])
    elif kind == 6:
        form = bytes(
            (
                chance.choice((1, 2, 4, 8, 16, 32)),
                chance.choice((0, 2, 3, 4, 6, 7)),
                0,
                0,
                chance.choice((0, 1, 2)),
            )
        )
        chunks[0] = (chunks[0][0], chunks[0][1][:8] + form)
    else:
        # Of pixels that are all there, far more than the header says.
        chunks.insert(-1, (b"IDAT", zlib.compress(b"\0" * chance.choice((100, 50_000_000)), 9)))
    made = _PNG
    for name, data in chunks:
        check = zlib.crc32(name + data) if chance.random() < 0.98 else 0
        made += struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)
    return made


def _segments(content: bytes) -> list[tuple[int, bytes]]:
    found, at = [], 2
    while at + 4 <= len(content) and content[at] == 0xFF and content[at + 1] != 0xDA:
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        found.append((content[at + 1], content[at + 4 : at + 2 + length]))
        at += 2 + length
    found.append((0, content[at:]))
    return found


def _other_jpeg(content: bytes, chance: random.Random) -> bytes:
    segments = _segments(content)
    at = chance.randrange(len(segments))
    kind = chance.randrange(6)
    if kind <= 1:
        segments[at] = (segments[at][0], damaged_bytes(segments[at][1], chance, most=3))
    elif kind == 2 and len(segments) > 1:
        del segments[at]
    elif kind == 3:
        segments.insert(chance.randrange(len(segments)), segments[at])
    elif kind == 4:
        segments = [_other_frame(marker, data, chance) for marker, data in segments]
    else:
        marker = chance.choice((0xE0, 0xE1, 0xE2, 0xED, 0xEE, 0xFE, 0xC4, 0xDB, 0xDD, 0xC0, 0xC2, 0xD8))
        segments.insert(0, (marker, chance.randbytes(chance.choice((0, 1, 2, 14, 100)))))
    return b"\xff\xd8" + b"".join(
        bytes((0xFF, marker)) + struct.pack(">H", min(len(data) + 2, 0xFFFF)) + data if marker else data
        for marker, data in segments
    )


def _other_frame(marker: int, data: bytes, chance: random.Random) -> tuple[int, bytes]:
    """Another size in the head of the frame."""
    if marker not in (0xC0, 0xC1, 0xC2):
        return marker, data
    height, width = (min(chance.choice(_SIZES), 65_535) for _ in range(2))
    return marker, data[:1] + struct.pack(">HH", height, width) + data[5:]


def _other_tiff(content: bytes, chance: random.Random) -> bytes:
    order = "<" if content[:2] == b"II" else ">"
    made = bytearray(content)
    start = struct.unpack_from(order + "I", made, 4)[0] if len(made) >= 8 else 0
    if not 8 <= start <= len(made) - 2:
        return damaged_bytes(content, chance)
    count = struct.unpack_from(order + "H", made, start)[0]
    at = start + 2 + 12 * chance.randrange(max(1, min(count, 40)))
    if at + 12 > len(made):
        return damaged_bytes(content, chance)
    kind = chance.randrange(4)
    if kind == 0:
        struct.pack_into(order + "I", made, at + 8, chance.choice((*_SIZES, start, 8)))
    elif kind == 1:
        struct.pack_into(order + "I", made, at + 4, chance.choice(_SIZES))
    elif kind == 2:
        struct.pack_into(order + "H", made, at + 2, chance.randrange(15))
    else:
        tag = chance.choice(
            (256, 257, 258, 259, 262, 273, 277, 278, 279, 284, 317, 320, 322, 325, 338, 339, 347, 34665)
        )
        struct.pack_into(order + "H", made, at, tag)
    return bytes(made)


def _other_webp(content: bytes, chance: random.Random) -> bytes:
    made = bytearray(content)
    at = chance.choice((4, 12, 16, 20, 23, 26, 30))
    if at + 4 <= len(made):
        made[at : at + 4] = chance.choice(
            (b"VP8 ", b"VP8L", b"VP8X", b"ANIM", b"ANMF", b"EXIF", struct.pack("<I", chance.choice(_SIZES)))
        )
    return bytes(made)
