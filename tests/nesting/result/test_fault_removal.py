"""What is found wrong in a plan is taken out, and no more than that."""

from __future__ import annotations

from nestplan.model import Placement
from nestplan.model.audit import Fault
from nestplan.nesting.result.fault_removal import copy_key, faulty_copies


def square(copy: int, size: float = 10.0, *, strip: bool = False, part: int = 0) -> Placement:
    ring = ((0.0, 0.0), (size, 0.0), (size, size), (0.0, size))
    name = {"strip": "strap"} if strip else {"piece": "square"}
    return Placement(hide="h", copy=copy, part=part, finished=ring, cut=ring, **name)


def overlap(*numbers: int) -> Fault:
    return Fault("overlap", numbers, f"{numbers} overlap")


def taken(placements, *faults, keep=()):
    kept = {copy_key(placements[number]) for number in keep}
    return [copy for _, _, copy in sorted(faulty_copies(placements, faults, kept))]


def test_a_placement_that_is_wrong_by_itself_goes():
    placements = [square(1), square(2)]
    assert taken(placements, Fault("hide", (1,), "runs off")) == [2]


def test_of_many_that_overlap_one_the_one_goes():
    placements = [square(1, 50.0), square(2), square(3)]
    assert taken(placements, overlap(0, 1), overlap(0, 2)) == [1]


def test_of_two_the_smaller_goes():
    placements = [square(1, 50.0), square(2, 10.0)]
    assert taken(placements, overlap(0, 1)) == [2]


def test_what_is_kept_stays():
    placements = [square(1, 50.0), square(2, 10.0)]
    assert taken(placements, overlap(0, 1), keep=[1]) == [1]


def test_all_parts_of_a_joined_strap_go_together():
    placements = [square(1, strip=True, part=1), square(1, strip=True, part=2), square(1)]
    assert faulty_copies(placements, [Fault("hide", (1,), "runs off")]) == {
        ("strap", "leather", 1): "runs off"
    }


def test_a_fault_that_names_nothing_leaves_what_is_kept_alone():
    placements = [square(1), square(2), square(3)]
    assert taken(placements, Fault("count", (), "too many"), keep=[1]) == [1, 3]
    assert taken(placements, Fault("hide", (1,), "runs off"), keep=[0, 1, 2]) == []
