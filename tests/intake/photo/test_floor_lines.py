"""The floor's own lines run two ways square to each other: they tell the tilt where a sheet alone hardly can.

What is true is known from the renderer's camera.
"""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from nestplan.errors import InputError
from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import SheetView, fit_camera
from nestplan.intake.photo.floor_lines import camera_and_floor
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import area_error_of_ring
from nestplan.intake.photo.reference_corners import assign_corners
from nestplan.intake.photo.sheet_sizes import PAPER_SIZES, check_named_size, sizes_suiting_as_well
from tests.benchmarks.cameras import Errors, view_of
from tests.intake.photo_render import Clutter, Rendered, Scene, rectangle, render, seen_in, to_pixels
from tests.intake.photo_scenes import invented_outline

SHEET = (297.0, 210.0)


def room(floor: str, **changes: object) -> Rendered:
    """A hide and one small sheet on a floor, seen slanted."""
    scene = Scene(
        outline=invented_outline("shoulder", 5), floor=floor, reference=SHEET, tilt=32.0, azimuth=70.0, shadows=0,
        width=1200, height=900, blur=0.6, noise=2.0, seed=4,
    )  # fmt: skip
    return render(replace(scene, **changes), supersample=1)  # type: ignore[arg-type]


def photo_of(rendered: Rendered) -> Photo:
    return Photo(np.asarray(Image.open(io.BytesIO(rendered.jpeg))), "room.jpg")


def sheet_of(rendered: Rendered, seed: int) -> SheetView:
    """The sheet as finding it would give it, errors and all."""
    corners = to_pixels(rendered.homography, rendered.reference_mm)
    plane = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * np.array(rendered.scene.reference)
    return view_of(corners, plane, rendered.scene.lens, Errors(), np.random.default_rng(seed))


@pytest.fixture(scope="module")
def checked() -> Rendered:
    return room("checked")


def test_a_checked_floor_makes_the_area_truer_and_its_error_smaller(checked: Rendered) -> None:
    photo, scene = photo_of(checked), checked.scene
    seen = seen_in(scene, checked.homography, scene.outline)
    alone, together, stated = [], [], []
    for seed in range(8):
        view = sheet_of(checked, seed)
        fit, floor = camera_and_floor(photo, [view])
        assert floor is not None
        assert floor.across.any()
        assert not floor.across.all()
        plain = fit_camera([view], photo.size)
        rings = [each.floor_of(seen) for each in (plain, fit)]
        off = [area(ring) / area(scene.outline) - 1 for ring in rings]
        alone.append(off[0])
        together.append(off[1])
        stated.append(area_error_of_ring(fit, rings[1]))
        assert stated[-1] < 0.7 * area_error_of_ring(plain, rings[0])
    assert np.sqrt(np.square(together).mean()) < 0.7 * np.sqrt(np.square(alone).mean())
    assert (np.abs(together) <= 2 * np.array(stated)).all()


def test_a_floor_without_joints_has_no_lines() -> None:
    for floor in ("carpet", "gravel"):
        rendered = room(floor)
        assert camera_and_floor(photo_of(rendered), [sheet_of(rendered, 1)])[1] is None


def test_boxes_that_lie_about_any_way_are_no_floor() -> None:
    rng = np.random.default_rng(3)
    boxes = tuple(
        Clutter("box", rectangle(x, y, 260, 190, float(rng.uniform(0, 90))), (60.0, 70.0, 90.0))
        for x in (-300.0, 1700.0)
        for y in (-200.0, 150.0, 500.0)
    )
    rendered = room("white", clutter=boxes, fill=0.6)
    assert camera_and_floor(photo_of(rendered), [sheet_of(rendered, 1)])[1] is None


def test_where_no_camera_sees_the_sheet_so_the_floor_is_not_asked(checked: Rendered) -> None:
    photo, view = photo_of(checked), sheet_of(checked, 1)
    middle = view.seen.mean(axis=0)
    askew = middle + (view.seen - middle) * [1.0, 1.5]
    sheet = SheetView(view.plane, askew, 0.12)
    fit, floor = camera_and_floor(photo, [sheet])
    assert floor is None
    assert fit.lens is None
    assert fit.seen_at(sheet.plane) == pytest.approx(askew, abs=1e-6)


def test_the_floor_tells_a4_from_letter_where_the_sheet_cannot() -> None:
    rendered = room("checked", tilt=36.0, azimuth=0.0, reference_turn=0.0)
    photo = photo_of(rendered)
    plain = Photo(np.full_like(photo.image, 128), "nothing.jpg")
    view = sheet_of(rendered, 2)
    for name, other in (("A4", "letter"), ("letter", "A4")):
        size = PAPER_SIZES[name]
        found = assign_corners(view.seen, size, photo, standard_error=0.15, sides=view.side_points)
        assert sizes_suiting_as_well(found, size, plain) == (other,)
        assert check_named_size(found, size, plain) == (other,)
        if name == "A4":
            assert check_named_size(found, size, photo) == ()
        else:
            # Corners given by hand are believed, but the doubt is told.
            assert sizes_suiting_as_well(found, size, photo) == (other,)
            with pytest.raises(InputError, match="it has that of A4"):
                check_named_size(found, size, photo)
