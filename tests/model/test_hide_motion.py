"""A hide that lies elsewhere: what is known of it goes along, and the plan on it keeps its form."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.model.hide import Disc, Flaw, Hide, Origin, Region
from nestplan.model.hide_motion import HideMotion, hide_as_it_lies, hide_redrawn, placement_along
from nestplan.model.plan import Placement

SQUARE = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 800.0), (0.0, 800.0))


def quarter_turn(give: float = 0.0) -> HideMotion:
    """A quarter turn, a shift, and a stretch along x."""
    turn = np.array([[0.0, -1.0], [1.0, 0.0]])
    return HideMotion(turn @ np.diag([1 + give, 1.0]), np.array([900.0, 10.0]))


def test_what_is_known_of_a_hide_goes_along() -> None:
    hide = Hide(
        name="cow",
        leather="side",
        outline=SQUARE,
        flaws=(Flaw(spoils="grain", disc=Disc(at=(100, 200), diameter=20)),),
        regions=(Region(name="belly", outline=((0, 0), (1000, 0), (1000, 200), (0, 200)), stretch=30.0),),
        backbone=((0, 700), (1000, 700)),
        price=12.0,
    )
    motion = quarter_turn()
    now = Hide(
        name="x", leather="x", outline=tuple(map(tuple, motion.moved(SQUARE))), origin=Origin(how="photo")
    )
    moved = hide_as_it_lies(hide, motion, now)
    assert (moved.name, moved.price, moved.origin) == ("cow", 12.0, now.origin)
    assert moved.flaws[0].disc is not None
    assert moved.flaws[0].disc.at == pytest.approx((700, 110))
    assert moved.regions[0].stretch == pytest.approx(120.0)
    assert moved.backbone_angle == pytest.approx(90.0)


def test_a_flaw_on_leather_that_is_gone_is_dropped_and_a_new_opening_added() -> None:
    hide = Hide(
        name="cow",
        leather="side",
        outline=SQUARE,
        flaws=(
            Flaw(spoils="grain", disc=Disc(at=(950, 400), diameter=20)),
            Flaw(spoils="through", disc=Disc(at=(200, 400), diameter=20)),
        ),
    )
    hole = ((400.0, 400.0), (440.0, 400.0), (440.0, 440.0), (400.0, 440.0))
    now = Hide(
        name="cow",
        leather="side",
        outline=((0, 0), (900, 0), (900, 800), (0, 800)),
        flaws=(
            Flaw(spoils="through", outline=hole),
            Flaw(spoils="through", disc=Disc(at=(201, 400), diameter=22)),
        ),
    )
    moved = hide_as_it_lies(hide, HideMotion(np.eye(2), np.zeros(2)), now)
    assert [flaw.spoils for flaw in moved.flaws] == ["through", "through"]
    assert moved.flaws[1].outline == hole


@given(
    angle=st.floats(-180, 180), give=st.floats(-0.02, 0.02), x=st.floats(-500, 500), mirrored=st.booleans()
)
def test_a_placement_keeps_its_form_and_its_pose_lays_the_piece_onto_it(
    angle: float, give: float, x: float, mirrored: bool
) -> None:
    piece = np.array([[0, 0], [80, 0], [60, 50], [0, 40]], dtype=float)
    base = Placement(
        hide="cow", piece="p", mirrored=mirrored, angle=20.0, x=300.0, y=200.0, finished=SQUARE, cut=SQUARE
    )
    ring = tuple(map(tuple, base.pose.apply_ring(piece)))
    placed = Placement(
        hide="cow", piece="p", mirrored=mirrored, angle=20.0, x=300.0, y=200.0, finished=ring, cut=ring
    )
    turn = np.radians(angle)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ np.diag(
        [1 + give, 1.0]
    )
    motion = HideMotion(matrix, np.array([x, 7.0]))
    moved = placement_along(placed, motion)
    assert np.allclose(moved.pose.apply_ring(piece), moved.finished_ring, atol=1e-6)
    before, after = shapely.Polygon(placed.cut_ring), shapely.Polygon(moved.cut_ring)
    assert after.area == pytest.approx(before.area)
    centre = motion.moved([(before.centroid.x, before.centroid.y)])[0]
    assert (after.centroid.x, after.centroid.y) == pytest.approx(tuple(centre), abs=1e-6)


def test_the_stretch_of_a_motion_is_told_along_its_two_directions() -> None:
    assert quarter_turn(0.01).stretch == pytest.approx((1.01, 1.0))
    assert quarter_turn(0.01).turn == pytest.approx(90.0)


def test_a_hide_is_redrawn_with_all_that_lies_on_it() -> None:
    hole = ((400.0, 400.0), (440.0, 400.0), (440.0, 440.0), (400.0, 440.0))
    hide = Hide(
        name="cow",
        leather="side",
        outline=SQUARE,
        holes=(hole,),
        flaws=(
            Flaw(spoils="through", outline=hole),
            Flaw(spoils="grain", disc=Disc(at=(100, 200), diameter=20)),
        ),
    )
    wider = hide_redrawn(hide, lambda points: points * np.array([1.01, 1.0]))
    assert wider.ring == pytest.approx(hide.ring * np.array([1.01, 1.0]))
    assert wider.hole_rings[0] == pytest.approx(np.array(hole) * np.array([1.01, 1.0]), abs=0.01)
    assert wider.flaws[0].ring == pytest.approx(np.array(hole) * np.array([1.01, 1.0]), abs=0.01)
    assert wider.flaws[1].disc is not None
    assert wider.flaws[1].disc.at == pytest.approx((101, 200))
