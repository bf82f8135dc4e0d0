"""Pieces from measures: sizes, areas by formula, holes, ends; and figures that cannot be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.geometry.ring import signed_area
from nestplan.intake.panels import (
    PANELS,
    disc,
    lace,
    pointed_panel,
    scalloped_panel,
    strap,
    trapezoid_panel,
)
from nestplan.model import Piece, Strip


@pytest.mark.parametrize("kind", sorted(PANELS))
def test_every_kind_makes_a_sound_piece_of_its_first_figures(kind: str) -> None:
    panel = PANELS[kind]
    made = panel.make("a", **{parameter.name: parameter.default for parameter in panel.parameters})
    assert isinstance(made, Piece | Strip)
    if isinstance(made, Piece):
        assert signed_area(np.asarray(made.outline)) > 0
        assert made.ring.min(axis=0) == pytest.approx([0, 0])
        assert made.warnings() == ()


sizes = st.floats(5, 2000)


@given(top=sizes, bottom=sizes, height=sizes, lean=st.floats(-500, 500))
def test_a_trapezoid_has_the_area_of_the_formula(
    top: float, bottom: float, height: float, lean: float
) -> None:
    piece = trapezoid_panel("a", top=top, bottom=bottom, height=height, lean=lean)
    assert piece.net_area == pytest.approx((top + bottom) / 2 * height)


@given(width=st.floats(20, 1000), scallops=st.integers(1, 12), share=st.floats(0.02, 0.5))
def test_scallops_add_circle_segments_below_the_sides(width: float, scallops: int, share: float) -> None:
    span = width / scallops
    depth = share * span
    piece = scalloped_panel("a", width=width, height=depth + 80, scallops=scallops, depth=depth)
    assert np.ptp(piece.ring, axis=0) == pytest.approx([width, depth + 80])
    radius = (span**2 / 4 + depth**2) / (2 * depth)
    half = math.asin(min(span / 2 / radius, 1.0))
    segment = radius**2 * (half - math.sin(half) * math.cos(half))
    assert piece.net_area == pytest.approx(width * 80 + scallops * segment, rel=1e-3)


def test_a_point_stands_out_below_the_sides() -> None:
    piece = pointed_panel("a", width=120, height=140, point=40)
    assert piece.net_area == pytest.approx(120 * 100 + 120 * 40 / 2)


@pytest.mark.parametrize(
    ("tip", "lost"),
    [("square", 0.0), ("point", 20 * 20 * 1.0), ("bevel", 40 * 40 / 2), ("round", 20 * 40 - math.pi * 200)],
)
def test_the_end_of_a_strap_takes_its_area_and_no_length(tip: str, lost: float) -> None:
    for ends in ({"tip": tip}, {"tip": "square", "butt": tip}):
        piece = strap("a", length=500, width=40, **ends)  # type: ignore[arg-type]
        assert np.ptp(piece.ring, axis=0) == pytest.approx([500, 40])
        assert piece.net_area == pytest.approx(500 * 40 - lost, rel=1e-3)


def test_holes_of_a_strap_lie_on_its_middle_line_from_the_tip() -> None:
    piece = strap("a", length=1000, width=38, holes=5, pitch=25, diameter=4, first=100)
    assert [mark.at for mark in piece.marks] == [(900.0 - 25 * k, 19.0) for k in range(5)]
    assert {mark.do for mark in piece.marks} == {"punch"}
    assert strap("a", length=1000, width=38, holes=1).marks[0].at == (1000 - 2.5 * 38, 19.0)


def test_a_disc_may_have_an_opening_and_a_lace_is_a_strip() -> None:
    assert disc("a", diameter=100).net_area == pytest.approx(math.pi * 2500, rel=1e-3)
    assert disc("a", diameter=100, hole=50).net_area == pytest.approx(math.pi * 1875, rel=1e-3)
    made = lace("a", length=1500, width=5, count=14, joins=2)
    assert (made.use, made.source, made.count, made.joins) == ("lace", "either", 14, 2)


@pytest.mark.parametrize(
    ("make", "figures", "place"),
    [
        (trapezoid_panel, {"top": 0.0, "bottom": 1.0, "height": 1.0}, "top"),
        (trapezoid_panel, {"top": 1.0, "bottom": 1.0, "height": float("nan")}, "height"),
        (trapezoid_panel, {"top": 1.0, "bottom": 1.0, "height": 1.0, "lean": 9e9}, "lean"),
        (scalloped_panel, {"width": 100.0, "height": 50.0, "scallops": 0, "depth": 5.0}, "scallops"),
        (scalloped_panel, {"width": 100.0, "height": 50.0, "scallops": 4, "depth": 13.0}, "depth"),
        (pointed_panel, {"width": 100.0, "height": 50.0, "point": 50.0}, "point"),
        (strap, {"length": 30.0, "width": 40.0}, "width"),
        (strap, {"length": 41.0, "width": 40.0, "tip": "bevel", "butt": "bevel"}, "length"),
        (strap, {"length": 500.0, "width": 40.0, "tip": "wavy"}, "tip or butt"),
        (strap, {"length": 500.0, "width": 40.0, "holes": 40}, "holes"),
        (strap, {"length": 500.0, "width": 40.0, "holes": 3, "pitch": 2.0}, "holes"),
        (disc, {"diameter": 100.0, "hole": 100.0}, "hole"),
        (lace, {"length": -1.0, "width": 5.0}, "length"),
    ],
)
def test_figures_that_cannot_be_are_refused(make: object, figures: dict[str, object], place: str) -> None:
    with pytest.raises(InputError) as caught:
        make("a", **figures)  # type: ignore[operator]
    assert caught.value.place == place
    assert caught.value.mend
