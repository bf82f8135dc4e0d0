"""Why something has no place, and the least change that would let it in.

Each reason is tried for real, on empty hides with one rule left out. What cannot be, by area or by the largest disc,
is known without a trial; where there is no time for trials that alone decides.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Literal

import numpy as np
import shapely
from msgspec import structs

from nestplan.geometry.inscribed import largest_disc
from nestplan.geometry.units import show_length
from nestplan.model.job import CutPiece
from nestplan.model.piece import Strip
from nestplan.model.plan import Placement, Unplaced
from nestplan.model.rules import AllowedPlacement, PlacementRules, RuleKind
from nestplan.model.strip_parts import parts_of_copies, uncovered_length, whole_copies
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem
from nestplan.nesting.construct.strips import StripRequest, lay_strips
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.yields.missing_leather import leather_to_add, leather_to_add_in_words

__all__ = ["unplaced"]

Reason = Literal["too large", "stretch", "region", "flaws", "no leather", "no room"]
Finding = tuple[Reason, str, str]
"""The reason, why in words, and the change in words."""

TRIAL_EFFORT = LayEffort(samples=6000, refined=2)
"""How hard to look for the place of one piece on an empty hide."""

NO_LEATHER: Finding = (
    "no leather",
    "No hide is of the leather or thickness its layer asks.",
    "Add a hide that is.",
)
NO_RULES: frozenset[RuleKind] = frozenset({"stretch", "regions", "flaws"})
"""All rules that can be left out."""


def unplaced(
    problem: LeatherProblem, placements: Iterable[Placement], *, stop: Callable[[], bool] = lambda: False
) -> tuple[Unplaced, ...]:
    """What the job asks that `placements` do not hold, kind by kind, with the reason and the least change.

    Once `stop` says so nothing more is tried: reasons then rest on what is placed and on what areas can hold.
    """
    placed = list(placements)
    trials = _Trials(problem, stop)
    return (*_missing_pieces(problem, placed, trials), *_missing_strips(problem, placed, trials))


def _missing_pieces(
    problem: LeatherProblem, placed: Sequence[Placement], trials: _Trials
) -> Iterator[Unplaced]:
    counts = Counter(problem.job.kind_of_copy(p.piece, p.layer, p.mirrored) for p in placed if p.piece)
    has_place = set(counts)
    for piece in problem.job.cut_pieces:
        kind = problem.job.kind_of_copy(*piece.key)
        asked = piece.piece.count * problem.job.articles[piece.article].sets
        have = min(counts[kind], asked)
        counts[kind] -= have
        if have < asked:
            reason, why, change = _why(problem, piece, asked - have, trials, fits=kind in has_place)
            yield Unplaced(
                piece=piece.piece.name,
                layer=piece.cut.layer,
                mirrored=piece.mirrored,
                count=asked - have,
                reason=reason,
                why=why,
                change=change,
            )


def _missing_strips(
    problem: LeatherProblem, placed: Sequence[Placement], trials: _Trials
) -> Iterator[Unplaced]:
    for wanted in problem.job.wanted_strips:
        strip = wanted.strip
        asked = strip.count * problem.job.articles[wanted.article].sets
        whole = len(whole_copies(strip, placed))
        if whole < asked:
            begun = any(uncovered_length(strip, parts) > 0.0 for parts in parts_of_copies(strip, placed))
            reason, why, change = _why_strip(
                problem, strip, asked - whole, trials, fits=whole > 0, begun=begun
            )
            yield Unplaced(
                strip=strip.name,
                layer=strip.layer,
                count=asked - whole,
                reason=reason,
                why=why,
                change=change,
            )


def _why(problem: LeatherProblem, piece: CutPiece, count: int, trials: _Trials, *, fits: bool) -> Finding:
    """(reason, why, change) for a cut piece: each rule is left out in turn, on the hides as they are when empty.

    `fits`: one like it has a place.
    """
    if not any(problem.job.layer(piece.cut.layer).takes(hide) for hide in problem.hides):
        return NO_LEATHER
    verdict = "fits" if fits else trials.verdict(piece, frozenset())
    if verdict != "never":
        unknown = _hides_without_direction(problem, piece, others_are_full=True)
        return unknown or _no_room(problem, piece, count, tried=verdict == "fits")
    unknown = _hides_without_direction(problem, piece, others_are_full=False)
    if unknown and trials.lets_in(piece, frozenset({"stretch"})):
        return unknown
    for relaxed, reason, why, change in _SINGLE_RULES:
        if trials.lets_in(piece, frozenset({relaxed})):
            return reason, why, change(piece, trials)
    if trials.lets_in(piece, NO_RULES):
        return (
            "region",
            "Its stretch, region and flaw rules together keep it out; no one of them alone does.",
            "Ease more than one of them, or use another hide.",
        )
    if trials.verdict(piece, NO_RULES) == "unknown":
        return "too large", "No place was found for it even on an empty hide.", "Use a larger hide."
    return (
        "too large",
        "It is too large for any hide it may be cut from, even a clear one.",
        _smaller_that_fits(piece, trials),
    )


def _hides_without_direction(
    problem: LeatherProblem, piece: CutPiece, *, others_are_full: bool
) -> Finding | None:
    """That of some hides nobody knows which way they give, since they have no backbone and no stretch, where the piece
    asks for a direction and lies on none of them; None where all have, or where others have that are not full."""
    if piece.cut.stretch is None or piece.cut.stretch.tolerance >= 90.0:
        return None
    takes = problem.job.layer(piece.cut.layer).takes
    hides = [hide for hide in problem.hides if takes(hide)]
    names = [f"'{hide.name}'" for hide in hides if not hide.knows_stretch]
    if not names or (len(names) < len(hides) and not others_are_full):
        return None
    several = len(names) > 1
    listed = f"{', '.join(names[:-1])} and {names[-1]} have" if several else f"{names[0]} has"
    whose = "their backbones" if several else "its backbone"
    others = " There is no room left elsewhere." if len(names) < len(hides) else ""
    return (
        "stretch",
        f"It asks for a direction to the stretch, and {listed} no backbone that would tell it.{others}",
        f"Draw {whose}, from neck to tail (in the window: step 1, Backbone; in the hide's file: backbone), or let the "
        "piece lie any way.",
    )


def _no_room(problem: LeatherProblem, piece: CutPiece, count: int, *, tried: bool) -> Finding:
    """No room left: where, if the piece may lie in a few regions only, and how much leather would do."""
    regions = _only_regions(problem, piece)
    if regions:
        why = f"It may lie only in {regions}, and the others have taken the room there."
    elif tried:
        why = "It fits on an empty hide; the others have taken the room."
    else:
        why = "No place was left for it beside the others."
    return "no room", why, leather_to_add_in_words(count * piece.piece.net_area, count, problem.job.units)


def _only_regions(problem: LeatherProblem, piece: CutPiece) -> str:
    """The regions that a piece is kept to, in words; empty where it may also lie elsewhere."""
    cut = piece.cut
    allowed, barred = set(), False
    for hide, rules in zip(problem.hides, problem.rules, strict=True):
        if not problem.job.layer(cut.layer).takes(hide):
            continue
        for zone in rules.zones:
            is_open = (
                (not cut.regions or zone.name in cut.regions)
                and zone.name not in cut.not_regions
                and zone.firmness >= cut.least_firmness
            )
            barred = barred or not is_open
            allowed |= {zone.name} if is_open else set()
    if not barred or "" in allowed or not allowed:
        return ""
    names = sorted(allowed)
    return f"the {names[0]}" if len(names) == 1 else f"the {', '.join(names[:-1])} and {names[-1]}"


Verdict = Literal["fits", "never", "unknown"]


@dataclass(frozen=True, eq=False)
class _Measures:
    """What a ring needs of any area that is to hold it: its area mm² and the radius mm of its largest disc."""

    area: float
    radius: float


class _Trials:
    """Whether single pieces and strips have a place on the empty hides, with some rules left out."""

    def __init__(self, problem: LeatherProblem, stop: Callable[[], bool]) -> None:
        self.problem = problem
        self.stop = stop
        self._rules: dict[tuple[int, frozenset[RuleKind]], PlacementRules] = {
            (index, frozenset()): rules for index, rules in enumerate(problem.rules)
        }
        self._measures: dict[bytes, _Measures] = {}

    def rules(self, hide: int, relaxed: frozenset[RuleKind]) -> PlacementRules:
        """The rules on a hide without those left out."""
        if (hide, relaxed) not in self._rules:
            job = self.problem.job
            self._rules[hide, relaxed] = PlacementRules(self.problem.hides[hide], job, relaxed)
        return self._rules[hide, relaxed]

    def verdict(self, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float = 1.0) -> Verdict:
        """Whether such a piece, scaled, finds a place alone; "unknown" where it may but there is no time to try."""
        possible = self._possible(piece, relaxed, scale)
        # One hide is enough to know that it may: the others are looked at only where there is time to try them.
        first = next(possible, None)
        if first is None:
            return "never"
        if self.stop():
            return "unknown"
        if self._place_on(piece, chain([first], possible), scale) is not None:
            return "fits"
        return "unknown" if self.stop() else "never"

    def lets_in(self, piece: CutPiece, relaxed: frozenset[RuleKind]) -> bool:
        """Whether leaving out some rules lets a piece in that has no place under all of them. Without time to try it
        does where all of them rule the piece out for certain, and the others do not."""
        verdict = self.verdict(piece, relaxed)
        ruled_out = not any(True for _ in self._possible(piece, frozenset(), 1.0))
        return verdict == "fits" or (verdict == "unknown" and ruled_out)

    def place(
        self, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float = 1.0
    ) -> tuple[int, float] | None:
        """(hide, turn) at which one such piece finds a place alone; None where it does not, or there is no time."""
        return self._place_on(piece, self._possible(piece, relaxed, scale), scale)

    def _possible(
        self, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float
    ) -> Iterator[tuple[int, list[AllowedPlacement]]]:
        """The hides, large ones first, with the ways in which the piece may lie there by area and largest disc."""
        fields = self.problem.fields
        for hide in sorted(range(len(fields)), key=lambda index: -fields[index].area):
            allowed = self.rules(hide, relaxed).for_piece(piece)
            ways = [way for way in allowed if self._can_hold(way.constraints, scale)]
            if ways:
                yield hide, ways

    def _can_hold(self, constraints: Sequence[Containment], scale: float) -> bool:
        return all(self._may_lie_in(each, scale) for each in constraints)

    def _may_lie_in(self, constraint: Containment, scale: float) -> bool:
        """Whether some part of the area is not too small, nor too narrow, for the ring."""
        key = constraint.ring.tobytes()
        if key not in self._measures:
            polygon = shapely.Polygon(constraint.ring)
            self._measures[key] = _Measures(polygon.area, largest_disc(polygon, 0.5)[2] - 0.5)
        measures = self._measures[key]
        parts = [
            part
            for part in shapely.get_parts(constraint.area)
            if part.area >= measures.area * scale**2 * (1.0 - 1e-6)
        ]
        return any(
            not shapely.buffer(part, -0.98 * measures.radius * scale, quad_segs=4).is_empty for part in parts
        )

    def _place_on(
        self, piece: CutPiece, possible: Iterable[tuple[int, list[AllowedPlacement]]], scale: float
    ) -> tuple[int, float] | None:
        for hide, ways in possible:
            if self.stop():
                return None
            options = tuple(
                PlacementOption(
                    0,
                    way.turns,
                    tuple(Containment(each.ring * scale, each.area) for each in way.constraints),
                    way.flipped,
                )
                for way in ways
            )
            shapes = Problem((self.problem.fields[hide],), (Item(piece.shape * scale, 0, options),))
            poses = lay(PreparedProblem.of(shapes), effort=TRIAL_EFFORT, spread=True)
            if poses.field[0] >= 0:
                return hide, float(poses.angle[0])
        return None

    def strip_verdict(
        self,
        strip: Strip,
        relaxed: frozenset[RuleKind] = frozenset(),
        *,
        tolerance: float | None = None,
        length: float = 0.0,
    ) -> Verdict:
        """Whether one such strip finds a place alone, at another length or tolerance where these are given."""
        wanted = length or strip.length
        unknown = False
        for hide in range(len(self.problem.hides)):
            rules = self.rules(hide, relaxed)
            area = rules.strip_area(strip)
            if not _may_hold_strip(area, strip.width, wanted):
                continue
            if self.stop():
                unknown = True
                continue
            axis = rules.strip_axis(strip)
            wide = 90.0 if axis is None else strip.tolerance if tolerance is None else tolerance
            one = StripRequest(0, strip.width, wanted, 1)
            if lay_strips(area, [one], direction=axis or 0.0, tolerance=wide).laid(0):
                return "fits"
        return "unknown" if unknown else "never"


def _may_hold_strip(area: shapely.Geometry, width: float, length: float) -> bool:
    """Whether some part of the area is large and long enough for a strip."""
    for part in shapely.get_parts(area):
        corners = shapely.get_coordinates(shapely.convex_hull(part))
        if part.area >= width * length * (1.0 - 1e-6) and len(corners) > 2:
            spans = corners[:, None] - corners[None]
            if float(np.hypot(spans[..., 0], spans[..., 1]).max()) >= length * (1.0 - 1e-6):
                return True
    return False


def _turn_that_fits(piece: CutPiece, trials: _Trials) -> str:
    """How far the tolerance would have to go: the least of a few steps at which it is placed."""
    rule = piece.cut.stretch
    if rule is None:
        return ""
    for wider in (5, 10, 15, 20, 30, 45, 60, 90):
        tolerance = min(rule.tolerance + wider, 90.0)
        verdict = trials.verdict(_with_tolerance(piece, tolerance), frozenset())
        if verdict == "unknown":
            return "Let it turn further from the stretch."
        if verdict == "fits":
            return f"A tolerance of {tolerance:g}° instead of {rule.tolerance:g}° would let it in."
        if tolerance >= 90.0:
            break
    return "No turn of it alone helps within the regions it may use."


def _with_tolerance(piece: CutPiece, tolerance: float) -> CutPiece:
    rule = piece.cut.stretch
    assert rule is not None
    cut = structs.replace(piece.cut, stretch=structs.replace(rule, tolerance=tolerance))
    return replace(piece, cut=cut)


def _region_that_fits(piece: CutPiece, trials: _Trials) -> str:
    place = trials.place(piece, frozenset({"regions"}))
    if place is None:
        return "Let it lie in other regions too."
    return f"Let it lie in other regions too: it would fit on '{trials.problem.hides[place[0]].name}'."


def _smaller_that_fits(piece: CutPiece, trials: _Trials) -> str:
    """The largest scale, in steps of 2 %, at which it lies alone on a clear hide."""
    low, high = 0, 49
    while low < high:
        middle = (low + high + 1) // 2
        verdict = trials.verdict(piece, NO_RULES, middle * 0.02)
        if verdict == "unknown":
            return "Use a larger hide, or make it in parts."
        if verdict == "fits":
            low = middle
        else:
            high = middle - 1
    if low == 0:
        return "Use a larger hide, or make it in parts."
    return f"At {low * 2} % of its size it would fit; else use a larger hide, or make it in parts."


def _other_face(piece: CutPiece, trials: _Trials) -> str:
    return "Let it show another face, or make it in two parts."


_SINGLE_RULES: tuple[tuple[RuleKind, Reason, str, Callable[[CutPiece, _Trials], str]], ...] = (
    ("stretch", "stretch", "Only its stretch limits keep it out.", _turn_that_fits),
    ("regions", "region", "Only the rule about regions and firmness keeps it out.", _region_that_fits),
    ("flaws", "flaws", "Only flaws keep it out: no clear area is large enough.", _other_face),
)
"""Each rule that may keep a piece out by itself: the reason, why in words, and what finds the least change."""


def _why_strip(
    problem: LeatherProblem, strip: Strip, count: int, trials: _Trials, *, fits: bool, begun: bool
) -> Finding:
    """(reason, why, change) for a strip. `fits`: one like it has a place; `begun`: a part of one has."""
    if not any(problem.job.layer(strip.layer).takes(hide) for hide in problem.hides):
        return NO_LEATHER
    leather = leather_to_add(count * strip.width * strip.length, problem.job.units)
    more = f"About {leather} more leather would take {'it' if count == 1 else f'all {count}'}."
    if begun:
        return "no room", "A part of it stays where it is; the rest of it has no place.", more
    if strip.source == "disc":
        more = f"About {leather} more leather."
        return "no room", "No clear disc is left that is large enough.", more
    verdict = "fits" if fits else trials.strip_verdict(strip)
    if verdict == "fits":
        return "no room", "It fits on an empty hide; the others have taken the room.", more
    if verdict == "unknown":
        return "no room", "No place was left for it beside the others.", more
    if strip.along == "backbone" and trials.strip_verdict(strip, tolerance=90.0) == "fits":
        return "stretch", "Only its direction keeps it out.", "It would fit across the backbone."
    if trials.strip_verdict(strip, frozenset({"regions"})) == "fits":
        return "region", "Only the rule about regions keeps it out.", "Let it lie in other regions too."
    if trials.strip_verdict(strip, frozenset({"flaws"})) == "fits":
        return "flaws", "Every straight run of that length meets a flaw.", _shorter(strip, trials)
    run = "clear straight run" if trials.stop() else "straight run"
    return "too large", f"No hide has a {run} of that length.", _shorter(strip, trials)


def _shorter(strip: Strip, trials: _Trials) -> str:
    """The longest single strip, to 10 mm, that an empty hide gives."""
    joined = "" if strip.joins else ", or allow it to be joined"
    low, high = 0, math.ceil(strip.length / 10.0)
    while low + 1 < high:
        middle = (low + high) // 2
        verdict = trials.strip_verdict(strip, length=max(middle * 10.0, strip.width))
        if verdict == "unknown":
            return f"Shorten it{joined}."
        if verdict == "fits":
            low = middle
        else:
            high = middle
    run = show_length(low * 10.0, trials.problem.job.units)
    return f"The longest run is about {run}: shorten it to that{joined}." if low else ""
