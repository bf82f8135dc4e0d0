"""What a good plan is: every goal that a search may have, as one record that owns all that depends on it.

The command line, the window, `nest`, the plan file with its schema, and the audit read the goals from here. To add one,
write its record and register it; a step that no goal has yet is written in `nestplan.nesting.steps`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from nestplan.errors import InputError
from nestplan.model.registry import Registry

__all__ = [
    "COMPLETE",
    "CONSOLIDATE",
    "FILL",
    "FILL_CHEAP",
    "GATHER",
    "GATHER_OFFCUT",
    "GOALS",
    "HIDE_EDGES",
    "INSERT",
    "MATES",
    "RECONSTRUCT",
    "Goal",
    "HideEdge",
    "LayoutCounts",
    "Merit",
    "SearchStep",
    "find_goal",
    "register_goal",
    "unregister_goal",
]

HideEdge = Literal["neck", "tail", "belly", "backbone"]
"""A side of a hide toward which pieces can be drawn together."""
HIDE_EDGES: tuple[HideEdge, ...] = ("neck", "tail", "belly", "backbone")

Merit = tuple[float, ...]
"""What candidates are compared by, the greater the better: whole sets, then things that have a place, then the rest."""


@dataclass(frozen=True)
class LayoutCounts:
    """What a candidate comes to, for its merit.

    `whole_sets` and `sets_asked` of each article; `placed` pieces; `missing_strips` asked but without a place;
    `net_area` of the placed pieces, mm²; `hides_used`.
    """

    whole_sets: tuple[int, ...]
    sets_asked: tuple[int, ...]
    placed: int
    missing_strips: int
    net_area: float
    hides_used: int


def merit_of_asked_sets(counts: LayoutCounts) -> Merit:
    """Whole sets as shares of those asked, none counted beyond; then what is placed, its area, and few hides."""
    pairs = zip(counts.whole_sets, counts.sets_asked, strict=True)
    return (sum(min(whole / asked, 1.0) for whole, asked in pairs), *_merit_of_pieces(counts))


def merit_of_all_sets(counts: LayoutCounts) -> Merit:
    """Whole sets as shares of those asked, however many; then what is placed, its area, and few hides."""
    pairs = zip(counts.whole_sets, counts.sets_asked, strict=True)
    return (sum(whole / asked for whole, asked in pairs), *_merit_of_pieces(counts))


def _merit_of_pieces(counts: LayoutCounts) -> Merit:
    return float(counts.placed) - counts.missing_strips, counts.net_area, -float(counts.hides_used)


@dataclass(frozen=True)
class SearchStep:
    """One thing that is done to the first candidate to better it.

    `stage` is the word for it in the progress of a search, `words` the beginning of a sentence that says so. Steps of
    one stage that follow each other are one piece of work.
    """

    name: str
    stage: str
    words: str


RECONSTRUCT = SearchStep("reconstruct", "fill", "Finding room for more sets")
"""All pieces laid anew from other seeds, the best kept."""
INSERT = SearchStep("insert", "fill", "Finding room for more sets")
"""What has no place yet inserted piece by piece, so that sets come whole."""
CONSOLIDATE = SearchStep("consolidate", "complete", "Finding room for the rest")
"""Hides emptied, dear ones first, by moving their pieces to the others."""
FILL_CHEAP = SearchStep("fill cheap", "complete", "Finding room for the rest")
"""What lies on the dear ones of the hides in use moved to the cheap ones, as far as these have room."""
MATES = SearchStep("mates", "mates", "Bringing lefts and rights together")
"""The left and right of pairs that are asked to lie near each other brought together."""
GATHER_OFFCUT = SearchStep("gather", "gather", "Gathering what is left into one piece")
"""The pieces of each hide drawn to one side of it."""


@dataclass(frozen=True, kw_only=True)
class Goal:
    """What a search looks for.

    `name` is the word in files and on the command line, `words` say it in the window. `steps` better the first
    candidate, in this order; `merit` tells which of two candidates is the better one. `extra_sets`: sets are planned
    beyond those asked, as many as the leather could hold, and `may_exceed_asked`: the audit lets a plan hold more than
    the job asks. `starts_at_wished_overcut`: the first candidate is laid at the wished overcut where all has a place
    that way. `takes_edge`: the user may say toward which edge of the hide pieces are drawn.
    """

    name: str
    words: str
    steps: tuple[SearchStep, ...]
    merit: Callable[[LayoutCounts], Merit] = merit_of_asked_sets
    extra_sets: bool = False
    may_exceed_asked: bool = False
    starts_at_wished_overcut: bool = False
    takes_edge: bool = False


COMPLETE = Goal(
    name="complete",
    words="all that is asked, on few hides",
    steps=(INSERT, CONSOLIDATE, MATES),
    starts_at_wished_overcut=True,
)
FILL = Goal(
    name="fill",
    words="as many whole sets as fit",
    steps=(RECONSTRUCT, INSERT, MATES),
    merit=merit_of_all_sets,
    extra_sets=True,
    may_exceed_asked=True,
)
GATHER = Goal(
    name="gather",
    words="all, leaving one large offcut",
    steps=(INSERT, CONSOLIDATE, FILL_CHEAP, GATHER_OFFCUT, MATES),
    takes_edge=True,
)

GOALS: Registry[Goal] = Registry(COMPLETE, FILL, GATHER)
"""All goals, in the order in which lists show them; the first is the usual one."""


def register_goal(goal: Goal) -> None:
    """Add a goal for this run of the program. Raises ValueError if its name is taken."""
    GOALS.register(goal)


def unregister_goal(name: str) -> None:
    """Take a goal out again. Raises KeyError if there is none of that name."""
    GOALS.unregister(name)


def find_goal(name: str, *, place: str = "goal") -> Goal:
    """The goal of that name.

    Raises InputError if there is none; `place` says where the name was given.
    """
    if name not in GOALS:
        raise InputError(
            f"There is no goal '{name}'.", place=place, mend=f"Use one of {', '.join(GOALS.names)}."
        )
    return GOALS[name]
