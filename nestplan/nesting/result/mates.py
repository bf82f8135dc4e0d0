"""Mates brought near each other: which of several equal copies belongs to which set, chosen anew once all lies.

Mates are the left and right of one piece, layer and set; its other layers count for little beside them. Copies that
are alike change places in name only, so it costs no leather. Copies are numbered first in `set_numbering`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from nestplan.model.job import Job
from nestplan.model.plan import Placement
from nestplan.nesting.matching import exchanged

__all__ = ["mates_near"]

OTHER_HIDE = 5e3
"""mm that two hides count as apart: more than two pieces of one hide are."""
LAYERS = 0.1
REST = 0.02
"""Weight of the distance to the other layers of the piece, and to the other pieces of the set, against that to the
mate."""
ASKED = 4.0
"""Weight of mates that the pattern asks to lie near each other."""
SWEEPS = 6

Hand = tuple[str, str, bool]


def mates_near(job: Job, placed: Sequence[Placement], keep: Sequence[Placement] = ()) -> list[Placement]:
    """`placed` with sets and copies exchanged among equal pieces so that the mates of each set lie near each other.

    What is in `keep` stays as it is, but counts as a mate. Each kind in turn is shared out among its sets anew by
    exchanges of two, until none brings anything: the sum of distances never rises.
    """
    found = list(placed)
    groups: dict[Hand, list[int]] = defaultdict(list)
    for index, placement in enumerate(found):
        if placement.piece:
            kind = job.kind_of_copy(placement.piece, placement.layer, placement.mirrored)
            groups[kind].append(index)
    middles = [p.middle for p in (*found, *keep)]
    hides = {name: number for number, name in enumerate(sorted({p.hide for p in (*found, *keep)}))}
    for _ in range(SWEEPS):
        changed = False
        for hand in sorted(groups):
            mine = groups[hand]
            if len(mine) > 1:
                changed |= _share_out(job, mine, found, keep, middles, hides)
        if not changed:
            break
    return found


def _share_out(
    job: Job,
    mine: Sequence[int],
    found: list[Placement],
    keep: Sequence[Placement],
    middles: Sequence[tuple[float, float]],
    hides: dict[str, int],
) -> bool:
    """Exchange the sets of equal copies where that brings mates together; whether any was."""
    everything = (*found, *keep)
    own = set(mine)
    name = found[mine[0]].piece
    article = next(piece.article for piece in job.cut_pieces if piece.piece.name == name)
    names = {piece.piece.name for piece in job.cut_pieces if piece.article == article}
    near = ASKED if job.piece(name).mates_near else 1.0
    members: dict[int, list[int]] = defaultdict(list)
    for index, placement in enumerate(everything):
        if placement.piece in names and index not in own:
            members[placement.set].append(index)
    where = np.array([middles[index] for index in mine])
    hide = np.array([hides[found[index].hide] for index in mine])
    costs: dict[int, NDArray[np.float64]] = {}
    for number in {found[index].set for index in mine}:
        cost = np.zeros(len(mine))
        for other in members[number]:
            weight = REST
            if everything[other].piece == name:
                weight = near if everything[other].layer == found[mine[0]].layer else LAYERS
            apart = np.hypot(*(where - middles[other]).T)
            cost += weight * np.where(hide == hides[everything[other].hide], apart, OTHER_HIDE)
        costs[number] = cost
    slots = [found[index].set for index in mine]
    matrix = np.column_stack([costs[number] for number in slots])
    order = exchanged(matrix)
    if (order == np.arange(len(mine))).all():
        return False
    labels = [(found[mine[k]].set, found[mine[k]].copy) for k in order]
    for index, (number, copy) in zip(mine, labels, strict=True):
        found[index] = replace(found[index], set=number, copy=copy)
    return True
