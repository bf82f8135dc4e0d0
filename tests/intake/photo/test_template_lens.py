"""The lens read from straight edges of templates."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.intake.photo.camera import CameraFit, RadialDistortion
from nestplan.intake.photo.rectification import RectifiedPhoto
from nestplan.intake.photo.template_lens import bend_of_templates
from nestplan.intake.photo.template_marks import Inside
from nestplan.intake.photo.templates import FoundTemplate

SIZE = (2000, 1500)
LENS = RadialDistortion(0.0, (999.5, 749.5), float(np.hypot(*SIZE)) / 2)


def plain_view() -> RectifiedPhoto:
    """A ground whose mm are the photograph's pixels."""
    fit = CameraFit(np.eye(3), np.eye(3)[None], 0.0)
    blank = np.zeros((4, 4, 3), dtype=np.uint8)
    return RectifiedPhoto(blank, 1.0, (0.0, 0.0), blank[..., 0] > 0, np.zeros((4, 2)), np.eye(3), 0.0, fit)


def edges_seen(k: float, count: int, *, noise: float = 0.1, seed: int = 0) -> list[FoundTemplate]:
    """Straight edges of 300 pixels all over the picture, bent by a lens."""
    from dataclasses import replace

    rng = np.random.default_rng(seed)
    lens, found = replace(LENS, k=k), []
    for _ in range(count):
        middle, angle = rng.uniform([200, 200], [1800, 1300]), rng.uniform(0, np.pi)
        way = np.array([np.cos(angle), np.sin(angle)])
        points = lens.distort(middle + np.linspace(-150, 150, 200)[:, None] * way)
        points = points + noise * rng.standard_normal(points.shape)
        found.append(FoundTemplate(points, points, 0, Inside(), noise, 0.0, (np.arange(200),)))
    return found


@pytest.mark.parametrize("k", [-0.05, -0.01, 0.0, 0.03])
def test_the_distortion_is_found_from_straight_edges(k: float) -> None:
    bend = bend_of_templates(edges_seen(k, 60), plain_view(), SIZE)
    assert bend is not None
    assert bend[0] == pytest.approx(k, abs=0.003)
    assert abs(bend[0] - k) < 3 * bend[1]


def test_a_few_edges_tell_nothing() -> None:
    assert bend_of_templates(edges_seen(0.02, 3), plain_view(), SIZE) is None


def test_some_round_edges_among_the_straight_do_not_mislead() -> None:
    found = edges_seen(0.02, 60)
    for each in found[:6]:
        each.points[:, 1] += 4 * np.linspace(-1, 1, 200) ** 2
    bend = bend_of_templates(found, plain_view(), SIZE)
    assert bend is not None
    assert bend[0] == pytest.approx(0.02, abs=0.004)


def test_edges_that_are_cut_straight_tell_more_than_edges_cut_by_hand() -> None:
    straight, by_hand = edges_seen(0.02, 40), edges_seen(0.02, 40)
    rng = np.random.default_rng(4)
    for each in by_hand:
        each.points[:, 1] += rng.normal(0, 0.4) * np.linspace(-1, 1, 200) ** 2
    one, other = (bend_of_templates(found, plain_view(), SIZE) for found in (straight, by_hand))
    assert one is not None
    assert other is not None
    assert one[1] < 0.5 * other[1]
    assert abs(other[0] - 0.02) < 3 * other[1]
