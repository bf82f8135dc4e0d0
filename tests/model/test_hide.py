from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box, get_parts
from shapely.ops import unary_union

from nestplan.errors import InputError, ShapeError
from nestplan.model import Disc, Flaw, Hide, Line, Region
from nestplan.model.files import read_hide, write_hide
from nestplan.model.rules import zones_of
from tests.small_jobs import HIGH, WIDE, plain_hide


def test_the_measured_area_leaves_holes_out_and_the_sellers_is_apart() -> None:
    hide = plain_hide(holes=(((100, 100), (200, 100), (200, 200), (100, 200)),), stated_area=900_000.0)
    assert hide.gross_area == WIDE * HIGH - 10_000.0
    assert hide.area_paid_for == 900_000.0
    assert plain_hide().area_paid_for == WIDE * HIGH


_BOXES = st.lists(
    st.tuples(st.integers(0, 8), st.integers(0, 6), st.integers(1, 3), st.integers(1, 2)),
    min_size=1,
    max_size=6,
)


@given(_BOXES)
@example([(7, 1, 1, 1)] * 3)
@example([(0, 0, 3, 2), (3, 2, 3, 2)])
@example([(1, 1, 3, 1), (1, 3, 3, 1), (1, 1, 1, 2), (3, 1, 1, 2)])
def test_holes_that_overlap_or_touch_are_counted_once(boxes: list[tuple[int, int, int, int]]) -> None:
    """The areas against GEOS's union of the same holes; what holes enclose is no leather of the hide."""
    holes = [box(40.0 * x, 40.0 * y, 40.0 * (x + w), 40.0 * (y + h)) for x, y, w, h in boxes]
    hide = plain_hide(holes=tuple(tuple(hole.exterior.coords)[:-1] for hole in holes))
    gone = unary_union([Polygon(part.exterior) for part in get_parts(unary_union(holes))])
    assert hide.gross_area == pytest.approx(WIDE * HIGH - gone.area)
    assert hide.surface.is_valid
    assert MultiPolygon([Polygon(ring) for ring in hide.hole_rings]).is_valid
    assert sum(zone.area.area for zone in zones_of(hide)) == pytest.approx(hide.gross_area)


def test_a_hole_along_the_edge_takes_leather_away_and_one_that_takes_all_is_refused() -> None:
    hide = plain_hide(holes=(((0, 0), (100, 0), (100, 50), (0, 50)),))
    assert hide.gross_area == pytest.approx(WIDE * HIGH - 5_000.0)
    assert sum(zone.area.area for zone in zones_of(hide)) == pytest.approx(hide.gross_area)
    whole = plain_hide().outline
    with pytest.raises(ShapeError, match="leave no leather"):
        plain_hide(holes=(whole,))


@pytest.mark.parametrize(
    ("backbone", "angle"),
    [
        (((0.0, 0.0), (100.0, 0.0)), 0.0),
        (((100.0, 0.0), (0.0, 0.0)), 180.0),
        (((0.0, 0.0), (0.0, -50.0)), 270.0),
        (((0.0, 0.0), (3.0, 9.0), (10.0, 10.0)), 45.0),
    ],
)
def test_the_backbone_runs_from_its_first_to_its_last_point_and_the_leather_gives_across_it(
    backbone: Any, angle: float
) -> None:
    hide = plain_hide(backbone=backbone)
    assert hide.backbone_angle == pytest.approx(angle)
    assert hide.stretch_axis == pytest.approx((angle + 90.0) % 180.0)


def test_a_stated_stretch_wins_over_the_backbone_and_without_either_none_is_known() -> None:
    assert plain_hide(stretch=200.0).stretch_axis == pytest.approx(20.0)
    assert plain_hide(backbone=None).stretch_axis is None
    assert plain_hide(backbone=None, stretch=10.0).stretch_axis == 10.0


@pytest.mark.parametrize(
    ("shape", "least"),
    [
        ({"disc": Disc(at=(50.0, 50.0), diameter=20.0)}, math.pi * 100.0),
        ({"line": Line(points=((0.0, 0.0), (100.0, 0.0)), width=4.0)}, 400.0 + math.pi * 4.0),
        ({"outline": ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))}, 100.0),
    ],
)
def test_a_flaw_is_never_smaller_than_it_was_drawn(shape: dict[str, Any], least: float) -> None:
    from nestplan.geometry.ring import area

    found = area(Flaw(spoils="grain", **shape).ring)
    assert least - 1e-9 <= found <= least * 1.02


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({}, ""),
        ({"disc": Disc(at=(0.0, 0.0), diameter=1.0), "line": Line(points=((0, 0), (1, 1)), width=1.0)}, ""),
        ({"disc": Disc(at=(0.0, 0.0), diameter=0.0)}, "disc.diameter"),
        ({"disc": Disc(at=(math.nan, 0.0), diameter=1.0)}, "disc"),
        ({"line": Line(points=((0.0, 0.0),), width=1.0)}, "line.points"),
        ({"line": Line(points=((0.0, 0.0), (1.0, 0.0)), width=-1.0)}, "line.width"),
        ({"disc": Disc(at=(0.0, 0.0), diameter=1.0), "margin": -1.0}, "margin"),
        ({"disc": Disc(at=(0.0, 0.0), diameter=1.0), "margin": 1001.0}, "margin"),
        ({"disc": Disc(at=(0.0, 0.0), diameter=1.0), "strength": 2.0}, "strength"),
    ],
)
def test_a_flaw_that_cannot_be_is_refused_with_its_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises(InputError) as caught:
        Flaw(spoils="grain", **fields)
    assert caught.value.place == place
    assert caught.value.mend


OUTSIDE = ((2000, 2000), (2100, 2000), (2100, 2100), (2000, 2100))


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"firmness": 6}, "firmness"),
        ({"thickness": (2.0, 1.0)}, "thickness"),
        ({"price": -1.0}, "price"),
        ({"price": math.inf}, "price"),
        ({"stretch": math.nan}, "stretch"),
        ({"backbone": ((0.0, 0.0),)}, "backbone"),
        ({"backbone": ((0.0, 0.0), (0.0, 0.0))}, "backbone"),
        ({"holes": (OUTSIDE,)}, "holes[0]"),
        ({"flaws": (Flaw(spoils="grain", outline=OUTSIDE),)}, "flaws[0]"),
        ({"regions": (Region(name="bend", outline=OUTSIDE),)}, "regions[0]"),
        ({"outline": ((0, 0), (100, 100), (100, 0), (0, 100))}, "outline"),
    ],
)
def test_a_hide_that_cannot_be_is_refused_with_its_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises((InputError, ShapeError)) as caught:
        plain_hide(**fields)
    assert caught.value.place == place


def test_two_regions_of_one_name_are_refused() -> None:
    bend = Region(name="bend", outline=((0, 0), (100, 0), (100, 100), (0, 100)))
    with pytest.raises(InputError, match="'bend' stands twice"):
        plain_hide(regions=(bend, bend))


def test_a_hide_built_with_whole_numbers_equals_one_read_with_fractions() -> None:
    one = Hide(name="h", leather="l", outline=((0, 0), (10, 0), (10, 10)))
    other = Hide(name="h", leather="l", outline=((0.0, 0.0), (10.0, 0.0), (10.0, 10.0)))
    assert one == other


def test_a_hole_that_rounding_in_files_would_put_outside_is_refused() -> None:
    # The hole's first point is inside the slanted left edge by a nanometre as drawn, and outside as files hold both.
    outline = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.00016, 100.0))
    hole = ((0.000049, 30.0), (50.0, 10.0), (50.0, 50.0))
    assert Polygon(outline).contains(Polygon(hole))
    with pytest.raises(ShapeError, match="not wholly inside"):
        plain_hide(outline=outline, holes=(hole,))
    assert plain_hide(outline=outline, holes=(((0.0004, 10.0), *hole[1:3]),)).holes


def test_what_only_touches_a_hide_does_so_too_once_it_is_written(tmp_path: Path) -> None:
    edge = ((1000.00004, 0.0), (1200.0, 0.0), (1200.0, 90.0))
    touching = (Flaw(spoils="grain", outline=edge),)
    hide = plain_hide(flaws=touching, regions=(Region(name="beside", outline=edge),))
    write_hide(tmp_path / "plain.hide.json", hide)
    assert read_hide(tmp_path / "plain.hide.json").regions[0].name == "beside"
    with pytest.raises(ShapeError, match="outside the hide"):
        plain_hide(flaws=(Flaw(spoils="grain", outline=((1000.1, 0.0), *edge[1:])),))
