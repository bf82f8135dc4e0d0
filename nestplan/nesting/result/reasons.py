"""Why something has no place, and the least change that would let it in.

Each reason is tried for real, on empty hides with one rule left out. What cannot be, by area or by the largest disc,
is known without a trial; where there is no time for trials that alone decides.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Literal

from msgspec import structs

from nestplan.geometry.units import show_length
from nestplan.model.job import CutPiece
from nestplan.model.piece import LayerCut, Part, Strip
from nestplan.model.plan import Placement, Unplaced
from nestplan.model.rules import RuleKind
from nestplan.model.strip_parts import parts_of_copies, uncovered_length, whole_copies
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.result.trials import Trials
from nestplan.yields.missing_leather import leather_to_add, leather_to_add_in_words

__all__ = ["unplaced"]

Reason = Literal["too large", "stretch", "region", "flaws", "no leather", "no room"]
Finding = tuple[Reason, str, str]
"""The reason, why in words, and the change in words."""

NO_LEATHER: Finding = (
    "no leather",
    "No hide is of the leather or thickness its layer asks.",
    "Add a hide that is.",
)
MOST_NAMED = 4
"""Hides named at most that alone are large enough for a piece."""
TOO_SOON: Finding = (
    "no room",
    "The search ended before a place was found for it; a longer one may find one.",
    "",
)
_RULES_BESIDE: dict[RuleKind, str] = {
    "regions": "The others have taken the room: what they leave lies in regions, or is less firm, than it may use.",
    "stretch": "The others have taken the room: in what they leave its stretch keeps it from being turned to fit.",
    "flaws": "The others have taken the room: in what they leave flaws keep it out.",
}
_STRIPS_BESIDE: dict[RuleKind, str] = {
    **_RULES_BESIDE,
    "stretch": "The others have taken the room: what they leave is long enough only across its direction.",
}
"""Why something has no place that would have one beside the others without one of the rules."""
NO_RULES: frozenset[RuleKind] = frozenset({"stretch", "regions", "flaws"})
"""All rules that can be left out."""


def unplaced(
    problem: LeatherProblem, placements: Iterable[Placement], *, stop: Callable[[], bool] = lambda: False
) -> tuple[Unplaced, ...]:
    """What the job asks that `placements` do not hold, kind by kind, with the reason and the least change.

    Once `stop` says so nothing more is tried: reasons then rest on what is placed and on what areas can hold.
    """
    placed = list(placements)
    trials = Trials(problem, stop, placed)
    return (*_missing_pieces(problem, placed, trials), *_missing_strips(problem, placed, trials))


def _missing_pieces(
    problem: LeatherProblem, placed: Sequence[Placement], trials: Trials
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
    problem: LeatherProblem, placed: Sequence[Placement], trials: Trials
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


def _why(problem: LeatherProblem, piece: CutPiece, count: int, trials: Trials, *, fits: bool) -> Finding:
    """(reason, why, change) for a cut piece: each rule is left out in turn, on the hides as they are when empty.

    `fits`: one like it has a place.
    """
    if not any(problem.job.layer(piece.cut.layer).takes(hide) for hide in problem.hides):
        return NO_LEATHER
    verdict = "fits" if fits else trials.verdict(piece, frozenset())
    if verdict != "never":
        unknown = _hides_without_direction(problem, piece, others_are_full=True)
        return unknown or _no_room(problem, piece, count, trials)
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


def _no_room(problem: LeatherProblem, piece: CutPiece, count: int, trials: Trials) -> Finding:
    """No room left, and which rule keeps it out where there is some, or that the search ended too soon; and how much
    leather would do."""
    leather = leather_to_add_in_words(count * piece.piece.net_area, count, problem.job.units)
    beside = trials.beside(piece, frozenset())
    regions = _only_regions(problem, piece)
    if beside == "fits" and trials.area_left(piece) > count * piece.net_area:
        return TOO_SOON
    if trials.stop() and not regions and trials.lies_open(piece.cut.layer, piece.net_area):
        return TOO_SOON
    if regions:
        return "no room", f"It may lie only in {regions}, and the others have taken the room there.", leather
    for rule, words in _RULES_BESIDE.items():
        if _asks(piece, rule) and trials.beside(piece, frozenset({rule})) == "fits":
            return "no room", words, leather
    where = _only_hides(problem, piece, trials)
    if where:
        return (
            "no room",
            f"It is too large for any hide but {where}; the others have taken the room there.",
            leather,
        )
    if beside == "never":
        return "no room", "The others have taken the room: what they leave is nowhere large enough.", leather
    return "no room", "The others have taken the room: no place was found in what they leave.", leather


def _only_hides(problem: LeatherProblem, piece: CutPiece, trials: Trials) -> str:
    """The hides, in words, that are not too small for a piece; empty where they all may hold it, or many may, or there
    is no time to look."""
    takes = problem.job.layer(piece.cut.layer).takes
    names = [f"'{problem.hides[hide].name}'" for hide in trials.hides_that_may_hold(piece)]
    if not 0 < len(names) <= MOST_NAMED or len(names) == sum(takes(hide) for hide in problem.hides):
        return ""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _asks(piece: CutPiece, rule: RuleKind) -> bool:
    """Whether a rule may keep a piece out at all."""
    if rule == "stretch":
        return piece.stretch is not None and piece.stretch.tolerance < 90.0
    cut = piece.cut
    asking: list[LayerCut | Part] = [cut, *piece.piece.parts_in(cut.layer)]
    return rule != "regions" or any(e.regions or e.not_regions or e.least_firmness > 1 for e in asking)


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


def _turn_that_fits(piece: CutPiece, trials: Trials) -> str:
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


def _region_that_fits(piece: CutPiece, trials: Trials) -> str:
    place = trials.place(piece, frozenset({"regions"}))
    if place is None:
        return "Let it lie in other regions too."
    return f"Let it lie in other regions too: it would fit on '{trials.problem.hides[place[0]].name}'."


def _smaller_that_fits(piece: CutPiece, trials: Trials) -> str:
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


def _other_face(piece: CutPiece, trials: Trials) -> str:
    return "Let it show another face, or make it in two parts."


_SINGLE_RULES: tuple[tuple[RuleKind, Reason, str, Callable[[CutPiece, Trials], str]], ...] = (
    ("stretch", "stretch", "Only its stretch limits keep it out.", _turn_that_fits),
    ("regions", "region", "Only the rule about regions and firmness keeps it out.", _region_that_fits),
    ("flaws", "flaws", "Only flaws keep it out: no clear area is large enough.", _other_face),
)
"""Each rule that may keep a piece out by itself: the reason, why in words, and what finds the least change."""


def _why_strip(
    problem: LeatherProblem, strip: Strip, count: int, trials: Trials, *, fits: bool, begun: bool
) -> Finding:
    """(reason, why, change) for a strip. `fits`: one like it has a place; `begun`: a part of one has."""
    if not any(problem.job.layer(strip.layer).takes(hide) for hide in problem.hides):
        return NO_LEATHER
    leather = leather_to_add(count * strip.width * strip.length, problem.job.units)
    more = f"About {leather} more leather would take {'it' if count == 1 else f'all {count}'}."
    if begun:
        return "no room", "A part of it stays where it is; the rest of it has no place.", more
    verdict = "fits" if fits or strip.source == "disc" else trials.strip_verdict(strip)
    if verdict != "never":
        return _no_room_for_strip(strip, count, trials, more)
    if strip.along == "backbone" and trials.strip_verdict(strip, tolerance=90.0) == "fits":
        return "stretch", "Only its direction keeps it out.", "It would fit across the backbone."
    if trials.strip_verdict(strip, frozenset({"regions"})) == "fits":
        return "region", "Only the rule about regions keeps it out.", "Let it lie in other regions too."
    if trials.strip_verdict(strip, frozenset({"flaws"})) == "fits":
        return "flaws", "Every straight run of that length meets a flaw.", _shorter(strip, trials)
    run = "clear straight run" if trials.stop() else "straight run"
    return "too large", f"No hide has a {run} of that length.", _shorter(strip, trials)


def _no_room_for_strip(strip: Strip, count: int, trials: Trials, leather: str) -> Finding:
    """As `_no_room`, for so many of a strip."""
    if trials.stop() and trials.lies_open(strip.layer, strip.width * strip.length):
        return TOO_SOON
    if trials.strips_beside(strip, count):
        return TOO_SOON
    anywhere = structs.replace(strip, regions=(), not_regions=(), least_firmness=1)
    changes: dict[RuleKind, Strip] = {
        "regions": anywhere,
        "stretch": structs.replace(strip, along="any"),
        "flaws": structs.replace(strip, over_flaws=True),
    }
    for rule, changed in changes.items():
        if changed != strip and trials.strips_beside(changed, 1):
            return "no room", _STRIPS_BESIDE[rule], leather
    if strip.source == "disc":
        return "no room", "No clear disc is left that is large enough.", leather
    return "no room", "The others have taken the room: they leave no straight run of that length.", leather


def _shorter(strip: Strip, trials: Trials) -> str:
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
