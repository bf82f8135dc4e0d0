"""Which patch of a photograph is taken for the reference: the sheet, never a brick, and none where it is not sure.

A wrong choice is a wrong scale, which no later step would notice.
"""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageDraw

from nestplan.errors import InputError
from nestplan.intake.photo.quadrilaterals import candidate_quadrilaterals
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference import find_reference
from tests.intake.photo_render import SHEETS, Rendered, Scene, render
from tests.intake.photo_scenes import invented_outline, room_scene, sheet_scene


@pytest.fixture(scope="module")
def on_bricks() -> Rendered:
    """A brown skin and an A4 sheet on a floor of bricks, each about as oblong as the sheet."""
    scene = Scene(
        outline=invented_outline("skin", 3), floor="brick", hide_colour=(98, 64, 44), reference=SHEETS["A4"],
        tilt=12, azimuth=80, seed=27, width=1200, height=900,
    )  # fmt: skip
    return render(scene, supersample=1)


def picture_of(rendered: Rendered) -> Image.Image:
    return Image.open(io.BytesIO(rendered.jpeg))


def photo(picture: Image.Image) -> Photo:
    return Photo(np.asarray(picture), "bricks.jpg")


def test_the_sheet_is_found_among_bricks(on_bricks: Rendered) -> None:
    found = find_reference(photo(picture_of(on_bricks)), SHEETS["A4"])
    away = np.hypot(*(found.seen[:, None] - on_bricks.reference_px[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 0.8


def test_a_brick_is_common_and_the_sheet_is_not(on_bricks: Rendered) -> None:
    middle = on_bricks.reference_px.mean(axis=0)
    quads = candidate_quadrilaterals(np.asarray(picture_of(on_bricks)))
    sheet = [quad.colour_elsewhere for quad in quads if np.hypot(*(quad.corners.mean(axis=0) - middle)) < 20]
    others = [
        quad.colour_elsewhere for quad in quads if np.hypot(*(quad.corners.mean(axis=0) - middle)) > 100
    ]
    assert sheet
    assert min(sheet) < 1
    assert np.median(others) > 10


def test_without_its_sheet_no_brick_is_taken_for_it(on_bricks: Rendered) -> None:
    left = int(on_bricks.reference_px[:, 0].min()) - 12
    picture = picture_of(on_bricks)
    with pytest.raises(InputError, match="No reference"):
        find_reference(photo(picture.crop((0, 0, left, picture.height))), SHEETS["A4"])


def test_two_sheets_that_tell_different_scales_are_asked_about(on_bricks: Rendered) -> None:
    picture = picture_of(on_bricks)
    sheet = on_bricks.reference_px
    small = (sheet - sheet.mean(axis=0)) * 0.7 + [sheet[:, 0].mean(), 0.14 * picture.height]
    assert small[:, 1].max() + 20 < sheet[:, 1].min()
    ImageDraw.Draw(picture).polygon([(float(x), float(y)) for x, y in small], fill=(236, 235, 232))
    with pytest.raises(InputError, match="cannot be told for certain") as refused:
        find_reference(photo(picture), SHEETS["A4"])
    assert "its four corners" in refused.value.mend


def test_a_sheet_close_to_the_border_is_found(on_bricks: Rendered) -> None:
    picture = picture_of(on_bricks)
    right = int(on_bricks.reference_px[:, 0].max()) + 6
    found = find_reference(photo(picture.crop((0, 0, right, picture.height))), SHEETS["A4"])
    away = np.hypot(*(found.seen[:, None] - on_bricks.reference_px[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 0.8


@pytest.mark.parametrize(
    ("number", "what"),
    [
        (200, "printed, on gravel"),
        (202, "printed, on tiles, beside a box"),
        (204, "folded, on a white floor"),
        (206, "printed with a picture, on carpet"),
        (210, "half of it in the shadow"),
    ],
)
def test_sheets_that_their_colour_alone_does_not_tell_are_found(number: int, what: str) -> None:
    room = room_scene(number)
    rendered = render(replace(room.scene, width=1400, height=1050), supersample=1)
    found = find_reference(photo(picture_of(rendered)), room.said)
    away = np.hypot(*(found.seen[:, None] - rendered.reference_px[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 1.5, what


@pytest.mark.parametrize(("said", "lies"), [("letter", "A4"), ("A4", "letter")])
def test_a_paper_called_by_another_s_name_is_refused_with_its_own(said: str, lies: str) -> None:
    outline = invented_outline("skin", 5)
    scene = Scene(
        outline=outline,
        floor="concrete",
        reference=SHEETS[lies],
        tilt=14,
        azimuth=60,
        seed=5,
        width=1200,
        height=900,
    )
    with pytest.raises(InputError, match=f"it has that of {lies}"):
        find_reference(photo(picture_of(render(scene, supersample=1))), SHEETS[said])


@pytest.mark.parametrize(
    ("number", "what"),
    [
        (311, "printed, on a checked floor: seen against every other square"),
        (320, "creased, on a checked floor: one side hardly seen"),
        (327, "creased, on boards: half of it has its shape"),
    ],
)
def test_sheets_that_their_edges_tell_in_part_are_found(number: int, what: str) -> None:
    room = sheet_scene(number)
    rendered = render(room.scene, supersample=1)
    found = find_reference(photo(picture_of(rendered)), room.said)
    away = np.hypot(*(found.seen[:, None] - rendered.reference_px[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 1.5, what


def test_a_larger_board_of_nearly_the_size_named_is_asked_about() -> None:
    room = sheet_scene(34)
    with pytest.raises(InputError, match="cannot be told for certain") as refused:
        find_reference(photo(picture_of(render(room.scene, supersample=1))), room.said)
    assert "is larger" in refused.value.what


def test_a_board_beside_a_box_of_its_shape_is_told_by_how_each_sees_the_other() -> None:
    room = sheet_scene(417)
    rendered = render(room.scene, supersample=1)
    found = find_reference(photo(picture_of(rendered)), room.said)
    away = np.hypot(*(found.seen[:, None] - rendered.reference_px[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 0.5


def test_a_panel_beside_a_sheet_is_no_sheet_seen_along_the_floor() -> None:
    rng = np.random.default_rng(3)
    picture = Image.fromarray(rng.normal(96, 3, (841, 1122, 3)).clip(0, 255).astype(np.uint8))
    draw = ImageDraw.Draw(picture)
    sheet = [(126, 618), (475, 707), (534, 451), (184, 369)]
    draw.polygon(sheet, fill=(243, 243, 240))
    # As a sheet it would be seen by a camera 67 degrees aslant.
    draw.polygon([(900, 545), (1016, 514), (956, 446), (852, 474)], fill=(205, 190, 165))
    found = find_reference(Photo(np.asarray(picture), "templates.png"), SHEETS["A4"])
    away = np.hypot(*(found.seen[:, None] - np.array(sheet)[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 1.5


def test_a_template_with_two_cut_corners_is_no_rival_of_the_sheet_and_a_whole_one_is() -> None:
    rng = np.random.default_rng(3)
    ground = Image.fromarray(rng.normal(96, 3, (841, 1122, 3)).clip(0, 255).astype(np.uint8))
    sheet = [(126, 618), (475, 707), (534, 451), (184, 369)]
    ImageDraw.Draw(ground).polygon(sheet, fill=(243, 243, 240))
    whole = [(700, 300), (896, 300), (896, 438), (700, 438)]
    cut = [(700, 320), (720, 300), (896, 300), (896, 418), (876, 438), (700, 438)]
    for template, rival in ((whole, True), (cut, False)):
        picture = ground.copy()
        ImageDraw.Draw(picture).polygon(template, fill=(200, 178, 140))
        seen = Photo(np.asarray(picture), "templates.png")
        if rival:
            with pytest.raises(InputError, match="cannot be told for certain"):
                find_reference(seen, SHEETS["A4"])
            continue
        away = np.hypot(*(find_reference(seen, SHEETS["A4"]).seen[:, None] - np.array(sheet)[None]).T).min(
            axis=0
        )
        assert away.max() < 1.5


def test_a_box_is_not_taken_for_the_paper_that_is_not_there() -> None:
    room = sheet_scene(39)
    assert room.trap == "no sheet but a box"
    with pytest.raises(InputError, match="No reference"):
        find_reference(photo(picture_of(render(room.scene, supersample=1))), room.said)


def test_a_line_of_writing_is_no_side_of_a_sheet() -> None:
    room = sheet_scene(204)
    assert room.trap == "another paper"
    with pytest.raises(InputError, match="tabloid"):
        find_reference(photo(picture_of(render(room.scene, supersample=1))), room.said)
