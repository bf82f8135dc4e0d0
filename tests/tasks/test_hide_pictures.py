"""The picture under a hide: kept beside its file, read again, never written over another's file."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from nestplan.errors import InputError
from nestplan.tasks.contents import HidePhoto
from nestplan.tasks.hide_pictures import keep_picture, picture_file, pictures_beside, read_picture

MATRIX = (2.0, 0.0, -5.5, 0.0, -2.0, 640.25, 0.0, 0.0, 1.0)


@pytest.fixture
def photo(tmp_path):
    pixels = np.zeros((60, 80, 3), dtype=np.uint8)
    pixels[:30], pixels[30:] = (200, 120, 40), (40, 90, 160)
    Image.fromarray(pixels).save(tmp_path / "straight.png")
    return HidePhoto(str(tmp_path / "straight.png"), MATRIX)


def test_a_kept_picture_is_read_with_its_place_and_looks_the_same(tmp_path, photo):
    hide = tmp_path / "oak.hide.json"
    keep_picture(hide, photo)
    read = read_picture(hide)
    assert read is not None
    assert read.matrix == MATRIX
    assert read.file == str(tmp_path / "oak.hide.picture.jpg")
    with Image.open(read.file) as image:
        pixels = np.asarray(image, dtype=int)
    assert pixels.shape == (60, 80, 3)
    assert np.abs(pixels[10, 40] - (200, 120, 40)).max() < 8
    assert np.abs(pixels[50, 40] - (40, 90, 160)).max() < 8


def test_a_picture_that_is_kept_already_is_not_written_again(tmp_path, photo):
    hide = tmp_path / "oak.hide.json"
    keep_picture(hide, photo)
    before = picture_file(hide).stat().st_ino
    keep_picture(hide, photo)
    kept = read_picture(hide)
    assert kept is not None
    keep_picture(hide, kept)
    assert picture_file(hide).stat().st_ino == before
    keep_picture(hide, HidePhoto(photo.file, (3.0, *MATRIX[1:])))
    moved = read_picture(hide)
    assert moved is not None
    assert moved.matrix[0] == 3.0


def test_only_hides_with_a_picture_have_one(tmp_path, photo):
    keep_picture(tmp_path / "oak.hide.json", photo)
    files = {
        "oak": str(tmp_path / "oak.hide.json"),
        "elm": str(tmp_path / "elm.hide.json"),
        "": str(tmp_path / "belts.job.json"),
        "plan": str(tmp_path / "belts.plan.json"),
    }
    assert [name for name, _ in pictures_beside(files)] == ["oak"]


def test_a_foreign_file_of_the_pictures_name_stays_as_it_is(tmp_path, photo):
    hide = tmp_path / "oak.hide.json"
    Image.new("RGB", (4, 4)).save(picture_file(hide))
    before = picture_file(hide).read_bytes()
    assert read_picture(hide) is None
    with pytest.raises(InputError, match="no picture of this hide"):
        keep_picture(hide, photo)
    assert picture_file(hide).read_bytes() == before


@pytest.mark.parametrize("content", [None, b"", b"not a picture"])
def test_a_lost_or_spoiled_source_is_told_and_nothing_is_written(tmp_path, content):
    source = tmp_path / "straight.png"
    if content is not None:
        source.write_bytes(content)
    with pytest.raises(InputError, match="cannot be read"):
        keep_picture(tmp_path / "oak.hide.json", HidePhoto(str(source), MATRIX))
    assert not picture_file(tmp_path / "oak.hide.json").exists()
