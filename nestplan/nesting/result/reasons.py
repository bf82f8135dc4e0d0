"""Why something has no place, and the least change that would let it in.

Each reason is tried for real, on empty hides with one rule left out.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from msgspec import structs

from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model.job import CutPiece
from nestplan.model.piece import Strip
from nestplan.model.plan import Placement, Unplaced
from nestplan.model.rules import PlacementRules, RuleKind
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem
from nestplan.nesting.construct.strips import most_strips
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem

__all__ = ["unplaced"]

Reason = Literal["too large", "stretch", "region", "flaws", "no leather", "no room"]
Finding = tuple[Reason, str, str]
"""The reason, why in words, and the change in words."""

TRIAL_EFFORT = LayEffort(samples=6000, refined=2)
"""How hard to look for the place of one piece on empty hides."""

NESTING_YIELD = 0.6
"""Share of leather that becomes cut pieces when more is bought: 'not less than 60 per cent' (furniture handbook,
furnituremaking.us); the estimate of area to add rests on it."""


NOT_LOOKED_FOR: Finding = (
    "no room",
    "The search ended before a place was found; the cause was not looked into.",
    "Search for longer, or add leather.",
)


def unplaced(
    problem: LeatherProblem, placements: Iterable[Placement], *, stop: Callable[[], bool] = lambda: False
) -> tuple[Unplaced, ...]:
    """What the job asks that `placements` do not hold, kind by kind, with the reason and the least change.

    Once `stop` says so causes are no longer looked into, and the reason says that.
    """
    placed = list(placements)
    return (*_missing_pieces(problem, placed, stop), *_missing_strips(problem, placed, stop))


def _missing_pieces(
    problem: LeatherProblem, placed: Sequence[Placement], stop: Callable[[], bool]
) -> list[Unplaced]:
    counts = Counter(problem.job.kind_of_copy(p.piece, p.layer, p.mirrored) for p in placed if p.piece)
    found = []
    for piece in problem.job.cut_pieces:
        key = problem.job.kind_of_copy(*piece.key)
        wanted = piece.piece.count * problem.job.articles[piece.article].sets
        have = min(counts[key], wanted)
        counts[key] -= have
        if have < wanted:
            reason, why, change = NOT_LOOKED_FOR if stop() else _why(problem, piece, wanted - have)
            found.append(
                Unplaced(
                    piece=piece.piece.name,
                    layer=piece.cut.layer,
                    mirrored=piece.mirrored,
                    count=wanted - have,
                    reason=reason,
                    why=why,
                    change=change,
                )
            )
    return found


def _why(problem: LeatherProblem, piece: CutPiece, count: int) -> Finding:
    """(reason, why, change) for a cut piece: each rule is left out in turn, on the hides as they are when empty."""
    hides = [hide for hide in problem.hides if problem.job.layer(piece.cut.layer).takes(hide)]
    if not hides:
        return "no leather", "No hide is of the leather or thickness its layer asks.", "Add a hide that is."
    if _fits(problem, piece, frozenset()):
        need = count * piece.piece.net_area / NESTING_YIELD
        return (
            "no room",
            "It fits on an empty hide; the others have taken the room.",
            f"About {_feet(need)} ft² more leather, at a yield of {NESTING_YIELD:.0%}, would take "
            f"{'it' if count == 1 else f'all {count}'}.",
        )
    for relaxed, reason, why, change in _SINGLE_RULES:
        if _fits(problem, piece, frozenset({relaxed})):
            return reason, why, change(problem, piece)
    if _fits(problem, piece, frozenset({"stretch", "regions", "flaws"})):
        return (
            "region",
            "Its stretch, region and flaw rules together keep it out; no one of them alone does.",
            "Ease more than one of them, or use another hide.",
        )
    return (
        "too large",
        "It is too large for any hide it may be cut from, even a clear one.",
        _smaller_that_fits(problem, piece),
    )


def _fits(problem: LeatherProblem, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float = 1.0) -> bool:
    """Whether one such piece, scaled, finds a place on the empty hides under the rules that are left."""
    return _place(problem, piece, relaxed, scale) is not None


def _place(
    problem: LeatherProblem, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float = 1.0
) -> tuple[int, float] | None:
    """(hide, turn) at which one such piece lies alone."""
    options = []
    for field, hide in enumerate(problem.hides):
        for allowed in PlacementRules(hide, problem.job, relaxed).for_piece(piece):
            constraints = tuple(Containment(each.ring * scale, each.area) for each in allowed.constraints)
            options.append(PlacementOption(field, allowed.turns, constraints, allowed.flipped))
    if not options:
        return None
    shapes = Problem(problem.fields, (Item(piece.shape * scale, 0, tuple(options)),))
    poses = lay(PreparedProblem.of(shapes), effort=TRIAL_EFFORT, spread=True)
    return None if poses.field[0] < 0 else (int(poses.field[0]), float(poses.angle[0]))


def _turn_that_fits(problem: LeatherProblem, piece: CutPiece) -> str:
    """How far the tolerance would have to go: the least of a few steps at which it is placed."""
    rule = piece.cut.stretch
    if rule is None:
        return ""
    for wider in (5, 10, 15, 20, 30, 45, 60, 90):
        tolerance = min(rule.tolerance + wider, 90.0)
        if _fits(problem, _with_tolerance(piece, tolerance), frozenset()):
            return f"A tolerance of {tolerance:g}° instead of {rule.tolerance:g}° would let it in."
        if tolerance >= 90.0:
            break
    return "No turn of it alone helps within the regions it may use."


def _with_tolerance(piece: CutPiece, tolerance: float) -> CutPiece:
    rule = piece.cut.stretch
    assert rule is not None
    cut = structs.replace(piece.cut, stretch=structs.replace(rule, tolerance=tolerance))
    return replace(piece, cut=cut)


def _region_that_fits(problem: LeatherProblem, piece: CutPiece) -> str:
    place = _place(problem, piece, frozenset({"regions"}))
    if place is None:
        return ""
    return f"Let it lie in other regions too: it would fit on '{problem.hides[place[0]].name}'."


def _smaller_that_fits(problem: LeatherProblem, piece: CutPiece) -> str:
    """The largest scale, in steps of 2 %, at which it lies alone on a clear hide."""
    everything: frozenset[RuleKind] = frozenset({"stretch", "regions", "flaws"})
    low, high = 0, 49
    while low < high:
        middle = (low + high + 1) // 2
        if _fits(problem, piece, everything, middle * 0.02):
            low = middle
        else:
            high = middle - 1
    if low == 0:
        return "Use a larger hide, or make it in parts."
    return f"At {low * 2} % of its size it would fit; else use a larger hide, or make it in parts."


_SINGLE_RULES: tuple[tuple[RuleKind, Reason, str, Callable[[LeatherProblem, CutPiece], str]], ...] = (
    ("stretch", "stretch", "Only its stretch limits keep it out.", _turn_that_fits),
    ("regions", "region", "Only the rule about regions and firmness keeps it out.", _region_that_fits),
    (
        "flaws",
        "flaws",
        "Only flaws keep it out: no clear area is large enough.",
        lambda problem, piece: "Let it show another face, or make it in two parts.",
    ),
)
"""Each rule that may keep a piece out by itself: the reason, why in words, and what finds the least change."""


def _missing_strips(
    problem: LeatherProblem, placed: Sequence[Placement], stop: Callable[[], bool]
) -> list[Unplaced]:
    copies: dict[str, set[int]] = {}
    for placement in placed:
        if placement.strip:
            copies.setdefault(placement.strip, set()).add(placement.copy)
    found = []
    for wanted in problem.job.wanted_strips:
        strip = wanted.strip
        short = strip.count * problem.job.articles[wanted.article].sets - len(copies.get(strip.name, ()))
        if short > 0:
            reason, why, change = NOT_LOOKED_FOR if stop() else _why_strip(problem, strip, short)
            found.append(
                Unplaced(
                    strip=strip.name, layer=strip.layer, count=short, reason=reason, why=why, change=change
                )
            )
    return found


def _why_strip(problem: LeatherProblem, strip: Strip, count: int) -> Finding:
    if not any(problem.job.layer(strip.layer).takes(hide) for hide in problem.hides):
        return "no leather", "No hide is of the leather or thickness its layer asks.", "Add a hide that is."
    if strip.source != "disc":
        if _strips_on_empty(problem, strip, frozenset()):
            need = count * strip.width * strip.length / NESTING_YIELD
            return (
                "no room",
                "It fits on an empty hide; the others have taken the room.",
                f"About {_feet(need)} ft² more leather would take {'it' if count == 1 else f'all {count}'}.",
            )
        if strip.along == "backbone" and _strips_on_empty(problem, strip, frozenset(), tolerance=90.0):
            return "stretch", "Only its direction keeps it out.", "It would fit across the backbone."
        if _strips_on_empty(problem, strip, frozenset({"regions"})):
            return "region", "Only the rule about regions keeps it out.", "Let it lie in other regions too."
        if _strips_on_empty(problem, strip, frozenset({"flaws"})):
            return "flaws", "Every straight run of that length meets a flaw.", _shorter(problem, strip)
        return "too large", "No hide has a straight run of that length.", _shorter(problem, strip)
    need = count * strip.width * strip.length / NESTING_YIELD
    return "no room", "No clear disc is left that is large enough.", f"About {_feet(need)} ft² more leather."


def _strips_on_empty(
    problem: LeatherProblem,
    strip: Strip,
    relaxed: frozenset[RuleKind],
    *,
    tolerance: float | None = None,
    length: float = 0.0,
) -> bool:
    for hide in problem.hides:
        rules = PlacementRules(hide, problem.job, relaxed)
        area = rules.strip_area(strip)
        axis = rules.strip_axis(strip)
        wide = 90.0 if axis is None else strip.tolerance if tolerance is None else tolerance
        if not area.is_empty and most_strips(
            area, strip.width, length or strip.length, direction=axis or 0.0, tolerance=wide
        ):
            return True
    return False


def _shorter(problem: LeatherProblem, strip: Strip) -> str:
    """The longest single strip, to 10 mm, that an empty hide gives."""
    low, high = 0, math.ceil(strip.length / 10.0)
    while low + 1 < high:
        middle = (low + high) // 2
        if _strips_on_empty(problem, strip, frozenset(), length=max(middle * 10.0, strip.width)):
            low = middle
        else:
            high = middle
    joined = "" if strip.joins else ", or allow it to be joined"
    return f"The longest run is about {low * 10} mm: shorten it to that{joined}." if low else ""


def _feet(area: float) -> str:
    """Area in square feet, rounded up to a quarter."""
    return f"{np.ceil(area / MM2_PER_FT2 * 4.0) / 4.0:.2f}"
