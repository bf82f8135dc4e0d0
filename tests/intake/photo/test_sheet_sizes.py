"""A sheet or board of another size than the one named is refused with the size that fits, or the doubt is told.

Corners and sides are those that the renderer's own camera sees, so no picture is made.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference_corners import ReferenceCorners, assign_corners
from nestplan.intake.photo.sheet_sizes import PAPER_SIZES, check_named_size, sizes_of_shape
from tests.intake.photo_render import SHEETS, Scene, camera, rectangle, reference_ring, to_pixels
from tests.intake.photo_scenes import invented_outline

PICTURE = Photo(np.zeros((1500, 2000, 3), dtype=np.uint8), "floor.jpg")


def seen_as(
    said: tuple[float, float],
    *,
    lies: tuple[float, float],
    tilt: float,
    azimuth: float = 90.0,
    turn: float = 0.0,
) -> ReferenceCorners:
    """A sheet of size `lies` beside a skin, as a tilted camera sees it, when it is called one of size `said`."""
    outline = invented_outline("skin", 3)
    scene = Scene(outline=outline, reference=lies, reference_turn=turn, tilt=tilt, azimuth=azimuth)
    ring = reference_ring(scene)
    return called(said, ring, camera(scene, np.vstack([outline, ring])))


def called(said: tuple[float, float], ring: np.ndarray, homography: np.ndarray) -> ReferenceCorners:
    corners = to_pixels(homography, ring)
    t = np.linspace(0.05, 0.95, 16)[:, None]
    rng = np.random.default_rng(1)
    sides = [
        corners[k] + t * (corners[(k + 1) % 4] - corners[k]) + rng.normal(0, 0.05, (16, 2)) for k in range(4)
    ]
    return assign_corners(corners, said, PICTURE, standard_error=0.15, sides=sides)


@pytest.mark.parametrize(
    ("said", "lies"), [("letter", "A4"), ("A4", "letter"), ("tabloid", "A3"), ("A3", "tabloid")]
)
def test_another_paper_seen_from_above_is_refused_and_named(said: str, lies: str) -> None:
    size = PAPER_SIZES[said]
    sheet = seen_as(size, lies=PAPER_SIZES[lies], tilt=8)
    with pytest.raises(InputError, match=f"it has that of {lies}") as refused:
        check_named_size(sheet, size, PICTURE)
    assert f"Name the size '{lies}'" in refused.value.mend
    assert sizes_of_shape(sheet.seen, size, PICTURE)[0] == lies


def test_a_board_called_a2_is_told_of_where_a_slanted_picture_cannot_decide() -> None:
    for azimuth in (90.0, 0.0):
        board = seen_as(PAPER_SIZES["A2"], lies=SHEETS["board"], tilt=39, azimuth=azimuth)
        assert "600 x 400 mm" in check_named_size(board, PAPER_SIZES["A2"], PICTURE)


def test_a_lens_told_by_the_file_leaves_fewer_sizes_open() -> None:
    known = replace(PICTURE, focal=0.85 * 2500)
    board = seen_as(PAPER_SIZES["A2"], lies=SHEETS["board"], tilt=39)
    assert check_named_size(board, PAPER_SIZES["A2"], PICTURE) == ("600 x 400 mm", "600 x 450 mm")
    assert check_named_size(board, PAPER_SIZES["A2"], known) == ("600 x 400 mm",)


def test_the_right_name_from_above_leaves_no_doubt() -> None:
    for name in ("A4", "letter", "A3", "tabloid", "A2"):
        sheet = seen_as(PAPER_SIZES[name], lies=PAPER_SIZES[name], tilt=8)
        assert check_named_size(sheet, PAPER_SIZES[name], PICTURE) == ()


def test_a_board_measured_by_hand_is_not_doubted() -> None:
    own = (612.0, 407.0)
    assert check_named_size(seen_as(own, lies=own, tilt=39), own, PICTURE) == ()


def test_a_slanted_sheet_called_rightly_is_doubted_less_often_than_one_called_wrongly() -> None:
    letter, a4 = PAPER_SIZES["letter"], PAPER_SIZES["A4"]
    for azimuth in (90.0, 60.0):
        assert check_named_size(seen_as(a4, lies=a4, tilt=35, azimuth=azimuth), a4, PICTURE) == ()
        assert check_named_size(seen_as(letter, lies=a4, tilt=35, azimuth=azimuth), letter, PICTURE) == (
            "A4",
        )


def test_several_sheets_turned_differently_decide_what_one_cannot() -> None:
    outline = invented_outline("skin", 3)
    scene = Scene(outline=outline, reference=SHEETS["A4"], tilt=35, azimuth=0, reference_turn=0.0)
    low, high = outline.min(axis=0), outline.max(axis=0)
    rings = [
        reference_ring(scene),
        rectangle(low[0] - 200, low[1], *SHEETS["A4"], 40),
        rectangle(low[0] - 200, high[1], *SHEETS["A4"], -30),
    ]
    homography = camera(scene, np.vstack([outline, *rings]))
    for name, answer in (("A4", ()), ("letter", None)):
        size = PAPER_SIZES[name]
        first, *others = [called(size, ring, homography) for ring in rings]
        together = replace(first, others=tuple(others))
        if answer is None:
            with pytest.raises(InputError, match="it has that of A4"):
                check_named_size(together, size, PICTURE)
        else:
            assert check_named_size(first, size, PICTURE) == ("letter",)
            assert check_named_size(together, size, PICTURE) == answer
