"""The audit finds every kind of wrong plan, and passes a right one."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from nestplan.geometry.pose import Pose
from nestplan.model import (
    Flaw,
    Job,
    Layer,
    LayerCut,
    Line,
    Part,
    Permissions,
    Piece,
    Placement,
    Region,
    StretchRule,
)
from nestplan.model.audit import check
from nestplan.model.audit_geometry import AuditedHide
from nestplan.model.rules import zones_of
from tests.small_jobs import (
    HANDED,
    SQUARE,
    flawed_hide,
    laid,
    lined_piece,
    one_piece_job,
    plain_hide,
    plan_of,
    strap_job,
    two_region_hide,
)


def rules_broken(job: Job, placements: list[Placement], hide: object = None, **changes: Any) -> set[str]:
    hides = (hide or plain_hide(),)
    return {fault.rule for fault in check(plan_of(job, hides, placements, **changes), job, hides)}


def square_job(**changes: Any) -> tuple[Job, Piece]:
    piece = Piece(name="square", outline=SQUARE, **changes)
    return one_piece_job(piece, sets=2), piece


def test_a_right_plan_has_no_faults() -> None:
    job, piece = square_job()
    placements = [laid(job, piece, Pose(10, 10)), laid(job, piece, Pose(111.5, 10), copy=2, set=2)]
    assert rules_broken(job, placements) == set()


def test_overlap_and_gap_are_told_apart() -> None:
    job, piece = square_job()
    near = [laid(job, piece, Pose(10, 10)), laid(job, piece, Pose(111, 10), copy=2)]
    assert rules_broken(job, near) == {"gap"}
    over = [laid(job, piece, Pose(10, 10)), laid(job, piece, Pose(109, 10), copy=2)]
    assert rules_broken(job, over) == {"overlap"}


def test_a_piece_may_not_leave_the_hide() -> None:
    job, piece = square_job()
    assert rules_broken(job, [laid(job, piece, Pose(-0.5, 10))]) == {"hide"}


@pytest.mark.parametrize("spoils", ["through", "grain"])
def test_a_flaw_under_a_piece_is_found(spoils: str) -> None:
    job, piece = square_job()
    assert rules_broken(job, [laid(job, piece, Pose(450, 350))], flawed_hide(spoils)) == {"flaw"}


def test_a_margin_that_is_cut_short_is_found() -> None:
    job, piece = square_job()
    hide = flawed_hide("grain", margin=10.0)
    assert rules_broken(job, [laid(job, piece, Pose(530.05, 350))], hide) == set()
    assert rules_broken(job, [laid(job, piece, Pose(529.9, 350))], hide) == {"flaw"}


def test_region_firmness_and_part_are_checked() -> None:
    for changes in (
        {"cuts": (LayerCut(regions=("bend",)),)},
        {"cuts": (LayerCut(least_firmness=2),)},
        {"parts": (Part(outline=((0, 0), (40, 0), (40, 100), (0, 100)), not_regions=("belly",)),)},
    ):
        job, piece = square_job(**changes)
        assert rules_broken(job, [laid(job, piece, Pose(200, 300))], two_region_hide()) == set()
        assert rules_broken(job, [laid(job, piece, Pose(700, 300))], two_region_hide()) == {"region"}


def test_a_piece_turned_against_the_stretch_is_found() -> None:
    job, piece = square_job(cuts=(LayerCut(stretch=StretchRule(axis=90.0, tolerance=15.0)),))
    assert rules_broken(job, [laid(job, piece, Pose(300, 300, 14.9))]) == set()
    assert rules_broken(job, [laid(job, piece, Pose(300, 300, 16.0))]) == {"stretch"}
    assert rules_broken(job, [laid(job, piece, Pose(700, 300))], two_region_hide()) == {"stretch"}


def test_an_outline_that_is_not_the_piece_at_its_pose_is_found() -> None:
    job, piece = square_job()
    moved = msgspec.structs.replace(laid(job, piece, Pose(10, 10)), x=10.5)
    assert rules_broken(job, [moved]) == {"shape"}


def test_an_outline_is_the_same_wherever_it_begins_and_with_a_point_more_on_an_edge() -> None:
    job, piece = square_job()
    one = laid(job, piece, Pose(10, 10))
    first, *others = one.finished
    middle = ((first[0] + others[0][0]) / 2.0, (first[1] + others[0][1]) / 2.0)
    for points in ((*others, first), (first, middle, *others)):
        again = msgspec.structs.replace(one, finished=points, cut=points)
        assert rules_broken(job, [again]) == set()
    moved = msgspec.structs.replace(one, finished=tuple((x + 0.02, y) for x, y in one.finished))
    assert "shape" in rules_broken(job, [moved])


def test_an_overcut_that_is_not_there_is_found() -> None:
    piece = lined_piece()
    job = one_piece_job(piece)
    right = laid(job, piece, Pose(300, 300, 0, True), layer="lining")
    assert rules_broken(job, [right]) == set()
    assert rules_broken(job, [msgspec.structs.replace(right, cut=right.finished)]) == {"shape"}
    assert rules_broken(job, [msgspec.structs.replace(right, overcut=2.0)]) == {"shape"}


def test_a_lining_laid_the_wrong_way_round_is_found() -> None:
    piece = lined_piece()
    job = one_piece_job(piece)
    wrong = laid(job, piece, Pose(300, 300), layer="lining")
    assert "shape" in rules_broken(job, [wrong])


def test_too_many_and_doubled_copies_are_found() -> None:
    job, piece = square_job()
    three = [laid(job, piece, Pose(10 + 110 * k, 10), copy=k + 1) for k in range(3)]
    assert rules_broken(job, three) == {"count"}
    assert rules_broken(job, three, goal="fill") == set()
    twice = [laid(job, piece, Pose(10, 10)), laid(job, piece, Pose(200, 10))]
    assert rules_broken(job, twice) == {"count"}


def test_two_of_the_same_hand_are_found() -> None:
    piece = Piece(name="handed", outline=HANDED, pair=True)
    job = one_piece_job(piece)
    left = laid(job, piece, Pose(10, 10))
    assert rules_broken(job, [left, laid(job, piece, Pose(400, 10, 0, True), copy=2)]) == set()
    assert rules_broken(job, [left, laid(job, piece, Pose(400, 10), copy=2)]) == {"count"}


def test_unknown_hide_piece_and_leather_are_found() -> None:
    job, piece = square_job()
    assert rules_broken(job, [laid(job, piece, Pose(10, 10), hide="other")]) == {"name"}
    stranger = msgspec.structs.replace(laid(job, piece, Pose(10, 10)), piece="stranger")
    assert rules_broken(job, [stranger]) == {"name"}
    goat = msgspec.structs.replace(job, layers=(Layer(name="leather", leather=("goat skin",)),))
    assert rules_broken(goat, [laid(goat, piece, Pose(10, 10))]) == {"leather"}


def strap(
    x: float, y: float, angle: float = 0.0, *, length: float = 900.0, width: float = 40.0, **more: Any
) -> Placement:
    pose = Pose(x, y, angle)
    box = tuple(map(tuple, pose.apply([[0, 0], [length, 0], [length, width], [0, width]]).tolist()))
    return Placement(
        hide="plain", strip="strap", angle=angle, x=x, y=y, finished=box, cut=box, length=length, **more
    )


def test_straps_share_a_cut_but_keep_off_flaws_and_stay_straight() -> None:
    job = strap_job()
    side_by_side = [strap(10, 10), strap(10, 50, copy=2)]
    assert rules_broken(job, side_by_side) == set()
    assert rules_broken(job, [strap(10, 390)], flawed_hide("mark")) == {"flaw"}
    assert rules_broken(job, [strap(60, 100, 20.0)]) == {"stretch"}
    assert rules_broken(job, [strap(10, 10, width=39.0)]) == {"shape"}


def test_a_strip_that_would_be_cut_beside_its_outline_is_found() -> None:
    placed = strap(10, 10)
    beside = msgspec.structs.replace(placed, cut=tuple((x + 5.0, y) for x, y in placed.cut))
    assert rules_broken(strap_job(), [placed]) == set()
    assert rules_broken(strap_job(), [beside]) == {"shape"}


def test_the_run_off_and_holes_under_the_band_go_by_leave() -> None:
    piece = lined_piece()
    pose = Pose(104, 300, 0, True)
    strict, allowing = one_piece_job(piece), one_piece_job(piece, permissions=Permissions(run_off=3.0))
    assert rules_broken(strict, [laid(strict, piece, pose, layer="lining")]) == {"hide"}
    assert rules_broken(allowing, [laid(allowing, piece, pose, layer="lining")]) == set()


def test_a_long_overlap_that_is_thinner_than_the_tolerance_is_forgiven_and_a_short_deep_one_is_not() -> None:
    job = strap_job()
    # Two straps of 900 mm that overlap by a tenth of a micrometre cover 0.09 mm² twice.
    assert rules_broken(job, [strap(10, 10), strap(10, 49.9999, copy=2)]) == set()
    assert rules_broken(job, [strap(10, 10), strap(10, 49.98, copy=2)]) == {"overlap"}
    pieces, piece = square_job()
    pieces = msgspec.structs.replace(pieces, gap=0.0)
    # The corner of a square turned by 45 degrees reaches 0.05 mm into the side of another: 0.0025 mm².
    tip = 10.0 + 100.0 - 0.05
    turned = laid(pieces, piece, Pose(tip, 150.0, -45.0), copy=2)
    assert rules_broken(pieces, [laid(pieces, piece, Pose(10, 100)), turned]) == {"overlap"}
    touching = laid(pieces, piece, Pose(tip + 0.045, 150.0, -45.0), copy=2)
    assert rules_broken(pieces, [laid(pieces, piece, Pose(10, 100)), touching]) == set()


def test_an_overlap_is_told_by_its_depth() -> None:
    job = strap_job()
    hides = (plain_hide(),)
    (fault,) = check(plan_of(job, hides, [strap(10, 10), strap(10, 49.5, copy=2)]), job, hides)
    assert fault.what == "'strap' and 'strap' overlap by 0.500 mm."
    (fault,) = check(plan_of(job, hides, [strap(10, 10), strap(10, 37.654, copy=2)]), job, hides)
    assert fault.what == "'strap' and 'strap' overlap by 12.3 mm."


def test_a_hairline_under_a_piece_is_found_although_it_is_thinner_than_the_tolerance() -> None:
    job, piece = square_job()
    hairline = Flaw(spoils="through", line=Line(points=((400.0, 350.0), (600.0, 350.0)), width=0.012))
    assert rules_broken(job, [laid(job, piece, Pose(450, 300))], plain_hide(flaws=(hairline,))) == {"flaw"}
    slit = plain_hide(holes=(((400.0, 350.0), (600.0, 350.0), (600.0, 350.005), (400.0, 350.005)),))
    assert rules_broken(job, [laid(job, piece, Pose(450, 300))], slit) == {"hide"}


@pytest.mark.parametrize("run_off", [0.0, 5.0, 100.0])
def test_a_cut_shape_may_leave_the_edge_by_what_the_job_lets_it(run_off: float) -> None:
    piece = lined_piece()
    job = one_piece_job(piece, permissions=Permissions(run_off=run_off))
    room = laid(job, piece, Pose(300, 300, 0, True), layer="lining")
    low = min(x for x, _ in room.cut)

    def moved(left: float) -> Placement:
        shift = -left - low
        ring = {key: tuple((x + shift, y) for x, y in getattr(room, key)) for key in ("finished", "cut")}
        return msgspec.structs.replace(room, x=room.x + shift, **ring)

    least = min(run_off, 6.0)
    assert rules_broken(job, [moved(least)]) == set()
    assert "hide" in rules_broken(job, [moved(least + 0.02)])


def test_zones_are_worked_out_anew_and_come_to_the_same_as_the_rules() -> None:
    """A second way to the same areas: the later region lies on top, the rest has no name."""
    regions = (
        Region(name="bend", outline=((100, 100), (900, 100), (900, 700), (100, 700)), firmness=5),
        Region(name="neck", outline=((700, -50), (1100, -50), (1100, 900), (700, 900)), stretch=30.0),
        Region(name="hidden", outline=((200, 200), (300, 200), (300, 300), (200, 300)), stretch="all"),
        Region(name="patch", outline=((150, 150), (350, 150), (350, 350), (150, 350)), firmness=1),
    )
    hide = plain_hide(regions=regions, holes=(((400, 400), (500, 400), (500, 500), (400, 500)),))
    audited = {zone.name: zone for zone in AuditedHide(hide, 0.0).zones}
    obeyed = {zone.name: zone for zone in zones_of(hide)}
    assert {name for name, zone in audited.items() if zone.area.area > 0} == set(obeyed)
    for name, zone in obeyed.items():
        assert zone.area.symmetric_difference(audited[name].area).area < 1e-6
        assert (zone.firmness, zone.stretch) == (audited[name].firmness, audited[name].stretch)


def strap_parts(*lengths: float, **changes: object) -> list[Placement]:
    """Parts of one strap, side by side, each of so many mm."""
    made = []
    for number, length in enumerate(lengths):
        low = 50.0 * number
        ring = ((0.0, low), (length, low), (length, low + 40.0), (0.0, low + 40.0))
        made.append(
            Placement(
                hide="plain", strip="strap", part=number + 1, y=low, length=length, finished=ring, cut=ring
            )
        )
    return [msgspec.structs.replace(part, **changes) for part in made]


@pytest.mark.parametrize(
    ("lengths", "changes", "words"),
    [
        ((900.0, 625.0), {}, None),
        ((900.0, 620.0), {}, "is 5.0 mm too short"),
        ((900.0,), {}, "is 600.0 mm too short"),
        ((900.0,), {"locked": True}, None),
        ((900.0,), {"done": True}, None),
        ((700.0, 500.0, 350.0), {}, "is joined from 3 parts; 2 are allowed"),
        ((990.0, 100.0), {"locked": True}, "is 100.0 mm long; 300.0 mm is the least"),
    ],
)
def test_joined_straps_are_whole_and_of_parts_that_are_allowed(lengths, changes, words):
    job = strap_job(length=1500.0, sets=1, joins=1)
    plan = plan_of(job, [plain_hide()], strap_parts(*lengths, **changes))
    faults = [fault.what for fault in check(plan, job, [plain_hide()])]
    assert all(words is not None and words in fault for fault in faults)
    assert bool(faults) == (words is not None)
