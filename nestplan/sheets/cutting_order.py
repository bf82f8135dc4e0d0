"""In which order the things on a hide are cut, and why, in words.

The straight edge for strips comes first, then what asks for firm leather, then the rest from large to small,
mates one after the other, and discs for lace last. Nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from nestplan.model import Hide, Job, Placement, Plan
from nestplan.model.rules import Zone, zones_of
from nestplan.sheets.piece_region import region_of
from nestplan.sheets.tape_positions import tape_frame
from nestplan.yields.mates import MatePair, mate_pairs

__all__ = [
    "GROUP_REASONS",
    "CuttingStep",
    "StepGroup",
    "cutting_steps",
    "pair_mates",
    "strip_bundles",
]

StepGroup = Literal["edge", "firm", "rest", "disc"]

GROUP_REASONS: dict[StepGroup, str] = {
    "edge": "Straight edge and strips: a rule and a strip cutter need a true edge, and a long strip has nowhere "
    "else to go.",
    "firm": "What asks for, or lies in, the firm leather: the best part of the hide is cut while every other "
    "place is still free.",
    "rest": "The rest from large to small, mates one after the other: a small piece that goes wrong finds another "
    "place more easily than a large one.",
    "disc": "Discs for lace, from what the panels have left.",
}
_FIRM = 4
"""Least firmness (1 to 5) that counts as firm leather here; our reading of the regions' scale."""
_TOUCHING = 3.0
"""Strips no farther apart than this are cut from one edge, mm."""
_Box = tuple[float, float, float, float, float]
"""A strip: its angle in degrees, then xmin, ymin, xmax, ymax in a frame turned by it, mm."""


@dataclass(frozen=True)
class CuttingStep:
    """One step at the table: a piece, or strips that lie side by side and are cut one after the other.

    `number` is the number of its first thing in cutting order; `members` are places in `plan.placements` in
    the order they are cut; `mate` is the number of its mate, `mate_apart` how far from it that lies, edge to edge (mm),
    both None where it has none on this hide; `mate_hide` is the hide its mate is cut from, where that is another.
    """

    number: int
    members: tuple[int, ...]
    group: StepGroup
    reason: str
    mate: int | None = None
    mate_apart: float | None = None
    mate_hide: str = ""

    @property
    def label(self) -> str:
        """Its number, or the first and last of its numbers."""
        last = self.number + len(self.members) - 1
        return str(self.number) if last == self.number else f"{self.number}–{last}"


def cutting_steps(plan: Plan, job: Job, hide: Hide) -> tuple[CuttingStep, ...]:
    """The steps for one hide, numbered from 1. What is already cut (`done`) has no step."""
    here = [n for n, placed in enumerate(plan.placements) if placed.hide == hide.name and not placed.done]
    strips = [n for n in here if plan.placements[n].strip and not plan.placements[n].spiral]
    discs = [n for n in here if plan.placements[n].strip and plan.placements[n].spiral]
    pieces = [n for n in here if plan.placements[n].piece]
    steps: list[tuple[tuple[int, ...], StepGroup, str]] = []
    for bundle in strip_bundles(plan, hide, strips):
        for number, block in enumerate(bundle):
            steps.append((block, "edge", _edge_reason(block, number == 0)))
    pairs = {number: pair for pair in mate_pairs(plan, job) for number in (pair.left, pair.right)}
    mates = {n: pair.left + pair.right - n for n, pair in pairs.items()}
    partners = {n: mates[n] for n in pieces if mates.get(n) in pieces}
    zones = zones_of(hide)
    firm = {n: words for n in pieces if (words := _firm_reason(plan.placements[n], job, zones))}
    taken: set[int] = set()
    for group in ("firm", "rest"):
        chosen = [n for n in pieces if (n in firm or partners.get(n) in firm) == (group == "firm")]
        for n in _large_to_small(plan, hide, chosen, partners):
            reason = firm.get(n) or ("its mate needs firm leather" if group == "firm" else "")
            if partners.get(n) in taken and pairs[n].near:
                reason = "with its mate"
            taken.add(n)
            steps.append(((n,), "firm" if group == "firm" else "rest", reason))
    steps.extend(((n,), "disc", "from what is left") for n in sorted(discs, key=lambda n: -_area(plan, n)))
    numbers = _numbers(steps)
    return tuple(
        _with_mate(CuttingStep(numbers[members[0]], members, group, reason), plan, pairs, numbers)
        for members, group, reason in steps
    )


def _with_mate(
    step: CuttingStep, plan: Plan, pairs: Mapping[int, MatePair], numbers: Mapping[int, int]
) -> CuttingStep:
    """The step with its mate's number and distance, or the hide that one is cut from."""
    pair = pairs.get(step.members[0])
    if pair is None:
        return step
    other = pair.left + pair.right - step.members[0]
    if pair.apart is None:
        return replace(step, mate_hide=plan.placements[other].hide)
    return replace(step, mate=numbers.get(other), mate_apart=pair.apart)


def pair_mates(plan: Plan, job: Job, among: Iterable[int]) -> dict[int, int]:
    """The left and right of each pair among these placements: each one's mate, both ways."""
    wanted = set(among)
    pairs = [pair for pair in mate_pairs(plan, job) if {pair.left, pair.right} <= wanted]
    return {pair.left: pair.right for pair in pairs} | {pair.right: pair.left for pair in pairs}


def strip_bundles(plan: Plan, hide: Hide, strips: Iterable[int]) -> list[tuple[tuple[int, ...], ...]]:
    """Strips that touch side by side or end to end, as bundles, the largest first.

    A bundle is made up of blocks: strips side by side that begin and end together, so that one line struck for
    the first serves them all. Blocks and their strips follow from the line A-B outwards, then from the rear.
    """
    frame = tape_frame(hide)
    boxes: dict[int, _Box] = {}
    far: dict[int, float] = {}
    near: dict[int, float] = {}
    for n in strips:
        placed = plan.placements[n]
        turn = np.radians(placed.angle % 180.0)
        axes = np.array(((np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))))
        flat = placed.finished_ring @ axes.T
        boxes[n] = (placed.angle % 180.0, *flat.min(axis=0).tolist(), *flat.max(axis=0).tolist())
        x, y = placed.finished_ring.mean(axis=0)
        far[n] = round(abs(frame.across((float(x), float(y)))), 1)
        near[n] = frame.along((float(x), float(y)))

    def place(n: int) -> tuple[float, float]:
        return far[n], near[n]

    bundles = []
    for bundle in _connected(sorted(boxes), lambda one, other: _touch(boxes[one], boxes[other])):
        blocks = _connected(
            sorted(bundle, key=place),
            lambda one, other: _touch(boxes[one], boxes[other]) and _together(boxes[one], boxes[other]),
        )
        bundles.append(tuple(tuple(sorted(block, key=place)) for block in blocks))
    return sorted(bundles, key=lambda bundle: -sum(_area(plan, n) for block in bundle for n in block))


def _connected(things: list[int], touch: Callable[[int, int], bool]) -> list[list[int]]:
    """The things in groups that hang together by `touch`, each group beginning with its first in order."""
    groups: list[list[int]] = []
    left = list(things)
    while left:
        group = [left.pop(0)]
        for member in group:
            touching = [n for n in left if touch(member, n)]
            group.extend(touching)
            left = [n for n in left if n not in touching]
        groups.append(group)
    return groups


def _touch(one: _Box, other: _Box) -> bool:
    if min(abs(one[0] - other[0]), 180.0 - abs(one[0] - other[0])) > 0.05:
        return False
    apart_x = max(one[1], other[1]) - min(one[3], other[3])
    apart_y = max(one[2], other[2]) - min(one[4], other[4])
    side_by_side = apart_y <= _TOUCHING and apart_x < -1.0
    end_to_end = apart_x <= _TOUCHING and apart_y < -0.5 * min(one[4] - one[2], other[4] - other[2])
    return side_by_side or end_to_end


def _together(one: _Box, other: _Box) -> bool:
    """Whether two strips begin and end together, as near as a knife is laid."""
    return abs(one[1] - other[1]) <= 1.0 and abs(one[3] - other[3]) <= 1.0


def _edge_reason(block: tuple[int, ...], first: bool) -> str:
    if not first:
        return "from the edge just cut"
    if len(block) == 1:
        return "draw the line P–Q first"
    return "draw the line P–Q first, then cut one beside the other"


def _firm_reason(placed: Placement, job: Job, zones: Sequence[Zone]) -> str:
    piece = job.piece(placed.piece)
    cut = piece.cut_in(placed.layer)
    if cut.regions:
        return f"asks for {', '.join(cut.regions)}"
    if cut.least_firmness >= _FIRM:
        return f"asks for firmness {cut.least_firmness}"
    for part in piece.parts:
        if part.layers and placed.layer not in part.layers:
            continue
        name = part.name or "a part of it"
        if part.regions:
            return f"{name} asks for {', '.join(part.regions)}"
        if part.least_firmness >= _FIRM:
            return f"{name} asks for firmness {part.least_firmness}"
    best = max(zone.firmness for zone in zones)
    if best < _FIRM or all(zone.firmness == best for zone in zones):
        return ""
    zone = region_of(zones, placed)
    return f"lies in the {zone.name or 'firm part'}" if zone is not None and zone.firmness == best else ""


def _large_to_small(plan: Plan, hide: Hide, chosen: list[int], partners: dict[int, int]) -> list[int]:
    """By area, equal ones from the rear to the neck, a mate right after its partner."""
    frame = tape_frame(hide)

    def place(n: int) -> tuple[float, float, int]:
        x, y = plan.placements[n].finished_ring.mean(axis=0)
        return -round(_area(plan, n), -1), frame.along((float(x), float(y))), n

    ordered: list[int] = []
    for n in sorted(chosen, key=place):
        if n not in ordered:
            ordered.append(n)
            if (mate := partners.get(n)) is not None and mate in chosen:
                ordered.append(mate)
    return ordered


def _area(plan: Plan, n: int) -> float:
    return float(shapely.Polygon(plan.placements[n].finished_ring).area)


def _numbers(steps: Sequence[tuple[tuple[int, ...], StepGroup, str]]) -> dict[int, int]:
    """The number of each thing in cutting order, from 1."""
    return {n: number for number, n in enumerate((n for members, *_ in steps for n in members), start=1)}
