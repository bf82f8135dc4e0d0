"""Joined strips of which a part stays where it is: the parts that they still lack, placed around what is kept.

They are placed before anything else, since nothing but them makes the kept parts worth anything.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from msgspec import structs

from nestplan.model.piece import Strip
from nestplan.model.plan import Placement
from nestplan.model.strip_parts import parts_of_copies, uncovered_length
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.leather_problem import LeatherProblem, RequiredStrips

__all__ = ["with_strips_completed"]


def with_strips_completed(problem: LeatherProblem) -> LeatherProblem:
    """The problem that also keeps the parts that kept joined strips lack, as far as they find a place.

    They carry the copy and set of the strip they belong to, and the numbers of its parts that are free.
    """
    for strip, parts in list(_incomplete(problem)):
        most = strip.joins + 1 - len(parts)
        if most < 1:
            continue
        # The rest laps onto what is there, and no part may be shorter than the least.
        length = max(uncovered_length(strip, parts) + strip.lap, min(strip.least_part, strip.length))
        rest = structs.replace(strip, length=max(length, strip.width), joins=most - 1)
        placed, missing = place_strips(problem, [RequiredStrips(rest, 1)])
        if not missing:
            problem = replace(problem, keep=(*problem.keep, *_numbered(placed, parts)))
    return problem


def _incomplete(problem: LeatherProblem) -> Iterator[tuple[Strip, list[Placement]]]:
    """Each strip of which some parts are kept that do not make it up, with those parts."""
    for wanted in problem.job.wanted_strips:
        for parts in parts_of_copies(wanted.strip, problem.keep):
            if uncovered_length(wanted.strip, parts) > 0.0:
                yield wanted.strip, parts


def _numbered(placed: list[Placement], kept: list[Placement]) -> Iterator[Placement]:
    """New parts with the copy and set of the kept ones, and part numbers that are free."""
    taken = {part.part for part in kept}
    free = (number for number in range(1, len(placed) + len(kept) + 1) if number not in taken)
    for placement, number in zip(placed, free, strict=False):
        yield structs.replace(placement, copy=kept[0].copy, set=kept[0].set, part=number)
