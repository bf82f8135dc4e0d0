"""Warnings of outlines that may be wrong: hides cut off, sheets on them, other papers, small sheets; sound scenes."""

from __future__ import annotations

import dataclasses
import io
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image
from scipy import ndimage

from nestplan.errors import InputError
from nestplan.intake.photo.outline import Outline, find_outline
from nestplan.intake.photo.outline_checks import TraceWarning, _large_parts, _other_ground
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto, rectify, scale_error_over
from nestplan.intake.photo.reference import find_reference
from nestplan.intake.photo.segmentation import FeatureGrid
from tests.intake.photo_render import SHEETS, Clutter, DrawnFlaw, Scene, render, to_pixels
from tests.intake.photo_scenes import ellipse, invented_outline, room_scene

SMALL = {"width": 1200, "height": 900, "noise": 2.0, "blur": 0.6}


def plain_scene(**changes: object) -> Scene:
    scene = Scene(
        outline=invented_outline("skin", 12), floor="gravel", hide_colour=(98, 64, 44), reference=SHEETS["A3"],
        tilt=10, seed=41, shadows=0, **SMALL,
    )  # fmt: skip
    return dataclasses.replace(scene, **changes)  # type: ignore[arg-type]


def photo_of(scene: Scene) -> Photo:
    rendered = render(scene, supersample=1)
    return Photo(np.asarray(Image.open(io.BytesIO(rendered.jpeg))), "room.jpg")


def traced(scene: Scene) -> tuple[RectifiedPhoto, Outline]:
    photo = photo_of(scene)
    straight = rectify(photo, find_reference(photo, scene.reference))
    return straight, find_outline(straight)


def kinds(outline: Outline) -> set[str]:
    return {warning.kind for warning in outline.warnings}


def only_warning(outline: Outline, kind: str) -> TraceWarning:
    (found,) = [warning for warning in outline.warnings if warning.kind == kind]
    return found


def share_found(outline: Outline, scene: Scene) -> float:
    return float(shapely.Polygon(outline.exterior).area / shapely.Polygon(scene.outline).area)


def test_a_whole_hide_beside_a_plain_sheet_is_not_warned_of() -> None:
    # At half the pixels nothing in this picture tells whether the lens bends lines, and that is said.
    _, outline = traced(plain_scene(width=1600, height=1200))
    assert kinds(outline) == set()
    truth = shapely.Polygon(plain_scene().outline).area
    assert shapely.Polygon(outline.exterior).area == pytest.approx(truth, rel=0.012)


def test_a_hide_that_goes_on_beyond_the_picture_is_told_with_the_place() -> None:
    straight, outline = traced(plain_scene(cut_off=0.25))
    warning = only_warning(outline, "cut off")
    assert warning.places
    assert warning.mend
    height, width = straight.visible.shape
    place = straight.to_pixels(np.vstack(warning.places))
    near = np.minimum(
        np.minimum(place[:, 0], width - place[:, 0]), np.minimum(place[:, 1], height - place[:, 1])
    )
    assert np.median(near) < 0.1 * width


def test_a_sheet_that_lies_across_the_hide_s_edge_is_told() -> None:
    scene = plain_scene()
    edge = scene.outline[np.argmax(scene.outline[:, 0])]
    _, outline = traced(dataclasses.replace(scene, reference_at=(float(edge[0]), float(edge[1]))))
    assert "sheet at the hide" in kinds(outline)


def test_a_sheet_that_lies_on_one_half_of_a_two_tone_hide_is_told() -> None:
    """That half surrounds the sheet and is taken for floor: the other half alone is found."""
    scene = dataclasses.replace(room_scene(1627).scene, **SMALL)
    _, outline = traced(scene)
    assert share_found(outline, scene) < 0.5
    told = only_warning(outline, "sheet at the hide")
    assert "may lie on the hide" in told.what
    ground = shapely.union_all([shapely.Polygon(place).buffer(0) for place in told.places])
    assert ground.area > 0.4 * shapely.Polygon(scene.outline).area


@pytest.mark.parametrize(
    ("ground", "reaches", "told"),
    [("cloth", 80, True), ("cloth", 0, False), ("floor", 80, False)],
    ids=["ends at the hide", "goes on beyond the picture", "is the floor"],
)
def test_a_sheet_on_another_ground_than_the_floor_is_told(ground: str, reaches: int, told: bool) -> None:
    # A hide of 60 × 60 cells of 5 mm, beside it a ground from `reaches` on with a sheet of 20 × 30 cells in it.
    chance = np.random.default_rng(5)
    colours = chance.normal(0.0, 0.05, (160, 240, 3)).astype(np.float32)
    mask = np.zeros(colours.shape[:2], dtype=bool)
    mask[50:110, 150:210] = True
    colours[mask] += 1.0
    if ground == "cloth":
        colours[min(reaches, 30) : 160 - min(reaches, 30), reaches:150] += np.float32(0.6)
    usable = np.ones_like(mask)
    usable[65:95, 105:125] = False
    surround = np.zeros_like(mask)
    surround[60:100, 100:130] = True
    border = np.ones_like(mask)
    border[6:-6, 6:-6] = False
    cells = FeatureGrid(colours, 5, 5.0, usable, surround & usable, border)
    found = _other_ground(cells, colours, mask)
    assert found.any() == told
    assert not (found & mask).any()


def test_another_patch_of_a_spotted_hide_is_told_across_what_looks_like_the_floor() -> None:
    """Its light parts have the colour of the light squares, so only its large dark patch is taken."""
    scene = dataclasses.replace(room_scene(1004).scene, **SMALL)
    _, outline = traced(scene)
    assert share_found(outline, scene) < 0.8
    told = only_warning(outline, "part left out")
    assert "looks like the hide itself" in told.what
    # The place shown is leather that was left out.
    missing = shapely.Polygon(told.places[0]).buffer(0)
    assert not missing.intersects(shapely.Polygon(outline.exterior).buffer(-5))


def test_the_pale_half_of_a_two_tone_hide_on_a_pale_floor_is_told() -> None:
    scene = dataclasses.replace(room_scene(1185).scene, width=1600, height=1200)
    _, outline = traced(scene)
    assert share_found(outline, scene) < 0.7
    assert "part left out" in kinds(outline)


@pytest.mark.parametrize(
    ("width", "apart", "tip", "told"),
    [(40, 14, 12, True), (12, 14, 12, False), (40, 40, 12, False), (40, 14, 0, False)],
    ids=["at the hide", "small", "far", "a rectangle"],
)
def test_a_large_part_unlike_the_floor_is_told_whatever_its_colours(
    width: int, apart: int, tip: int, told: bool
) -> None:
    # A hide of 60 × 60 cells of 5 mm, and beside it a place whose rim is but nearly unlike the floor.
    mask = np.zeros((120, 220), dtype=bool)
    mask[30:90, 20:80] = True
    unlike = np.full(mask.shape, 1.0, dtype=np.float32)
    left = 80 + apart
    unlike[28:92, left - 6 : left + width + 6] = 2.2
    for row in range(30, 90):
        unlike[row, left : left + width - tip * (row - 30) // 60] = 2.7
    nothing = np.zeros(mask.shape, dtype=bool)
    cells = FeatureGrid(np.zeros((*mask.shape, 5), np.float32), 1, 5.0, ~nothing, nothing, nothing)
    away = ndimage.distance_transform_edt(~mask) * cells.size
    parts = _large_parts(cells, mask, unlike, away)
    assert len(parts) == told
    assert all(part.sum() > 0.2 * mask.sum() and not (part & mask).any() for part in parts)


def test_a_box_beside_the_hide_is_not_joined_to_it_across_a_strip_of_floor() -> None:
    scene = room_scene(1018).scene
    _, outline = traced(scene)
    truth = shapely.Polygon(scene.outline).area
    assert shapely.Polygon(outline.exterior).area == pytest.approx(truth, rel=0.02)
    assert kinds(outline) == set()


def test_an_outline_along_the_border_of_two_colours_of_a_hide_is_told() -> None:
    """The light half of a spotted hide is left on light tiles, and the outline follows the border."""
    scene = dataclasses.replace(room_scene(1012).scene, **SMALL)
    _, outline = traced(scene)
    assert shapely.Polygon(outline.exterior).area < 0.9 * shapely.Polygon(scene.outline).area
    assert "ragged edge" in kinds(outline)


@pytest.mark.parametrize(
    ("number", "size"),
    [
        pytest.param(1022, SMALL, id="joined to the hide by the other reading"),
        pytest.param(1124, {"width": 1600, "height": 1200}, id="alone the hide of the other reading"),
    ],
)
def test_a_box_that_one_reading_takes_for_hide_is_no_other_reading(
    number: int, size: dict[str, float]
) -> None:
    _, outline = traced(dataclasses.replace(room_scene(number).scene, **size))
    assert "another reading" not in kinds(outline)


def test_a_small_sheet_far_off_gives_no_certain_scale() -> None:
    scene = plain_scene(outline=invented_outline("side", 12), reference=(210.0, 148.0))
    photo = photo_of(scene)
    straight = rectify(photo, find_reference(photo, scene.reference))
    outline = find_outline(straight)
    assert "scale uncertain" in kinds(outline)
    area = shapely.Polygon(outline.exterior).area / shapely.Polygon(scene.outline).area - 1
    assert abs(area) < 4 * scale_error_over(straight, outline.exterior)


def test_a_sheet_of_another_shape_than_named_is_refused_with_the_name_that_fits() -> None:
    photo = photo_of(plain_scene(reference=SHEETS["A4"]))
    with pytest.raises(
        InputError, match=r"does not have the shape|has the shape of the size given"
    ) as refused:
        find_reference(photo, SHEETS["letter"])
    assert "--reference" in refused.value.mend or "sheet" in refused.value.mend


def test_several_sheets_are_used_together_and_steady_the_scale() -> None:
    scene = plain_scene(reference=SHEETS["A4"])
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    more = ((float(low[0]) - 200, float(high[1]), 10.0), (float(low[0]), float(low[1]) - 250, -8.0))
    photo = photo_of(dataclasses.replace(scene, more_sheets=more))
    corners = find_reference(photo, scene.reference)
    assert len(corners.others) == 2
    together = rectify(photo, corners)
    alone = rectify(photo, dataclasses.replace(corners, others=()))
    ring = together.floor_points(alone.photo_points([[0, 0], [900, 0], [900, 700], [0, 700]]))
    assert scale_error_over(together, ring) < 0.6 * scale_error_over(alone, ring)


def test_what_is_pointed_at_is_binding() -> None:
    straight, outline = traced(plain_scene())
    hide = shapely.Polygon(outline.exterior)
    inside = np.asarray(hide.representative_point().coords[0])
    corner = outline.exterior[np.argmin(outline.exterior[:, 0])]
    beyond = corner - [60.0, 0.0]
    again = find_outline(straight, hide_seeds=[tuple(beyond)], floor_seeds=[tuple(inside)])
    assert shapely.Polygon(again.exterior).contains(shapely.Point(beyond))
    openings = [shapely.Polygon(hole) for hole in again.holes]
    assert any(opening.contains(shapely.Point(inside)) for opening in openings)


def test_a_cup_on_the_hide_is_asked_about_and_a_hole_is_not() -> None:
    scene = plain_scene()
    middle = scene.outline.mean(axis=0)
    at, beside = middle + np.array([-150.0, 0.0]), middle + np.array([150.0, 0.0])
    scene = dataclasses.replace(
        scene,
        flaws=(DrawnFlaw("hole", (ellipse(beside, 20, 16, 0.3),)),),
        things_on_hide=(Clutter("cup", ellipse(at, 42, 42, 0.0), (225, 222, 216), (60, 36, 22)),),
    )
    rendered = render(scene, supersample=1)
    photo = Photo(np.asarray(Image.open(io.BytesIO(rendered.jpeg))), "room.jpg")
    straight = rectify(photo, find_reference(photo, scene.reference))
    cup, hole = straight.floor_points(to_pixels(rendered.homography, np.array([at, beside])))

    def openings_at(outline: Outline, place: np.ndarray) -> int:
        return sum(shapely.Polygon(ring).contains(shapely.Point(place)) for ring in outline.holes)

    outline = find_outline(straight)
    asked = [each for each in outline.warnings if each.kind == "opening unclear"]
    assert [len(each.places) for each in asked] == [1]
    assert shapely.Polygon(asked[0].places[0]).contains(shapely.Point(cup))
    assert openings_at(outline, hole) == 1
    pointed = find_outline(straight, hide_seeds=[tuple(cup)])
    assert openings_at(pointed, cup) == 0
    assert openings_at(pointed, hole) == 1
    assert "opening unclear" not in kinds(pointed)
    taken = find_outline(straight, floor_seeds=[tuple(cup)])
    assert openings_at(taken, cup) >= 1
    assert "opening unclear" not in kinds(taken)


def test_an_outline_that_is_warned_of_is_written_only_when_accepted(tmp_path: Path) -> None:
    from nestplan.cli.app import build_app
    from nestplan.cli.option_words import with_options
    from nestplan.model.files import read_hide

    (tmp_path / "cut.jpg").write_bytes(render(plain_scene(cut_off=0.25), supersample=1).jpeg)
    app = build_app()
    out = tmp_path / "cut.hide.json"
    arguments = ["trace", str(tmp_path / "cut.jpg"), "--reference", "A3", "--out", str(out)]
    with pytest.raises(InputError, match="may be wrong") as refused:
        app(arguments, standalone_mode=False)
    assert "--accept" in with_options(refused.value.mend)
    assert not out.exists()
    app([*arguments, "--accept"], standalone_mode=False)
    hide = read_hide(out)
    assert hide.origin is not None
    assert "cut off" in hide.origin.note
