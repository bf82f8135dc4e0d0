"""The shape families of hides: true sizes, true regions, and what they refuse."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.model.anatomy import ANATOMY, HideTemplate, profile_through
from nestplan.model.tape_shape import hide_template

FT2 = 92_903.04


def _shares(hide: HideTemplate) -> dict[str, float]:
    """Share of the hide's area that each region holds, the later over the earlier."""
    shares: dict[str, float] = {}
    covered = shapely.Polygon()
    for zone in reversed(hide.regions):
        shares[zone.name] = shapely.Polygon(zone.ring).difference(covered).area / hide.area
        covered = covered.union(shapely.Polygon(zone.ring))
    return shares


@pytest.mark.parametrize("kind", sorted(ANATOMY))
def test_a_template_of_every_kind_has_the_area_asked_and_a_simple_outline(kind: str) -> None:
    hide = hide_template(kind, area=9.0 * FT2)
    polygon = shapely.Polygon(hide.ring)
    assert polygon.is_valid
    assert polygon.exterior.is_ccw
    assert polygon.area == pytest.approx(9.0 * FT2, rel=1e-9)
    assert hide.area == pytest.approx(9.0 * FT2, rel=1e-9)


@pytest.mark.parametrize("kind", sorted(ANATOMY))
def test_regions_cover_the_whole_hide_and_nothing_more(kind: str) -> None:
    hide = hide_template(kind, area=9.0 * FT2)
    outline = shapely.Polygon(hide.ring)
    zones = [shapely.Polygon(zone.ring) for zone in hide.regions]
    assert all(zone.is_valid and zone.exterior.is_ccw for zone in zones)
    assert len({zone.name for zone in hide.regions}) == len(zones)
    assert sum(_shares(hide).values()) == pytest.approx(1.0, rel=1e-6)
    assert shapely.union_all(zones).difference(outline).area < 1.0


def test_both_bellies_hold_their_published_share_of_a_hide() -> None:
    """23 % of the hide: bookbinding dictionary, cool.culturalheritage.org dt0269."""
    hide = hide_template("cow-hide")
    assert _shares(hide)["belly"] == pytest.approx(0.23, abs=0.003)


def test_the_value_zones_come_near_the_published_shares() -> None:
    """Butt and bend 43 %, shoulder 32 %, head and belly 25 %: one footwear maker."""
    hide = hide_template("cow-side")
    share = _shares(hide)
    assert share["bend"] == pytest.approx(0.43, abs=0.04)
    assert share["shoulder"] + share["neck"] == pytest.approx(0.32, abs=0.04)


@given(st.lists(st.floats(0.05, 1.0), min_size=3, max_size=12))
def test_a_profile_passes_its_points_and_stays_between_them(widths: list[float]) -> None:
    places = np.linspace(0.0, 1.0, len(widths))
    points = list(zip(places.tolist(), widths, strict=True))
    assert profile_through(points, places) == pytest.approx(widths)
    fine = np.linspace(0.0, 1.0, 300)
    drawn = profile_through(points, fine)
    piece = np.clip(np.searchsorted(places, fine, side="right") - 1, 0, len(widths) - 2)
    ends = np.sort(np.column_stack([np.array(widths)[piece], np.array(widths)[piece + 1]]))
    assert (drawn >= ends[:, 0] - 1e-9).all()
    assert (drawn <= ends[:, 1] + 1e-9).all()
