"""Simulated hides: repeatable, of the size, spread and flaw rate stated, and valid hides of the model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from nestplan.errors import InputError
from nestplan.estimate.simulate import (
    area_from_length,
    kind_from_hides,
    simulate_hide,
    simulate_hides,
    usual_kind,
)
from nestplan.model.anatomy import ANATOMY

FT2 = 92_903.04


@pytest.mark.parametrize("kind", sorted(ANATOMY))
def test_every_kind_gives_valid_hides(kind: str) -> None:
    for hide in simulate_hides(usual_kind(kind, area=12 * FT2), seed=3, count=4):
        outline = shapely.Polygon(hide.ring)
        assert outline.is_valid
        assert hide.origin is not None
        assert hide.origin.how == "simulated"
        assert {region.name for region in hide.regions} <= {"bend", "back", "shoulder", "neck", "belly"}


def test_the_same_seed_and_number_give_the_same_hide() -> None:
    kind = usual_kind("cow-side")
    assert simulate_hide(kind, 5, 7) == simulate_hide(kind, 5, 7)
    assert simulate_hide(kind, 5, 7) != simulate_hide(kind, 6, 7)
    assert simulate_hides(kind, 5, 3, start=6)[1] == simulate_hide(kind, 5, 7)


def test_areas_have_the_stated_mean_and_spread() -> None:
    kind = replace(usual_kind("cow-side", area=25 * FT2), area_spread=0.12, flaws=())
    areas = np.array([hide.gross_area for hide in simulate_hides(kind, 1, 200)]) / (25 * FT2)
    assert areas.mean() == pytest.approx(1.0, abs=4 * 0.12 / 14)
    assert areas.std(ddof=1) == pytest.approx(0.12, rel=0.25)


def test_flaws_come_at_the_stated_rate_and_lie_on_the_hide() -> None:
    kind = usual_kind("double-shoulder")
    hides = simulate_hides(kind, 2, 160)
    square_metres = sum(hide.gross_area for hide in hides) / 1e6
    for rate in kind.flaws:
        found = sum(flaw.spoils == rate.spoils for hide in hides for flaw in hide.flaws)
        # Hides differ in their number of flaws, so the count spreads more than Poisson's.
        assert found / square_metres == pytest.approx(rate.per_m2, rel=0.25)


def test_no_flaws_where_none_are_asked() -> None:
    kind = replace(usual_kind("cow-side"), flaws=())
    assert all(hide.flaws == () for hide in simulate_hides(kind, 1, 5))


def test_marked_area_and_price_follow_the_seller() -> None:
    kind = replace(usual_kind("sheep", price=6.0, currency="crowns"), marked=1.05)
    hide = simulate_hide(kind, 1, 0)
    assert hide.stated_area == pytest.approx(1.05 * hide.gross_area, rel=1e-6)
    assert hide.price == pytest.approx(6.0 * 1.05 * hide.gross_area / FT2, rel=1e-6)


def test_a_kind_measured_on_simulated_hides_comes_back_near_its_own_figures() -> None:
    truth = replace(usual_kind("cow-side", area=22 * FT2, price=9.0), area_spread=0.08, marked=1.03)
    measured = kind_from_hides("cow-side", simulate_hides(truth, 11, 150))
    assert measured.area == pytest.approx(truth.area, rel=0.03)
    assert measured.area_spread == pytest.approx(0.08, rel=0.25)
    assert measured.marked == pytest.approx(1.03, rel=1e-6)
    assert measured.price == pytest.approx(9.0, rel=1e-6)
    for found, true in zip(measured.flaws, truth.flaws, strict=True):
        assert found.per_m2 == pytest.approx(true.per_m2, rel=0.25)
        assert found.median == pytest.approx(true.median, rel=0.25)
    with pytest.raises(InputError, match="too few"):
        kind_from_hides("cow-side", simulate_hides(truth, 1, 2))


def test_every_setting_is_said_in_words() -> None:
    words = " ".join(usual_kind("cow-side").words)
    for part in (
        "not measured",
        "profile ours",
        "25 ft²",
        "spread 10.0%",
        "through",
        "beyond the bend",
        "seller's area",
    ):
        assert part in words


def test_kinds_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="no kind"):
        usual_kind("dragon")
    with pytest.raises(InputError, match="Give the usual area"):
        usual_kind("deer")
    with pytest.raises(InputError, match="area_spread"):
        replace(usual_kind("cow-side"), area_spread=3.0)


def test_a_length_gives_the_area_of_the_shape() -> None:
    area = area_from_length("goat", 1000.0)
    hide = simulate_hide(replace(usual_kind("goat", area=area), area_spread=0.0, slenderness=0.0), 1, 0)
    low, high = hide.ring.min(axis=0), hide.ring.max(axis=0)
    assert high[0] - low[0] == pytest.approx(1000.0, rel=0.02)
    assert hide.gross_area == pytest.approx(area, rel=0.01)
    with pytest.raises(InputError, match="not 5000 mm long"):
        area_from_length("goat", 5000.0)
