"""Along the sides of a sheet colours differ and end at its corners; joints and squares of a floor go on beyond them."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.sheet_evidence import sheet_evidence

SQUARE = 90
SHEET = np.array([[330.0, 420.0], [610.0, 460.0], [637.0, 270.0], [357.0, 230.0]])
"""Counter-clockwise as people see it, from the lower left corner on."""


def checked_floor(*, printed: bool = False) -> Photo:
    """A white sheet, turned a little, on squares of two greys; a little noise over all."""
    picture = Image.new("RGB", (900, 720), (70, 70, 72))
    draw = ImageDraw.Draw(picture)
    for row in range(8):
        for column in range(row % 2, 10, 2):
            x, y = column * SQUARE, row * SQUARE
            draw.rectangle((x, y, x + SQUARE - 1, y + SQUARE - 1), fill=(150, 148, 146))
    draw.polygon([(float(x), float(y)) for x, y in SHEET], fill=(238, 238, 234))
    if printed:
        for share in np.linspace(0.15, 0.85, 9):
            start = SHEET[0] + share * (SHEET[3] - SHEET[0]) + 0.1 * (SHEET[1] - SHEET[0])
            draw.line([tuple(start), tuple(start + 0.8 * (SHEET[1] - SHEET[0]))], fill=(40, 40, 40), width=5)
    noise = np.random.default_rng(0).normal(0, 2, (720, 900, 3))
    return Photo(np.clip(np.asarray(picture) + noise, 0, 255).astype(np.uint8))


def test_a_sheet_is_told_by_its_sides_print_or_not() -> None:
    for printed in (False, True):
        found = sheet_evidence(checked_floor(printed=printed), SHEET)
        assert found.strength > 0.2
        assert found.lightness > 0.3


def test_a_square_of_a_checked_floor_goes_on_beyond_its_corners() -> None:
    low, high = 2 * SQUARE - 0.5, 3 * SQUARE - 0.5
    square = np.array([[low, high], [high, high], [high, low], [low, low]])
    assert sheet_evidence(checked_floor(), square).strength < 0.05


def test_corners_a_little_inside_a_sheet_are_none() -> None:
    middle = SHEET.mean(axis=0)
    assert sheet_evidence(checked_floor(), middle + 0.8 * (SHEET - middle)).strength < 0.05


def test_print_is_darker_than_what_is_round_it() -> None:
    picture = np.array(checked_floor().image)
    picture[310:390, 430:540] = 30
    block = np.array([[430.0, 390.0], [540.0, 390.0], [540.0, 310.0], [430.0, 310.0]]) - 0.5
    assert sheet_evidence(Photo(picture), block).lightness < -1
