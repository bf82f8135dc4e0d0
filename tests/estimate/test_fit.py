"""Wearers' measures to panels and belts."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, RuleError
from nestplan.estimate.fit import belt_blank, panel_widths, sizes_for, waist_of, waist_range

IN = 25.4


@given(
    st.floats(500, 1600),
    st.lists(st.floats(0.1, 5), min_size=1, max_size=8),
    st.floats(0, 40),
    st.integers(0, 8),
)
def test_panels_made_for_a_waist_close_at_it(
    waist: float, shares: list[float], gap: float, joins: int
) -> None:
    panels = panel_widths(waist, shares, gap, joins)
    assert waist_of(panels, gap, joins) == pytest.approx(waist)
    assert panels[0] / sum(panels) == pytest.approx(shares[0] / sum(shares))


def test_gaps_wider_than_the_waist_are_refused() -> None:
    with pytest.raises(RuleError, match="gaps alone"):
        panel_widths(400.0, [1, 1, 1, 1], 120.0)


@given(st.lists(st.floats(600, 1500), min_size=1, max_size=40), st.integers(1, 8), st.floats(5, 60))
def test_every_wearer_gets_one_size_that_fits(waists: list[float], panels: int, widest: float) -> None:
    sizes = sizes_for(waists, panels, 0.0, widest)
    fitted = sorted(wearer for size in sizes for wearer in size.wearers)
    assert fitted == list(range(len(waists)))
    for size in sizes:
        assert waist_range([size.panels / panels] * panels, 0.0, widest) == pytest.approx(
            (size.least, size.most)
        )
        assert all(size.least - 1e-6 <= waists[wearer] <= size.most + 1e-6 for wearer in size.wearers)


@given(st.lists(st.floats(600, 1500), min_size=1, max_size=7), st.floats(5, 60))
def test_no_fewer_sizes_would_do(waists: list[float], widest: float) -> None:
    """Against every way to cut the sorted waists into groups no wider than one belt's range."""
    ordered, fewest = sorted(waists), len(waists)
    for cuts in itertools.product((False, True), repeat=len(waists) - 1):
        edges = [0, *(place + 1 for place, cut in enumerate(cuts) if cut), len(waists)]
        groups = [ordered[start:end] for start, end in itertools.pairwise(edges)]
        if all(group[-1] - group[0] <= 4 * widest + 1e-9 for group in groups):
            fewest = min(fewest, len(groups))
    assert len(sizes_for(waists, 4, 0.0, widest)) == fewest


@given(
    st.floats(600, 1400),
    st.floats(15, 60),
    st.sampled_from([1, 3, 5, 7, 9]),
    st.sampled_from(["waist", "belt", "trousers"]),
)
def test_a_belt_is_worn_at_its_middle_hole(size: float, width: float, holes: int, sized_by: str) -> None:
    blank = belt_blank(size, width, sized_by=sized_by, holes=holes)  # type: ignore[arg-type]
    assert len(blank.holes) == holes
    worn = blank.holes[holes // 2] - blank.fold_at
    assert worn == pytest.approx(size + (50.8 if sized_by == "trousers" else 0.0))
    assert blank.length == pytest.approx(blank.holes[-1] + blank.tail)
    assert all(b - a == pytest.approx(25.0) for a, b in zip(blank.holes, blank.holes[1:], strict=False))


def test_a_trouser_size_is_not_a_belt_size() -> None:
    by_waist = belt_blank(34 * IN, 38.0, sized_by="waist")
    by_trousers = belt_blank(34 * IN, 38.0, sized_by="trousers")
    assert by_trousers.length - by_waist.length == pytest.approx(2 * IN)


@pytest.mark.parametrize(
    "wrong", [{"holes": 4}, {"width": 0.0}, {"sized_by": "hat"}, {"fold": -1.0}, {"holes": 99}]
)
def test_belts_that_cannot_be_are_refused(wrong: dict[str, object]) -> None:
    figures = {"size": 900.0, "width": 38.0, "sized_by": "waist"} | wrong
    with pytest.raises(InputError):
        belt_blank(**figures)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("refused", "told"),
    [
        (lambda: panel_widths(20 * IN, [1, 1], 12 * IN, units="in"), "take up 24 in of a waist of 20 in"),
        (lambda: waist_range([200.0], 2 * IN, IN, units="in"), "cannot be 2 in when closed and 1 in at"),
        (lambda: waist_of([200.0], -IN, units="in"), "A belt cannot have a gap of -1 in"),
        (lambda: sizes_for([30 * IN], 8, 0.0, 4 * IN, units="in"), "A waist of 30 in .* 8 gaps of 4 in"),
        (lambda: belt_blank(34 * IN, 0.0, sized_by="waist", units="in"), "a width of 0 in"),
        (lambda: belt_blank(34 * IN, 38.0, sized_by="waist", pitch=float("nan")), "a pitch of nan"),
    ],
)
def test_what_is_refused_is_told_in_the_unit_asked_for(refused: Callable[[], object], told: str) -> None:
    with pytest.raises((InputError, RuleError), match=told):
        refused()
