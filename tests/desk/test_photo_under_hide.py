"""The leather's own picture: under the outline, the flaws and the plan, and there again when the hide is opened."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication

from nestplan.desk.table.coordinates import scene_point
from nestplan.desk.theme import current_theme
from nestplan.tasks.contents import HidePhoto
from tests.desk.small_work import laid_work, sheet

GRASS, HIDE = QColor(40, 160, 60), QColor(150, 40, 160)


@pytest.fixture
def photo(tmp_path):
    """A picture of 2 mm a pixel: violet leather of 1000 × 600 mm, 100 mm of green floor round it."""
    image = QImage(600, 400, QImage.Format.Format_RGB32)
    image.fill(GRASS)
    for x in range(50, 550):
        for y in range(50, 350):
            image.setPixelColor(x, y, HIDE)
    file = tmp_path / "straight.png"
    assert image.save(str(file))
    return HidePhoto(str(file), (2.0, 0.0, -100.0, 0.0, -2.0, 700.0, 0.0, 0.0, 1.0))


def color_at(window, x: float, y: float) -> QColor:
    QApplication.processEvents()
    view = window.table.viewport()
    return QColor(view.grab().toImage().pixelColor(window.table.pixel_at((x, y)) * view.devicePixelRatioF()))


def apart(one: QColor, other: QColor) -> int:
    return max(abs(a - b) for a, b in zip(one.getRgb()[:3], other.getRgb()[:3], strict=True))


def show_work(window, photo) -> None:
    contents = laid_work(1, sheet("oak"), step=(200, 150))
    window.document.open(replace(contents, photos=(("oak", photo),)), {})


@pytest.mark.parametrize("step", ["hides", "plan", "cut"])
def test_the_leather_is_seen_and_the_floor_is_dimmed(window, photo, step):
    show_work(window, photo)
    window.go_to(step)
    window.table.fit()
    assert apart(color_at(window, 900, 500), HIDE) < 12
    floor = color_at(window, -50, 300)
    assert apart(floor, GRASS) > 40
    assert apart(floor, QColor(current_theme().table)) < apart(GRASS, QColor(current_theme().table))
    window.table.set_layer("photo", False)
    assert apart(color_at(window, 900, 500), QColor(current_theme().leather)) < 3


@pytest.mark.parametrize("zooms", [0, 3])
def test_the_points_of_an_outline_have_handles_that_hide_little_of_the_leather(window, photo, zooms):
    show_work(window, photo)
    window.go_to("hides")
    window.session.hides.edit_points()
    table = window.table
    QApplication.processEvents()
    table.fit()
    table.zoom(2.0**zooms)
    corner = (0.0, 600.0)
    table.centerOn(scene_point(corner))
    # Eight pixels wide at any zoom: the leather is seen right beside them, inside the outline.
    to_pixels = table.transform().m11()
    assert apart(color_at(window, *corner), QColor(current_theme().raised)) < 12
    assert apart(color_at(window, 9 / to_pixels, 600 - 9 / to_pixels), HIDE) < 16


def test_the_picture_is_saved_beside_the_hide_and_there_again_when_it_is_opened(
    window, photo, tmp_path, window_factory
):
    show_work(window, photo)
    folder = tmp_path / "saved"
    folder.mkdir()
    assert window.session.files.save_in(folder, {})
    Path(photo.file).unlink()
    again = window_factory(tmp_path / "other")
    again.session.files.open([folder])
    kept = again.document.contents.photo("oak")
    assert kept is not None
    assert Path(kept.file).parent == folder
    assert kept.matrix == photo.matrix
    for step in ("hides", "plan"):
        again.go_to(step)
        again.table.fit()
        assert apart(color_at(again, 900, 500), HIDE) < 16


def test_a_hide_that_joins_others_brings_its_picture(window, photo, tmp_path):
    show_work(window, photo)
    folder = tmp_path / "saved"
    folder.mkdir()
    assert window.session.files.save_in(folder, {})
    window.document.open(replace(window.document.contents, hides=(), plan=None, job=None, photos=()), {})
    window.document.add_hide(sheet("elm"))
    (file,) = folder.glob("*.hide.json")
    window.session.files.open([file])
    assert window.document.contents.photo("oak") is not None
    assert window.document.contents.photo("elm") is None
