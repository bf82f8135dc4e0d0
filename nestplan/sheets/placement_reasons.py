"""Why a piece lies where it lies and that way round, in sentences, read off the plan, the job and the hide.

Each sentence states something that can be checked on the drawing. How the place was found is not known here.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from nestplan.model import Hide, Job, Placement, Plan
from nestplan.model.rules import zones_of
from nestplan.sheets.piece_region import region_of
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["placement_reasons", "strip_reasons"]

_NEAR = 250.0
"""Flaws farther away than this are not worth a sentence, mm."""


def placement_reasons(
    plan: Plan, job: Job, hide: Hide, member: int, mate: int | None, formatter: UnitFormatter
) -> list[str]:
    """Sentences about one placed piece: its region, its stretch, the flaws near it, its mate, its overcut."""
    placed = plan.placements[member]
    piece = job.piece(placed.piece)
    cut = next(cut for cut in piece.cuts if cut.layer == placed.layer)
    shape = shapely.Polygon(placed.finished_ring)
    zone = region_of(zones_of(hide), placed)
    sentences = []
    if zone is not None and zone.name:
        asked = ""
        if cut.regions:
            asked = f"; it may only lie in {', '.join(cut.regions)}"
        elif cut.not_regions:
            asked = f"; it may not lie in {', '.join(cut.not_regions)}"
        elif cut.least_firmness > 1:
            asked = f"; it asks for firmness {cut.least_firmness} or more"
        sentences.append(f"Lies in the {zone.name}, firmness {zone.firmness} of 5{asked}.")
    seen = {
        "grain": "its grain side shows, so flaws of the flesh side do not matter to it",
        "flesh": "its flesh side shows, so flaws of the grain side do not matter to it",
        "both": "both sides show, so no flaw of either may lie under it",
        "hidden": "it is hidden, so only what goes through the leather matters to it",
    }[cut.shows]
    sentences.append(f"{seen[0].upper()}{seen[1:]}.")
    if cut.stretch is not None and zone is not None and isinstance(zone.stretch, float):
        own = (-cut.stretch.axis if placed.mirrored else cut.stretch.axis) + placed.angle
        off = abs((own - zone.stretch + 90.0) % 180.0 - 90.0)
        sentences.append(
            f"Its stretch arrow lies {off:.0f}° from the way the leather gives most here; "
            f"{cut.stretch.tolerance:.0f}° is allowed."
        )
    sentences.extend(_flaw_sentences(hide, placed, shape, formatter))
    if mate is not None:
        other = plan.placements[mate]
        if other.hide == placed.hide:
            gap = float(shapely.Polygon(placed.cut_ring).distance(shapely.Polygon(other.cut_ring)))
            same = "" if gap > job.mates_limit else ": like leather for like places"
            sentences.append(f"Its mate lies {formatter.length(gap)} away on the same hide{same}.")
        else:
            sentences.append(f"Its mate is cut from {other.hide}: compare colour and thickness.")
    if placed.overcut > 0.0:
        wish = cut.overcut.wished if cut.overcut else placed.overcut
        full = "as much as was wished" if placed.overcut >= wish - 1e-6 else "as much as there was room for"
        sentences.append(f"It got {formatter.length(placed.overcut)} of overcut, {full}.")
    return sentences


def strip_reasons(plan: Plan, job: Job, hide: Hide, members: tuple[int, ...]) -> list[str]:
    """Sentences about strips that are cut together: their direction, and that they keep off flaws."""
    placed = plan.placements[members[0]]
    strip = job.strip(placed.strip)
    if placed.spiral:
        return [
            "A lace cut round and round a disc can be longer than the hide; a clean, round disc makes it even.",
            "Its length is the disc’s area divided by its width, whatever stretch may add later.",
        ]
    sentences = []
    if hide.backbone_angle is not None:
        off = abs((placed.angle - hide.backbone_angle + 90.0) % 180.0 - 90.0)
        sentences.append(
            f"Lies {off:.0f}° from the backbone: along it leather stretches least, and a strap should keep its length."
        )
    if not strip.over_flaws:
        sentences.append(
            "Keeps off every flaw, also those of one side: a strip breaks where the leather is weak."
        )
    if len(members) > 1:
        sentences.append(
            f"{len(members)} strips side by side share their cuts: one straight edge serves them all."
        )
    return sentences


def _flaw_sentences(
    hide: Hide, placed: Placement, shape: shapely.Polygon, formatter: UnitFormatter
) -> list[str]:
    """What lies over or nearest to it: at most one flaw in its cut shape's band or under it, and one beside it."""
    sentences = []
    cut = shapely.make_valid(shapely.Polygon(placed.cut_ring))
    nearest = (math.inf, "")
    for flaw in hide.flaws:
        outline = shapely.make_valid(shapely.Polygon(flaw.ring))
        name = flaw.name or "a flaw"
        if shape.intersects(outline):
            sentences.append(f"Covers {name}, which {flaw.kind.clause} and is not seen on it.")
        elif cut.intersects(outline):
            sentences.append(f"Only its overcut covers {name}: that band is trimmed away.")
        else:
            nearest = min(nearest, (float(np.round(shape.distance(outline), 1)), name))
    if nearest[0] <= _NEAR:
        sentences.append(f"The nearest flaw is {nearest[1]}, {formatter.length(nearest[0])} away.")
    return sentences
