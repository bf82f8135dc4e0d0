"""Where a piece may lie: each rule of the trade becomes the right area at the right turns."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from nestplan.geometry.pose import Pose
from nestplan.model import Flaw, Job, LayerCut, Overcut, Part, Permissions, Piece, StretchRule
from nestplan.model.rules import AllowedPlacement, PlacementRules, zones_of
from nestplan.model.values import as_points
from tests.small_jobs import (
    HANDED,
    SQUARE,
    flawed_hide,
    one_piece_job,
    plain_hide,
    strap_job,
    two_region_hide,
)


def only_placement(job: Job, hide: object = None) -> AllowedPlacement:
    placements = PlacementRules(hide or plain_hide(), job).for_piece(job.cut_pieces[0])
    assert len(placements) == 1
    return placements[0]


def fits(allowed: AllowedPlacement, pose: Pose) -> bool:
    """Whether every constraint holds at a pose."""
    return allowed.turns.contains(pose.angle) and all(
        constraint.area.buffer(1e-6).contains(Polygon(pose.apply(constraint.ring)))
        for constraint in allowed.constraints
    )


@pytest.mark.parametrize(
    ("spoils", "shows", "may_cover"),
    [
        ("through", "hidden", False),
        ("through", "grain", False),
        ("grain", "grain", False),
        ("grain", "both", False),
        ("grain", "flesh", True),
        ("grain", "hidden", True),
        ("flesh", "flesh", False),
        ("flesh", "grain", True),
        ("mark", "both", True),
    ],
)
def test_a_finished_outline_keeps_off_flaws_that_spoil_what_it_shows(
    spoils: str, shows: str, may_cover: bool
) -> None:
    piece = Piece(name="square", outline=SQUARE, cuts=(LayerCut(shows=shows),))
    allowed = only_placement(one_piece_job(piece), flawed_hide(spoils))
    assert fits(allowed, Pose(450, 350)) is may_cover
    assert fits(allowed, Pose(100, 100))


def test_the_margin_of_a_flaw_is_kept_in_full() -> None:
    allowed = only_placement(one_piece_job(), flawed_hide("grain", margin=10.0))
    area = allowed.constraints[0].area
    assert area.distance(Point(500, 400)) >= 30.0
    assert area.distance(Point(500, 400)) == pytest.approx(30.0, abs=0.15)


def test_the_overcut_band_may_cover_a_spoiled_face_but_no_hole() -> None:
    piece = Piece(name="square", outline=SQUARE, cuts=(LayerCut(overcut=Overcut(least=50.0, wished=60.0)),))
    band_over_flaw = Pose(530, 350)
    assert fits(only_placement(one_piece_job(piece), flawed_hide("grain")), band_over_flaw)
    assert not fits(only_placement(one_piece_job(piece), flawed_hide("through")), band_over_flaw)
    allowing = one_piece_job(piece, permissions=Permissions(through_flaws_in_overcut=True))
    assert fits(only_placement(allowing, flawed_hide("through")), band_over_flaw)
    assert not fits(only_placement(allowing, flawed_hide("through")), Pose(450, 350))


def test_the_overcut_may_run_off_the_edge_only_by_leave() -> None:
    piece = Piece(name="square", outline=SQUARE, cuts=(LayerCut(overcut=Overcut(least=10.0, wished=10.0)),))
    at_the_edge = Pose(5, 300)
    assert not fits(only_placement(one_piece_job(piece)), at_the_edge)
    assert fits(only_placement(one_piece_job(piece, permissions=Permissions(run_off=6.0))), at_the_edge)
    assert not fits(
        only_placement(one_piece_job(piece, permissions=Permissions(run_off=30.0))), Pose(-5, 300)
    )


def test_regions_and_firmness_bound_the_finished_outline() -> None:
    left, right = Pose(200, 300), Pose(700, 300)
    for cut in (
        LayerCut(regions=("bend",)),
        LayerCut(not_regions=("belly",)),
        LayerCut(least_firmness=3),
    ):
        allowed = only_placement(
            one_piece_job(Piece(name="square", outline=SQUARE, cuts=(cut,))), two_region_hide()
        )
        assert fits(allowed, left)
        assert not fits(allowed, right)
        assert not fits(allowed, Pose(450, 300))
    free = only_placement(one_piece_job(), two_region_hide())
    assert fits(free, Pose(450, 300))


def test_a_part_may_ask_for_more_than_the_whole() -> None:
    half = ((0.0, 0.0), (50.0, 0.0), (50.0, 100.0), (0.0, 100.0))
    piece = Piece(name="square", outline=SQUARE, parts=(Part(outline=half, not_regions=("belly",)),))
    allowed = only_placement(one_piece_job(piece), two_region_hide())
    assert fits(allowed, Pose(440, 300))
    assert not fits(allowed, Pose(470, 300))
    assert not fits(allowed, Pose(560, 400, 180.0)), "turned round, that part lies on the belly"


def test_the_stretch_axis_lies_along_the_local_stretch() -> None:
    piece = Piece(
        name="square", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=90.0, tolerance=15.0)),)
    )
    allowed = only_placement(one_piece_job(piece))
    for angle, right in (
        (0, True),
        (15, True),
        (16, False),
        (90, False),
        (165, True),
        (180, True),
        (200, False),
    ):
        assert allowed.turns.contains(angle) is right


def test_a_part_that_stretches_every_way_takes_no_piece_with_a_stretch_rule() -> None:
    piece = Piece(
        name="square", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=90.0, tolerance=15.0)),)
    )
    allowed = only_placement(one_piece_job(piece), two_region_hide())
    assert fits(allowed, Pose(200, 300))
    assert not fits(allowed, Pose(700, 300))


def test_regions_with_two_stretch_directions_open_at_different_turns() -> None:
    hide = two_region_hide()
    hide = msgspec.structs.replace(
        hide, regions=(hide.regions[0], msgspec.structs.replace(hide.regions[1], stretch=60.0))
    )
    piece = Piece(
        name="square", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=90.0, tolerance=20.0)),)
    )
    job = one_piece_job(piece)
    placements = PlacementRules(hide, job).for_piece(job.cut_pieces[0])

    def at(x: float, angle: float) -> bool:
        return any(fits(allowed, Pose(x, 300, angle)) for allowed in placements)

    assert at(200, 0)
    assert not at(800, 0)
    assert not at(200, -30 % 360)
    assert at(800, -30 % 360)
    assert at(480, -15 % 360), "at 15° both halves are open, so it may lie across their border"
    assert not at(480, 0)


def test_a_hide_without_a_direction_takes_no_piece_with_a_stretch_rule() -> None:
    piece = Piece(
        name="square", outline=SQUARE, cuts=(LayerCut(stretch=StretchRule(axis=90.0, tolerance=15.0)),)
    )
    job = one_piece_job(piece)
    assert PlacementRules(plain_hide(backbone=None), job).for_piece(job.cut_pieces[0]) == ()


def test_turning_over_is_allowed_only_by_the_pattern() -> None:
    assert len(PlacementRules(plain_hide(), one_piece_job()).for_piece(one_piece_job().cut_pieces[0])) == 1
    job = one_piece_job(Piece(name="handed", outline=HANDED, turn_over=True))
    flipped = [allowed.flipped for allowed in PlacementRules(plain_hide(), job).for_piece(job.cut_pieces[0])]
    assert flipped == [False, True]


def test_a_mirrored_piece_turns_its_stretch_axis_with_it() -> None:
    cut = LayerCut(stretch=StretchRule(axis=60.0, tolerance=5.0))
    job = one_piece_job(Piece(name="handed", outline=HANDED, pair=True, cuts=(cut,)))
    left, right = job.cut_pieces
    (allowed_left,), (allowed_right,) = (
        PlacementRules(plain_hide(), job).for_piece(piece) for piece in (left, right)
    )
    assert allowed_left.turns.contains(30.0)
    assert not allowed_right.turns.contains(30.0)
    assert allowed_right.turns.contains(330.0)


def test_strips_keep_off_every_flaw_even_a_mark() -> None:
    for spoils in ("through", "grain", "flesh", "mark"):
        area = PlacementRules(flawed_hide(spoils), strap_job()).strip_area(strap_job().strip("strap"))
        assert not area.contains(Point(500, 400))
        tolerant = strap_job(over_flaws=True)
        area = PlacementRules(flawed_hide(spoils), tolerant).strip_area(tolerant.strip("strap"))
        assert area.contains(Point(500, 400)) is (spoils != "through")


def test_zones_tile_the_hide_and_the_later_region_wins() -> None:
    hide = two_region_hide()
    over = msgspec.structs.replace(
        hide.regions[0], name="scar", outline=((400, 0), (600, 0), (600, 800), (400, 800))
    )
    zones = zones_of(msgspec.structs.replace(hide, regions=(*hide.regions, over)))
    assert math.isclose(sum(zone.area.area for zone in zones), hide.gross_area)
    assert next(zone for zone in zones if zone.area.contains(Point(450, 100))).name == "scar"


def test_relaxing_a_rule_opens_what_only_that_rule_kept_shut() -> None:
    piece = Piece(name="square", outline=SQUARE, cuts=(LayerCut(regions=("belly",)),))
    job = one_piece_job(piece)
    assert not fits(PlacementRules(two_region_hide(), job).for_piece(job.cut_pieces[0])[0], Pose(200, 300))
    opened = PlacementRules(two_region_hide(), job, relaxed=frozenset({"regions"})).for_piece(
        job.cut_pieces[0]
    )
    assert fits(opened[0], Pose(200, 300))


@given(
    reach=st.lists(st.floats(10.0, 60.0), min_size=3, max_size=12),
    margin=st.floats(0.5, 60.0),
)
@settings(max_examples=60, deadline=None)
def test_a_margin_is_kept_at_every_corner_of_a_flaw(reach: list[float], margin: float) -> None:
    turns = np.linspace(0.0, 2.0 * np.pi, len(reach), endpoint=False)
    spots = np.array(reach)[:, None] * np.column_stack((np.cos(turns), np.sin(turns))) + (500.0, 400.0)
    flaw = Flaw(spoils="through", outline=as_points(spots), margin=margin)
    hide = plain_hide(flaws=(flaw,))
    room = only_placement(one_piece_job(), hide).constraints[0].area
    whole = Polygon(flaw.ring)
    edge = shapely.segmentize(shapely.MultiLineString(list(room.interiors)), margin / 20)
    apart = shapely.distance(shapely.points(shapely.get_coordinates(edge)), whole)
    assert apart.min() >= margin * (1.0 - 1e-9)
    assert apart.max() <= margin + 0.051
