"""A second check of plans: GEOS and the files alone. Nothing of ours takes part in the judgement.

What is wrong by more than 0.01 mm is wrong: shapes that reach into each other, run off the hide, come nearer than the
gap, or lie on a hole; shapes that are not the piece's, that lie another way or in another region than they may, or are
more than were asked for; joined straps of which a part is missing; a kept piece that is no longer where it was.
"""

from __future__ import annotations

import itertools
import json
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

__all__ = ["DEPTH", "faults_in", "too_near"]

DEPTH = 0.01
"""mm; files hold a tenth of a micrometre."""

_ANGLE = 0.05
"""Degrees that a turn worked out from rounded points may be off."""


def faults_in(plan: str, job: str, hides: Sequence[str], kept: Sequence[dict[str, Any]] = ()) -> list[str]:
    """What is wrong in a plan's file, by the texts of the files of its job and hides; `kept` are placements, as the
    file writes them, that the plan had to keep."""
    made, asked = json.loads(plan), json.loads(job)
    there = {hide["name"]: hide for hide in map(json.loads, hides)}
    placements = made.get("placements", [])
    found = [*_on_its_hide(placements, asked, there), *too_near(placements, asked)]
    found += _as_drawn(placements, asked, there)
    found += _in_its_regions(placements, asked, there)
    found += [*_counted(made, asked), *_joined(placements, asked)]
    found += [
        f"a kept {each.get('piece', each.get('strip'))} was moved" for each in kept if each not in placements
    ]
    found += ["a piece was taken back" for each in made.get("unplaced", []) if each["reason"] == "taken back"]
    return found


def _name(placement: dict[str, Any], number: int) -> str:
    return f"{placement.get('piece') or placement.get('strip')} (number {number})"


def _flaw_shape(flaw: dict[str, Any]) -> shapely.Geometry:
    if "disc" in flaw:
        # As many corners as make the circle true to a thousandth of a millimetre, and outside it nowhere.
        return shapely.Point(flaw["disc"]["at"]).buffer(flaw["disc"]["diameter"] / 2.0, quad_segs=90)
    if "line" in flaw:
        return shapely.LineString(flaw["line"]["points"]).buffer(flaw["line"]["width"] / 2.0, quad_segs=90)
    return Polygon(flaw["outline"])


def _on_its_hide(
    placements: list[dict[str, Any]], job: dict[str, Any], hides: dict[str, Any]
) -> Iterator[str]:
    allowed = job.get("permissions", {})
    for number, placed in enumerate(placements):
        hide, name = hides[placed["hide"]], _name(placed, number)
        cut, finished = Polygon(placed["cut"]), Polygon(placed["finished"])
        whole = Polygon(hide["outline"])
        if not (cut.is_valid and finished.is_valid):
            yield f"{name} is no simple shape"
            continue
        off = 0.0 if "strip" in placed else allowed.get("run_off", 0.0)
        if not (whole.buffer(off + DEPTH).covers(cut) and whole.buffer(DEPTH).covers(finished)):
            yield f"{name} runs off the hide"
        if not cut.buffer(DEPTH).covers(finished):
            yield f"{name} is cut smaller than it is"
        band_is_free = allowed.get("through_flaws_in_overcut", False)
        for hole in hide.get("holes", []):
            if (finished if band_is_free else cut).intersects(Polygon(hole).buffer(-DEPTH)):
                yield f"{name} lies on a hole of the hide"
        for flaw in hide.get("flaws", []):
            if _spoils(flaw, placed, job):
                # Circles stand in the file's own checks as many corners: a little is forgiven.
                apart = finished.distance(_flaw_shape(flaw)) - flaw.get("margin", 0.0)
                deep = finished.intersects(_flaw_shape(flaw).buffer(-2.0 * DEPTH))
                if deep or apart < -2.0 * DEPTH:
                    yield f"{name} lies on a flaw or within its margin ({apart:.3f} mm)"


def _spoils(flaw: dict[str, Any], placed: dict[str, Any], job: dict[str, Any]) -> bool:
    """Whether what is placed must keep off a flaw: one through the leather, one on a face that it shows, and for a
    strip every one, unless it may lie over those of a face."""
    kind = flaw["spoils"]
    asked = _asked_of(placed, job)
    if "strip" in placed:
        return kind == "through" or not asked.get("over_flaws", False)
    shows = asked.get("shows", "grain")
    return kind == "through" or (kind in ("grain", "flesh") and shows in (kind, "both"))


def _asked_of(placed: dict[str, Any], job: dict[str, Any]) -> dict[str, Any]:
    """What the job asks of something placed: the strip, or the piece's cut from its layer."""
    for article in job["articles"]:
        for strip in article.get("strips", []):
            if strip["name"] == placed.get("strip"):
                return dict(strip)
        for piece in article.get("pieces", []):
            if piece["name"] == placed.get("piece"):
                layer = placed.get("layer", "leather")
                cuts = piece.get("cuts", [{}])
                return dict(next(each for each in cuts if each.get("layer", "leather") == layer))
    raise KeyError(placed)


def _zones(hide: dict[str, Any]) -> list[tuple[dict[str, Any], shapely.Geometry]]:
    """The regions of a hide with what of the hide belongs to them (a later one lies on top), and the rest of it."""
    left: shapely.Geometry = Polygon(hide["outline"])
    found = []
    for region in reversed(hide.get("regions", [])):
        found.append((region, left.intersection(Polygon(region["outline"]))))
        left = left.difference(Polygon(region["outline"]))
    rest = {"name": "", "firmness": hide.get("firmness", 3)}
    return [*found, (rest, left)]


def _in_its_regions(
    placements: list[dict[str, Any]], job: dict[str, Any], hides: dict[str, Any]
) -> Iterator[str]:
    """Finished shapes in a region where they may not be."""
    for number, placed in enumerate(placements):
        hide, asked = hides[placed["hide"]], _asked_of(placed, job)
        finished = Polygon(placed["finished"]).buffer(-2.0 * DEPTH)
        for region, area in _zones(hide):
            if area.is_empty or not finished.intersects(area.buffer(-DEPTH)):
                continue
            named, barred = asked.get("regions", []), asked.get("not_regions", [])
            soft = region.get("firmness", 3) < asked.get("least_firmness", 1)
            if soft or region["name"] in barred or (named and region["name"] not in named):
                yield f"{_name(placed, number)} lies in the region '{region['name']}', where it may not"


def _along_the_stretch(
    turn: np.ndarray[Any, Any],
    rule: dict[str, Any] | None,
    placed: dict[str, Any],
    hide: dict[str, Any],
    name: str,
) -> Iterator[str]:
    """Whether the piece, turned so, gives most where the leather under it does, in every region that it covers."""
    if rule is None:
        return
    axis = math.radians(rule.get("axis", 90.0))
    x, y = turn @ np.array([math.cos(axis), math.sin(axis)])
    finished = Polygon(placed["finished"]).buffer(-2.0 * DEPTH)
    for region, area in _zones(hide):
        lies = _stretch(hide) if region.get("stretch") is None else region["stretch"]
        if not isinstance(lies, float | int) or not finished.intersects(area.buffer(-DEPTH)):
            continue
        if _between(math.degrees(math.atan2(y, x)), lies) > rule.get("tolerance", 15.0) + _ANGLE:
            yield f"{name} stretches another way than it may"


def _joined(placements: list[dict[str, Any]], job: dict[str, Any]) -> Iterator[str]:
    """Straps made up of parts: all parts are there, each long enough, and together they reach."""
    strips = {strip["name"]: strip for article in job["articles"] for strip in article.get("strips", [])}
    parts: dict[tuple[str, int], list[dict[str, Any]]] = {}
    for placed in placements:
        if placed.get("part", 0):
            parts.setdefault((placed["strip"], placed.get("copy", 1)), []).append(placed)
    for (name, copy), mine in parts.items():
        strip = strips[name]
        lengths = [part["length"] for part in mine]
        reach = sum(lengths) - (len(mine) - 1) * strip.get("lap", 25.0)
        if sorted(part["part"] for part in mine) != list(range(1, len(mine) + 1)):
            yield f"parts of {name} {copy} are missing"
        elif reach < strip["length"] - DEPTH or min(lengths) < strip.get("least_part", 300.0) - DEPTH:
            yield f"the parts of {name} {copy} are too short"
        elif len(mine) > strip.get("joins", 0) + 1:
            yield f"{name} {copy} has {len(mine)} parts"


def too_near(placements: list[dict[str, Any]], job: dict[str, Any]) -> Iterator[str]:
    """Cut shapes that reach into each other or come nearer than the gap."""
    cuts = np.array([Polygon(placed["cut"]) for placed in placements], dtype=object)
    gap, strip_gap = job.get("gap", 1.5), job.get("strip_gap", 0.0)
    tree = shapely.STRtree(cuts)
    one, other = tree.query(cuts, predicate="dwithin", distance=max(gap, strip_gap) + DEPTH)
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        if a >= b or placements[a]["hide"] != placements[b]["hide"]:
            continue
        least = strip_gap if "strip" in placements[a] and "strip" in placements[b] else gap
        deep = cuts[a].intersects(cuts[b].buffer(-DEPTH))
        if deep or cuts[a].distance(cuts[b]) < least - DEPTH:
            yield f"{_name(placements[a], a)} is too near {_name(placements[b], b)}"


def _as_drawn(placements: list[dict[str, Any]], job: dict[str, Any], hides: dict[str, Any]) -> Iterator[str]:
    pieces = {piece["name"]: piece for article in job["articles"] for piece in article.get("pieces", [])}
    strips = {strip["name"]: strip for article in job["articles"] for strip in article.get("strips", [])}
    for number, placed in enumerate(placements):
        if "piece" in placed:
            yield from _piece_as_drawn(
                placed, pieces[placed["piece"]], hides[placed["hide"]], _name(placed, number)
            )
        else:
            yield from _strip_as_drawn(
                placed, strips[placed["strip"]], hides[placed["hide"]], _name(placed, number)
            )


def _without_doubled(ring: Any) -> Any:
    """A ring (n, 2), mm, without points that are within a micrometre of the one before: files may have such, plans need
    not."""
    kept = [ring[0]]
    for point in ring[1:]:
        if np.hypot(*(point - kept[-1])) > 1e-3:
            kept.append(point)
    while len(kept) > 1 and np.hypot(*(kept[-1] - kept[0])) <= 1e-3:
        kept.pop()
    return np.array(kept)


def _piece_as_drawn(
    placed: dict[str, Any], piece: dict[str, Any], hide: dict[str, Any], name: str
) -> Iterator[str]:
    drawn, laid = _without_doubled(np.array(piece["outline"])), np.array(placed["finished"])
    if len(drawn) != len(laid):
        yield f"{name} has {len(laid)} points instead of {len(drawn)}"
        return
    turn, off = _turn_of(drawn, laid, mirrored=placed.get("mirrored", False))
    if off > DEPTH:
        yield f"{name} is not the piece as it is drawn ({off:.3f} mm)"
        return
    layer = placed.get("layer", "leather")
    cut = next(each for each in piece.get("cuts", [{}]) if each.get("layer", "leather") == layer)
    other_hand = placed.get("mirrored", False) != cut.get("reversed", False)
    if other_hand and not (piece.get("pair") or piece.get("turn_over")):
        yield f"{name} is turned over, which it may not be"
    least = (cut.get("overcut") or _NO_OVERCUT)["least"]
    cut_edge = Polygon(placed["cut"]).exterior
    if least and cut_edge.distance(Polygon(placed["finished"]).exterior) < least - DEPTH:
        yield f"{name} has less overcut than {least} mm"
    yield from _along_the_stretch(turn, cut.get("stretch"), placed, hide, name)


_NO_OVERCUT: dict[str, float] = {"least": 0.0}
"""Of a layer that says none."""


def _turn_of(
    drawn: np.ndarray[Any, Any], laid: np.ndarray[Any, Any], *, mirrored: bool
) -> tuple[np.ndarray[Any, Any], float]:
    """The turn (2, 2) that lays the drawn points on the laid ones best (Kabsch 1976), and how far off one still is, mm.

    The points of a mirrored ring may run the other way round, and either ring may begin anywhere.
    """
    best: tuple[np.ndarray[Any, Any], float] = (np.eye(2), math.inf)
    centred = laid - laid.mean(axis=0)
    for order in (drawn, drawn[::-1]):
        for start in range(len(drawn)):
            ring = np.roll(order, -start, axis=0)
            ring = ring - ring.mean(axis=0)
            left, _, right = np.linalg.svd(ring.T @ centred)
            sign = np.sign(np.linalg.det(left @ right))
            flip = np.diag([1.0, -sign if mirrored else sign])
            turn = (left @ flip @ right).T
            off = float(np.hypot(*(ring @ turn.T - centred).T).max())
            if off < best[1]:
                best = turn, off
            if best[1] <= DEPTH / 2.0:
                return best
    return best


def _stretch(hide: dict[str, Any]) -> float | None:
    """Direction in which a hide gives most, degrees: as it says, else square to its backbone; None: nobody knows."""
    if hide.get("stretch") is not None or not hide.get("backbone"):
        return None if hide.get("stretch") is None else float(hide["stretch"])
    (x0, y0), (x1, y1) = hide["backbone"][0], hide["backbone"][-1]
    return math.degrees(math.atan2(y1 - y0, x1 - x0)) + 90.0


def _between(one: float, other: float) -> float:
    """Angle between two axes, 0 to 90 degrees."""
    apart = (one - other) % 180.0
    return min(apart, 180.0 - apart)


def _strip_as_drawn(
    placed: dict[str, Any], strip: dict[str, Any], hide: dict[str, Any], name: str
) -> Iterator[str]:
    if placed.get("spiral"):
        return
    corners = np.array(placed["finished"])
    sides = sorted(float(np.hypot(*(a - b))) for a, b in itertools.pairwise([*corners, corners[0]]))
    length = placed.get("length", strip["length"])
    wanted = sorted((strip["width"], strip["width"], length, length))
    if len(corners) != 4 or max(abs(a - b) for a, b in zip(sides, wanted, strict=True)) > 2.0 * DEPTH:
        yield f"{name} is no rectangle of {strip['width']} × {length} mm"
        return
    if strip.get("along", "backbone") == "backbone" and hide.get("backbone"):
        a, b = max(
            itertools.pairwise([*corners, corners[0]]), key=lambda ends: np.hypot(*(ends[0] - ends[1]))
        )
        (x0, y0), (x1, y1) = hide["backbone"][0], hide["backbone"][-1]
        turn = _between(math.degrees(math.atan2(*(b - a)[::-1])), math.degrees(math.atan2(y1 - y0, x1 - x0)))
        if turn > strip.get("tolerance", 5.0) + _ANGLE:
            yield f"{name} lies {turn:.2f}° off the backbone"


def _counted(plan: dict[str, Any], job: dict[str, Any]) -> Iterator[str]:
    """Nothing twice, and all that was asked for either placed or named as having no place."""
    placed: Counter[tuple[str, str]] = Counter()
    keys: Counter[tuple[Any, ...]] = Counter()
    for each in plan.get("placements", []):
        name, layer = each.get("piece") or each["strip"], each.get("layer", "leather")
        keys[name, layer, each.get("copy", 1), each.get("part", 0)] += 1
        if each.get("part", 0) <= 1:
            placed[name, layer] += 1
    yield from (f"{key} is placed {count} times" for key, count in keys.items() if count > 1)
    unplaced: Counter[tuple[str, str]] = Counter()
    for each in plan.get("unplaced", []):
        unplaced[each.get("piece") or each["strip"], each.get("layer", "leather")] += each.get("count", 1)
    for key, count in _asked(job).items():
        total = placed[key] + unplaced[key]
        if total < count or (total > count and plan.get("goal") != "fill"):
            yield f"{key}: {count} asked, {placed[key]} placed, {unplaced[key]} without a place"


def _asked(job: dict[str, Any]) -> Counter[tuple[str, str]]:
    asked: Counter[tuple[str, str]] = Counter()
    for article in job["articles"]:
        for piece in article.get("pieces", []):
            for cut in piece.get("cuts", [{}]):
                hands = 2 if piece.get("pair") else 1
                asked[piece["name"], cut.get("layer", "leather")] += (
                    article["sets"] * piece.get("count", 1) * hands
                )
        for strip in article.get("strips", []):
            asked[strip["name"], strip.get("layer", "leather")] += article["sets"] * strip.get("count", 1)
    return asked
