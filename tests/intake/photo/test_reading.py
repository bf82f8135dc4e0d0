"""What `read_photo` makes of files: upright pictures, and clear words for those that cannot serve."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from nestplan.errors import InputError
from nestplan.intake.photo.reading import read_photo


def picture(width: int = 400, height: int = 320) -> Image.Image:
    """A picture whose upper left corner is red, the rest a ramp of grey."""
    values = np.zeros((height, width, 3), dtype=np.uint8)
    values[...] = np.linspace(40, 200, width, dtype=np.uint8)[None, :, None]
    values[: height // 4, : width // 4] = (250, 10, 10)
    return Image.fromarray(values)


def test_a_picture_is_read_as_it_is(tmp_path: Path) -> None:
    picture().save(tmp_path / "a.png")
    photo = read_photo(tmp_path / "a.png")
    assert photo.size == (400, 320)
    assert photo.reduction == 1
    assert np.array_equal(photo.image, np.asarray(picture()))


@pytest.mark.parametrize(
    ("orientation", "corner"),
    [(1, "upper left"), (3, "lower right"), (6, "upper right"), (8, "lower left"), (2, "upper right")],
)
def test_a_picture_taken_sideways_is_turned_upright(tmp_path: Path, orientation: int, corner: str) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture().save(tmp_path / "a.jpg", quality=95, exif=exif)
    photo = read_photo(tmp_path / "a.jpg")
    height, width = photo.image.shape[:2]
    rows = 20 if "upper" in corner else height - 20
    columns = 20 if "left" in corner else width - 20
    assert photo.image[rows, columns, 0] > 200
    assert photo.image[rows, columns, 1] < 60
    assert (width > height) == (orientation in (1, 2, 3))


def test_the_focal_length_is_read_from_the_file(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 28
    picture().save(tmp_path / "a.jpg", exif=exif)
    focal = read_photo(tmp_path / "a.jpg").focal
    assert focal == pytest.approx(28 / 43.27 * np.hypot(400, 320))


@pytest.mark.parametrize("mode", ["L", "RGBA", "CMYK", "P", "I;16"])
def test_any_kind_of_pixels_becomes_rgb(tmp_path: Path, mode: str) -> None:
    source = picture()
    if mode == "I;16":
        image = Image.fromarray(np.asarray(source.convert("L"), dtype=np.uint16) * 257)
    else:
        image = source.convert(mode)
    image.save(tmp_path / "a.tif")
    photo = read_photo(tmp_path / "a.tif")
    assert photo.image.shape == (320, 400, 3)
    assert photo.image.dtype == np.uint8
    assert int(photo.image[200, 380].mean()) == pytest.approx(
        int(np.asarray(source)[200, 380].mean()), abs=12
    )


def test_a_very_fine_jpeg_is_halved_while_it_is_read(tmp_path: Path) -> None:
    big = Image.new("RGB", (6000, 4000), (90, 90, 90))
    big.paste((200, 30, 30), (0, 0, 3000, 2000))
    big.save(tmp_path / "a.jpg", quality=60)
    photo = read_photo(tmp_path / "a.jpg")
    assert photo.size == (3000, 2000)
    assert photo.reduction == 2


@pytest.mark.parametrize("mode", ["L", "RGBA", "P", "I;16"])
def test_a_very_fine_picture_of_any_kind_is_halved_in_bands_and_turned_upright(
    tmp_path: Path, mode: str
) -> None:
    big = Image.new("L", (4801, 4001), 90)
    big.paste(200, (0, 0, 2400, 2000))
    if mode == "I;16":
        big = Image.fromarray(np.asarray(big, dtype=np.uint16) * 257)
    else:
        big = big.convert(mode)
    exif = Image.Exif()
    exif[0x0112] = 3
    big.save(tmp_path / "a.png", exif=exif, compress_level=1)
    photo = read_photo(tmp_path / "a.png")
    assert photo.reduction == 2
    assert photo.size == (2401, 2001)
    # Upside down: what was bright at the upper left lies at the lower right.
    assert np.abs(photo.image[1100:, 1300:].astype(int) - 200).max() <= 1
    assert np.abs(photo.image[:900, :].astype(int) - 90).max() <= 1


def claimed_size(width: int, height: int) -> bytes:
    """A PNG whose header claims a size, with next to nothing behind it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


def jpeg_bytes(image: Image.Image) -> bytes:
    memory = io.BytesIO()
    image.save(memory, "JPEG")
    return memory.getvalue()


def animated(kind: str) -> bytes:
    """Two pictures in one file."""
    memory = io.BytesIO()
    other = picture().transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    picture().save(memory, kind, save_all=True, append_images=[other])
    return memory.getvalue()


BAD: dict[str, tuple[Any, str]] = {
    "no picture": (b"this is a letter, not a photograph", "no picture"),
    "empty": (b"", "The file is empty"),
    "a PDF": (b"%PDF-1.7\n" + bytes(400), "This is a PDF document"),
    "cut off": (jpeg_bytes(picture(1200, 900))[:2500], "cut off"),
    "only a header": (claimed_size(800, 600), "cut off"),
    "one pixel": (jpeg_bytes(Image.new("RGB", (1, 1), (9, 9, 9))), "1 × 1"),
    "200 megapixels": (claimed_size(20_000, 10_000), "too large"),
    "a bomb": (claimed_size(100_000, 100_000), "too large"),
    "one colour": (jpeg_bytes(Image.new("RGB", (640, 480), (120, 90, 60))), "one colour"),
    "a phone's HEIC": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(400), "This is a phone's HEIC picture"),
    "animated PNG": (animated("PNG"), "holds 2 pictures"),
    "animated WebP": (animated("WEBP"), "holds 2 pictures"),
    "pages of a TIFF": (animated("TIFF"), "holds 2 pictures"),
    "a GIF": (animated("GIF"), "This is a GIF picture"),
    "a web page": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture"),
}


@pytest.mark.parametrize("name", BAD)
@pytest.mark.security
def test_a_bad_picture_is_refused_with_what_to_do(tmp_path: Path, name: str) -> None:
    data, words = BAD[name]
    path = tmp_path / "bad.jpg"
    path.write_bytes(data)
    with pytest.raises(InputError, match=words) as refused:
        read_photo(path)
    assert refused.value.file == "bad.jpg"
    assert len(refused.value.mend) > 15
    assert "\n" not in str(refused.value)


def test_sixteen_bits_a_colour_are_read_as_eight(tmp_path: Path) -> None:
    """A PNG of 16 bits a colour, written by hand: Pillow itself writes none."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    source = np.asarray(picture()).astype(">u2") * 257
    rows = b"".join(b"\0" + row.tobytes() for row in source)
    header = struct.pack(">IIBBBBB", 400, 320, 16, 2, 0, 0, 0)
    (tmp_path / "deep.png").write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
    read = read_photo(tmp_path / "deep.png").image
    assert np.abs(read.astype(int) - np.asarray(picture()).astype(int)).max() <= 1


def test_a_missing_picture_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not found") as refused:
        read_photo(tmp_path / "gone.jpg")
    assert refused.value.file == "gone.jpg"
