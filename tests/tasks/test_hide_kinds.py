from __future__ import annotations

import pytest

from nestplan.errors import InputError, UnitError
from nestplan.estimate.simulate import usual_kind
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.tasks.hide_kinds import hide_kind
from tests.generated_hides import generated_hide


def test_the_usual_kind_takes_the_figures_given() -> None:
    kind = hide_kind("sheep", area="7 ft2", price=4.0, currency="crowns")
    assert kind.area == pytest.approx(7 * MM2_PER_FT2)
    assert (kind.price, kind.currency) == (4.0, "crowns")
    assert hide_kind("sheep") == usual_kind("sheep")


def test_single_figures_are_changed_by_name_and_it_is_told() -> None:
    kind = hide_kind("cow-side", changes=["area_spread=0.2", "grain.per_m2=0"])
    assert kind.area_spread == 0.2
    assert [rate.per_m2 for rate in kind.flaws if rate.spoils == "grain"] == [0.0]
    assert [rate for rate in kind.flaws if rate.spoils != "grain"] == [
        rate for rate in usual_kind("cow-side").flaws if rate.spoils != "grain"
    ]
    assert kind.origin.endswith("changed by hand: area_spread=0.2, grain.per_m2=0")


def test_a_kind_is_measured_from_the_workshops_hides_with_an_area_of_its_own() -> None:
    hides = [generated_hide(seed, name=f"side {seed}") for seed in range(3)]
    measured = hide_kind("cow-side", like=hides)
    assert measured.area != usual_kind("cow-side").area
    larger = hide_kind("cow-side", like=hides, area="30 ft2")
    assert larger.area == pytest.approx(30 * MM2_PER_FT2)
    assert larger.origin.endswith("changed by hand: area")


@pytest.mark.parametrize(
    ("change", "words"),
    [("charm=1", "no figure 'charm'"), ("charm", "changes no figure"), ("grain.per_m2=-1", "out of range")],
)
def test_a_change_that_cannot_be_made_is_refused(change: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        hide_kind("sheep", changes=[change])


def test_an_area_without_a_unit_is_refused() -> None:
    with pytest.raises(UnitError, match="unit"):
        hide_kind("sheep", area="7")
