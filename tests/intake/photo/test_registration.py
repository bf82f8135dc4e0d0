"""A hide found again by its outline: turned, moved, stretched, with a corner changed."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestplan.errors import InputError
from nestplan.intake.photo.outline_match import Slant, match_outlines, mirror_image
from nestplan.intake.photo.registration import register_outline
from tests.benchmarks.registration import random_pair
from tests.intake.photo_scenes import invented_outline


@pytest.mark.parametrize("number", [0, 1, 2, 4])
def test_a_hide_with_a_changed_corner_is_found_and_the_corner_told(number: int) -> None:
    pair = random_pair(number)
    found = register_outline(pair.old, pair.now, tolerance=2.0)
    now = found.slant.straightened(pair.after)
    away = np.hypot(*(pair.before @ found.matrix.T + found.shift - now).T)
    assert (away <= 3).mean() >= 0.95
    assert found.rival is None
    told = [
        change for change in found.changes if shapely.Polygon(change.ring).buffer(0).intersects(pair.corner)
    ]
    assert told
    assert {change.kind for change in told} == {"more" if pair.grown else "gone"}


@pytest.mark.parametrize(("number", "rise"), [(0, (2.5e-6, 4e-6)), (3, (-4e-6, 1e-6)), (4, (0.0, -4.5e-6))])
def test_what_a_camera_left_of_perspective_is_found_and_straightened(
    number: int, rise: tuple[float, float]
) -> None:
    pair = random_pair(number)
    true = Slant(pair.now.mean(axis=0) + np.array([30.0, -20.0]), np.array(rise))
    before = np.hypot(*(true.seen(pair.after) - pair.after).T).max()
    found = register_outline(pair.old, true.seen(pair.now), tolerance=2.0)
    seen = true.seen(pair.after)
    away = np.hypot(*(pair.before @ found.matrix.T + found.shift - found.slant.straightened(seen)).T)
    assert before > 1.5
    assert (away <= 3).mean() >= 0.95
    assert np.abs(found.slant.rise - rise).max() < 2.5e-6
    assert found.slant.seen(found.slant.straightened(seen)) == pytest.approx(seen, abs=1e-6)
    corner = shapely.transform(pair.corner, true.seen)
    assert any(
        shapely.Polygon(found.slant.seen(each.ring)).buffer(0).intersects(corner) for each in found.changes
    )


def test_an_unchanged_hide_has_no_changes() -> None:
    ring = invented_outline("skin", 12)
    found = register_outline(ring, ring + np.array([50.0, -30.0]))
    assert found.changes == ()
    assert np.allclose(found.shift, [50, -30], atol=0.5)


def test_a_new_opening_is_told_and_a_known_one_is_not() -> None:
    ring = invented_outline("side", 5)
    middle = np.asarray(shapely.Polygon(ring).buffer(-150).representative_point().coords[0])
    square = np.array([[-20, -20], [20, -20], [20, 20], [-20, 20]]) + middle
    known, new = square, square + np.array([90.0, 0.0])
    found = register_outline(ring, ring, old_openings=[known], now_openings=[known + 1.0, new])
    assert [change.kind for change in found.changes] == ["opening"]
    assert found.changes[0].ring.mean(axis=0) == pytest.approx(new.mean(axis=0), abs=2)


def test_another_hide_is_refused() -> None:
    with pytest.raises(InputError, match="not that of this hide"):
        register_outline(invented_outline("side", 3), invented_outline("skin", 9))


def test_a_hide_with_its_other_face_up_is_told() -> None:
    ring = invented_outline("side", 3)
    with pytest.raises(InputError, match="other face"):
        register_outline(ring, mirror_image(ring))


def test_a_rectangle_could_lie_two_ways_round_and_that_is_said() -> None:
    ring = np.array([[0, 0], [600, 0], [600, 400], [0, 400]], dtype=float)
    found = register_outline(ring, ring)
    assert found.rival is not None
    assert abs(found.rival) == pytest.approx(180, abs=2)


def test_a_mirrored_shape_lies_on_itself_only_mirrored() -> None:
    ring = np.array([[0, 0], [200, 0], [160, 80], [0, 50]], dtype=float)
    assert match_outlines(mirror_image(ring), mirror_image(ring) + 5).residual < 0.1
    assert match_outlines(mirror_image(ring), ring).residual > 3
