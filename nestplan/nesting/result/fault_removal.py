"""What the audit finds wrong in a plan of ours taken out of it, so that the rest can be delivered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from msgspec.structs import replace

from nestplan.geometry.ring import area
from nestplan.model.audit import Fault
from nestplan.model.plan import Placement, Plan, Unplaced

__all__ = ["CopyKey", "copy_key", "faulty_copies", "with_taken_out"]

REPORT = "This is a fault in nestplan: please report it with the job and hide files."

CopyKey = tuple[str, str, int]
"""A copy of a piece or strip: name, layer, copy. The parts of a joined strip are one copy."""


def copy_key(placement: Placement) -> CopyKey:
    """Which copy a placement is, or is a part of."""
    return placement.name, placement.layer, placement.copy


def faulty_copies(
    placements: Sequence[Placement], faults: Sequence[Fault], keep: Collection[CopyKey] = ()
) -> dict[CopyKey, str]:
    """Few copies, none of them in `keep`, without which no fault is left that names placements; and for each what was
    found. Of two that do not go together, the one with more faults is taken, else the smaller one.

    Where a fault names no placements, or only such as are kept, every copy that is not kept is one of them.
    """
    found: dict[CopyKey, str] = {}
    open_faults = []
    for fault in faults:
        movable = {copy_key(placements[number]) for number in fault.placements} - set(keep)
        if not movable:
            return {copy_key(each): fault.what for each in placements if copy_key(each) not in keep}
        open_faults.append((movable, fault.what))
    areas: Counter[CopyKey] = Counter()
    for placement in placements:
        areas[copy_key(placement)] += int(area(placement.cut_ring))
    while open_faults:
        counts = Counter(key for movable, _ in open_faults for key in movable)
        worst = min(counts, key=lambda key: (-counts[key], areas[key], key))
        found[worst] = next(what for movable, what in open_faults if worst in movable)
        open_faults = [entry for entry in open_faults if worst not in entry[0]]
    return found


def with_taken_out(plan: Plan, placements: Sequence[Placement], taken_out: Mapping[CopyKey, str]) -> Plan:
    """The plan that says of each copy that was taken out why, in place of the reason it gave for so many without a
    place. `placements` are all there were."""
    if not taken_out:
        return plan
    firsts = {copy_key(placement): placement for placement in reversed(placements)}
    unplaced = list(plan.unplaced)
    for key, what in taken_out.items():
        gone = firsts[key]
        listed = [number for number, entry in enumerate(unplaced) if _is_of(entry, gone)]
        if not listed:
            # More than was asked: nothing is missing without it.
            continue
        chosen = min(listed, key=lambda number: unplaced[number].mirrored != gone.mirrored)
        entry = unplaced[chosen]
        unplaced[chosen : chosen + 1] = [replace(entry, count=entry.count - 1)] if entry.count > 1 else []
        told = f"Its place was taken back, since the check found: {what}"
        unplaced.append(replace(entry, count=1, reason="taken back", why=told, change=REPORT))
    return replace(plan, unplaced=tuple(unplaced))


def _is_of(entry: Unplaced, placement: Placement) -> bool:
    """Whether an entry of what has no place is about copies like a placement."""
    same = (entry.piece, entry.strip, entry.layer) == (placement.piece, placement.strip, placement.layer)
    return same and entry.reason != "taken back"
