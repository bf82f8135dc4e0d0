from __future__ import annotations

import math
from typing import Any

import pytest
import shapely

from nestplan.errors import InputError, ShapeError
from nestplan.estimate.supplies import glue_area
from nestplan.model import LayerCut, Mark, Overcut, Part, Piece, StretchRule, Strip
from nestplan.model.layer_work import net_area_of_layer
from nestplan.model.piece import FLATTENING, cut_ring
from tests.small_jobs import SQUARE

HOLE = ((40.0, 40.0), (60.0, 40.0), (60.0, 60.0), (40.0, 60.0))


def test_a_piece_is_its_outline_less_its_openings() -> None:
    assert Piece(name="p", outline=SQUARE).net_area == 10_000.0
    assert Piece(name="p", outline=SQUARE, holes=(HOLE,)).net_area == 9_600.0


def test_openings_that_overlap_are_taken_off_once() -> None:
    beside = tuple((x + 10.0, y) for x, y in HOLE)
    for holes, gone in (((HOLE, HOLE), 400.0), ((HOLE, beside), 600.0)):
        piece = Piece(
            name="p", outline=SQUARE, holes=holes, cuts=(LayerCut(layer="outer"), LayerCut(layer="lining"))
        )
        assert piece.net_area == pytest.approx(10_000.0 - gone)
        assert net_area_of_layer(piece, "outer") == pytest.approx(10_000.0 - gone)
        assert glue_area(piece, None) == pytest.approx(10_000.0 - gone)


def test_what_openings_enclose_together_falls_out_with_them() -> None:
    slots = [(30, 30, 70, 35), (30, 65, 70, 70), (30, 30, 35, 70), (65, 30, 70, 70), (48, 48, 52, 52)]
    holes = tuple(((a, b), (c, b), (c, d), (a, d)) for a, b, c, d in slots)
    piece = Piece(name="p", outline=SQUARE, holes=holes)
    assert piece.net_area == pytest.approx(10_000.0 - 1_600.0)
    assert net_area_of_layer(piece, "leather") == pytest.approx(10_000.0 - 1_600.0)


def test_a_pair_goes_twice_into_a_set() -> None:
    assert Piece(name="p", outline=SQUARE, count=3).copies_in_set == 3
    assert Piece(name="p", outline=SQUARE, count=3, pair=True).copies_in_set == 6


def test_parts_ask_for_more_in_their_own_layers_only() -> None:
    everywhere, outer = Part(outline=HOLE, name="all"), Part(outline=HOLE, name="outer", layers=("outer",))
    piece = Piece(name="p", outline=SQUARE, parts=(everywhere, outer))
    assert piece.parts_in("outer") == (everywhere, outer)
    assert piece.parts_in("lining") == (everywhere,)


@pytest.mark.parametrize("overcut", [0.0, 0.5, 7.0, 40.0])
def test_a_cut_shape_is_never_inside_the_overcut_and_little_outside(overcut: float) -> None:
    piece = Piece(name="p", outline=SQUARE)
    found = shapely.Polygon(cut_ring(piece.ring, overcut))
    edge = shapely.Polygon(piece.ring)
    assert found.exterior.distance(edge) >= overcut - 1e-9
    corners = shapely.points(shapely.get_coordinates(found))
    assert shapely.distance(corners, edge).max() <= overcut + FLATTENING + 1e-6


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"count": 0}, "count"),
        ({"count": 1001}, "count"),
        ({"cuts": ()}, "cuts"),
        ({"cuts": (LayerCut(layer="a"), LayerCut(layer="a"))}, "cuts"),
        ({"value": math.inf}, "value"),
        ({"holes": (((90.0, 90.0), (110.0, 90.0), (110.0, 110.0)),)}, "holes[0]"),
        ({"parts": (Part(outline=((90.0, 90.0), (110.0, 90.0), (110.0, 110.0))),)}, "parts[0].outline"),
        ({"marks": (Mark(at=(150.0, 50.0)),)}, "marks[0].at"),
    ],
)
def test_a_piece_that_cannot_be_is_refused_with_its_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises((InputError, ShapeError)) as caught:
        Piece(name="p", outline=SQUARE, **fields)
    assert caught.value.place == place


@pytest.mark.parametrize(
    ("kind", "fields", "place"),
    [
        (Overcut, {"least": -1.0, "wished": 1.0}, "least"),
        (Overcut, {"least": 3.0, "wished": 2.0}, "wished"),
        (Overcut, {"least": 0.0, "wished": 0.0}, "wished"),
        (Overcut, {"least": 0.0, "wished": 101.0}, "wished"),
        (StretchRule, {"tolerance": 91.0}, "tolerance"),
        (StretchRule, {"axis": math.nan}, "axis"),
        (LayerCut, {"least_firmness": 0}, "least_firmness"),
        (Part, {"outline": HOLE, "least_firmness": 6}, "least_firmness"),
    ],
)
def test_what_asks_for_the_impossible_is_refused(kind: Any, fields: dict[str, Any], place: str) -> None:
    with pytest.raises(InputError) as caught:
        kind(**fields)
    assert caught.value.place == place


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"width": 0.4}, "width"),
        ({"width": 50.0, "length": 40.0}, "length"),
        ({"length": 1_000_001.0}, "length"),
        ({"count": 0}, "count"),
        ({"joins": 101}, "joins"),
        ({"lap": -1.0}, "lap"),
        ({"least_part": 0.0}, "lap"),
        ({"tolerance": -1.0}, "tolerance"),
        ({"least_firmness": 9}, "least_firmness"),
        ({"width": math.nan}, "width"),
    ],
)
def test_a_strip_that_cannot_be_is_refused_with_its_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises(InputError) as caught:
        Strip(**{"name": "strap", "width": 20.0, "length": 900.0, **fields})
    assert caught.value.place == place


def test_a_hole_near_the_edge_and_a_slit_through_it_are_warned_of() -> None:
    marks = (
        Mark(at=(50.0, 50.0), do="punch", diameter=6.0),
        Mark(at=(9.0, 50.0), do="punch", diameter=6.0),
        Mark(at=(95.0, 50.0), do="slit", length=20.0, angle=0.0),
        Mark(at=(95.0, 20.0), do="slit", length=20.0, angle=90.0),
    )
    warnings = Piece(name="p", outline=SQUARE, marks=marks).warnings()
    assert warnings == (
        "p: the 6.0 mm hole at (9.0, 50.0) has its centre 9.0 mm from the edge; at least 10.0 mm is usual.",
        "p: the slit of 20.0 mm at (95.0, 50.0) runs through the edge.",
    )


def test_several_holes_alike_are_warned_of_once_in_the_unit_asked_for() -> None:
    marks = tuple(Mark(at=(9.0, y), do="punch", diameter=9.525) for y in (30.0, 50.0, 70.0))
    piece = Piece(name="p", outline=SQUARE, marks=marks)
    assert piece.warnings() == (
        "p: 3 holes of 9.5 mm have their centre nearer to the edge than is usual, the nearest, at (9.0, 30.0), 9.0 mm; "
        "at least 15.9 mm is usual.",
    )
    assert piece.warnings("in") == (
        "p: 3 holes of 3/8 in have their centre nearer to the edge than is usual, the nearest, at (0.35, 1.18), "
        "0.35 in; at least 0.62 in is usual.",
    )
