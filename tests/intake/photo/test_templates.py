"""Templates in rendered photographs: found one by one, true to what was drawn, and nothing guessed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from nestplan.errors import InputError
from nestplan.intake.photo.reading import Photo, read_photo
from nestplan.intake.photo.rectification import RectifiedPhoto, rectify
from nestplan.intake.photo.reference import find_reference
from nestplan.intake.photo.template_likeness import made_symmetric, mirrored_pairs, symmetry_axis
from nestplan.intake.photo.templates import FoundTemplate, find_templates
from nestplan.intake.photo.templates_to_model import (
    Meaning,
    TemplateAnswers,
    letter_of,
    marks_drawn,
    pieces_of_templates,
)
from nestplan.model.piece import Piece
from tests.benchmarks.templates import laid_onto, to_scene
from tests.intake.photo_render import rectangle
from tests.intake.template_render import (
    CARDS,
    GROUNDS,
    SMALL_TEMPLATES,
    DrawnTemplate,
    TemplateScene,
    render_templates,
)

Taken = tuple[Photo, RectifiedPhoto, tuple[FoundTemplate, ...]]


def taken(scene: TemplateScene, folder: Path) -> Taken:
    path = folder / "templates.jpg"
    path.write_bytes(render_templates(scene, supersample=4).jpeg)
    photo = read_photo(path)
    straight = rectify(photo, find_reference(photo, scene.reference))
    return photo, straight, find_templates(photo, straight).found


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Taken:
    return taken(SMALL_TEMPLATES, tmp_path_factory.mktemp("small"))


def test_each_template_is_found_once_and_its_edge_is_true_to_less_than_half_a_millimetre(
    small: Taken,
) -> None:
    _, straight, found = small
    turn, shift = to_scene(found, straight.reference.reshape(-1, 4, 2)[0], SMALL_TEMPLATES)
    left = [shapely.Polygon(each.outline) for each in SMALL_TEMPLATES.templates]
    for each in found:
        laid = each.outline @ turn + shift
        mine = max(left, key=lambda drawn: drawn.intersection(shapely.Polygon(laid)).area)
        left.remove(mine)
        truth = np.asarray(mine.exterior.coords)[:-1]
        assert away(laid_onto(laid, truth)[2], truth).mean() < 0.4
    assert not left


def away(points: np.ndarray, ring: np.ndarray) -> np.ndarray:
    return np.asarray(shapely.distance(shapely.points(points), shapely.LinearRing(ring)))


def test_corners_of_a_card_are_sharp_and_its_edges_straight(small: Taken) -> None:
    card = next(each for each in small[2] if len(each.inside.holes) == 2)
    assert card.corners == 4
    assert len(card.outline) == 4


def test_a_card_with_round_corners_has_no_sharp_ones(small: Taken) -> None:
    areas = [shapely.Polygon(each.outline).area for each in small[2]]
    rounded = small[2][int(np.argmin(np.abs(np.array(areas) - (120 * 80 - (4 - np.pi) * 15**2))))]
    assert rounded.corners == 0
    assert min(np.hypot(*(np.roll(rounded.outline, -1, axis=0) - rounded.outline).T)) < 10


def test_punched_holes_have_their_centre_distance_and_diameters(small: Taken) -> None:
    card = next(each for each in small[2] if len(each.inside.holes) == 2)
    narrow, wide = sorted(card.inside.holes, key=lambda hole: hole.diameter)
    assert (narrow.diameter, wide.diameter) == (pytest.approx(5.0, abs=0.4), pytest.approx(8.0, abs=0.4))
    apart = np.hypot(*np.subtract(narrow.at, wide.at))
    assert apart == pytest.approx(np.hypot(70, 10), abs=0.4)


def test_rings_dots_windows_and_arrows_are_told_apart(small: Taken) -> None:
    _, _, found = small
    assert marks_drawn(found) == {"blue dots": 1, "red rings": 2}
    assert sum(len(each.inside.openings) for each in found) == 1
    assert sum(len(each.inside.arrows) for each in found) == 2
    rings = [spot for each in found for spot in each.inside.spots if spot.form == "ring"]
    assert all(spot.diameter == pytest.approx(6.0, abs=0.4) for spot in rings)


def test_dots_of_the_ground_s_colour_and_letters_are_neither_holes_nor_dots_of_another_kind(
    tmp_path: Path,
) -> None:
    letter = np.array([[0.0, 0.0], [0.0, 4.0], [4.0, 0.0], [4.0, 4.0]])
    card = DrawnTemplate(
        rectangle(95, 380, 150, 90, 8.0),
        CARDS["white"],
        holes=((60.0, 380.0, 3.0), (130.0, 390.0, 5.0)),
        dots=((95.0, 400.0, 2.0, "blue"), (95.0, 360.0, 3.0, "blue"), (40.0, 370.0, 2.5, "blue")),
        strokes=(letter + np.array((70.0, 395.0)),),
    )
    scene = replace(SMALL_TEMPLATES, templates=(card,), ground=GROUNDS["blue"], seed=6)
    (found,) = taken(scene, tmp_path)[2]
    assert marks_drawn((found,)) == {"blue dots": 3}
    assert sorted(round(hole.diameter) for hole in found.inside.holes) == [3, 5]
    assert len(found.inside.writing) == 1


def test_red_ink_on_yellow_card_is_red_and_the_smallest_dots_are_dots(tmp_path: Path) -> None:
    # Dots of 2 mm are four pixels wide here, and each lies otherwise on the grid of pixels.
    dots = tuple((35.0 + 9.13 * k, 352.0 + 1.7 * k, 2.0, "blue") for k in range(12))
    rings = tuple((45.0 + 12 * k, 395.0 + 1.3 * k, 4.0 + k % 3, "red") for k in range(8))
    card = DrawnTemplate(rectangle(95, 380, 150, 90, 8.0), CARDS["yellow"], rings=rings, dots=dots)
    scene = replace(
        SMALL_TEMPLATES, templates=(card,), ground=GROUNDS["blue"], seed=9, width=1000, height=750
    )
    (found,) = taken(scene, tmp_path)[2]
    assert marks_drawn((found,)) == {"blue dots": 12, "red rings": 8}
    assert not found.inside.holes


def test_mirror_images_are_recognised_and_nothing_else(small: Taken) -> None:
    found = small[2]
    pairs = mirrored_pairs(found)
    assert len(pairs) == 1
    first, second, apart = pairs[0]
    assert {len(found[first].inside.arrows), len(found[second].inside.arrows)} == {1}
    assert apart < 0.4


def test_a_nearly_symmetric_outline_can_be_made_exactly_so(small: Taken) -> None:
    card = next(each for each in small[2] if len(each.inside.holes) == 2)
    axis = symmetry_axis(card)
    assert axis is not None
    ring = made_symmetric(card, axis)
    mirrored = shapely.Polygon(axis.mirrored(ring))
    assert shapely.Polygon(ring).symmetric_difference(mirrored).area < 1e-6
    assert away(ring, card.outline).max() < 0.6


def test_a_leaf_without_an_axis_is_not_offered_as_symmetric(small: Taken) -> None:
    leaf = next(each for each in small[2] if each.inside.arrows)
    assert symmetry_axis(leaf) is None


def test_what_drawn_marks_mean_is_said_not_guessed(small: Taken) -> None:
    found = small[2]

    def marks(**said: Meaning) -> list[tuple[str, float | None]]:
        meanings = {name.replace("_", " "): meaning for name, meaning in said.items()}
        pieces = pieces_of_templates(found, TemplateAnswers(meanings=meanings))
        return sorted(((mark.do, mark.diameter) for piece in pieces for mark in piece.marks), key=str)

    assert [do for do, _ in marks()] == ["punch", "punch"]
    assert sorted(do for do, _ in marks(red_rings=Meaning("punch"), blue_dots=Meaning("mark"))) == [
        "mark", "punch", "punch", "punch", "punch"
    ]  # fmt: skip
    with pytest.raises(InputError, match="How wide"):
        marks(blue_dots=Meaning("punch"))
    assert ("punch", 4.0) in marks(blue_dots=Meaning("punch", 4.0))


def test_arrows_give_the_stretch_and_pairs_become_one_piece(small: Taken) -> None:
    found = small[2]
    pairs = tuple((first, second) for first, second, _ in mirrored_pairs(found))
    pieces = pieces_of_templates(found, TemplateAnswers(pairs=pairs, names={pairs[0][0]: "leaf"}))
    assert len(pieces) == len(found) - 1
    leaf: Piece = next(piece for piece in pieces if piece.name == "leaf")
    assert leaf.pair
    stretch = leaf.cuts[0].stretch
    assert stretch is not None
    turns = np.degrees(np.arctan2(*np.diff(np.array(leaf.outline), axis=0).T[::-1])) % 180
    # The drawn arrow runs along x; the leaf's first edge leaves it by 3.2 degrees.
    off = (turns - stretch.axis + 90) % 180 - 90
    assert np.abs(np.abs(off) - np.degrees(np.arctan2(5, 90))).min() < 1.0


def test_a_template_that_reaches_beyond_the_picture_is_told_and_left_out(tmp_path: Path) -> None:
    scene = replace(SMALL_TEMPLATES, templates=SMALL_TEMPLATES.templates[:2])
    path = tmp_path / "cut.png"
    rendered = render_templates(scene, supersample=3)
    path.write_bytes(rendered.jpeg)
    photo = read_photo(path)
    corner = rendered.seen(scene.templates[0].outline).min(axis=0)
    cropped = Photo(photo.image[:, int(corner[0]) + 40 :], "cut")
    straight = rectify(cropped, find_reference(cropped, scene.reference))
    result = find_templates(cropped, straight)
    assert len(result.found) == 1
    assert [warning.what for warning in result.warnings] == [
        "Something reaches beyond the picture; it was left out."
    ]


def test_a_sheet_that_might_be_another_paper_is_told_at_its_place(small: Taken) -> None:
    photo, straight, found = small
    read = find_templates(photo, replace(straight, suits_as_well=("letter",)))
    (warning,) = (each for each in read.warnings if "letter" in each.what)
    assert np.allclose(warning.at, straight.reference[:4].mean(axis=0))
    assert len(read.found) == len(found)


def test_bare_ground_is_refused_with_what_to_do(tmp_path: Path) -> None:
    scene = replace(
        SMALL_TEMPLATES, templates=(DrawnTemplate(rectangle(95, 380, 9, 9, 0.0), CARDS["white"]),)
    )
    with pytest.raises(InputError, match="No template was found"):
        taken(scene, tmp_path)


def test_letters_go_on_after_z() -> None:
    assert [letter_of(number) for number in (0, 25, 26, 51, 52)] == ["A", "Z", "AA", "AZ", "BA"]
