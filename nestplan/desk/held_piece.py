"""A piece held by the pointer: whether it may lie where it is held, what is in its way, and the nearest free place.

Plain functions in mm and degrees, no Qt. What is allowed comes from `nestplan.model.rules`, the same rules
nesting obeys; this file only asks them at a pose, fast enough to be asked at every move of the pointer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.desk.document.plan_edits import cut_piece_of
from nestplan.geometry.containment import Containment
from nestplan.geometry.pose import Pose, Turns
from nestplan.model.hide import Flaw, Hide
from nestplan.model.job import CutPiece, Job
from nestplan.model.plan import Placement, Plan
from nestplan.model.rules import AllowedPlacement, PlacementRules, flaws_against_face, flaws_against_strip

__all__ = ["HeldPiece", "PoseCheck", "angle_at", "hold_placement"]

_SLACK = 0.005
"""mm by which a gap may fall short and an edge be crossed: half of what the audit forgives."""


@dataclass(frozen=True)
class PoseCheck:
    """Whether the piece may lie there; if not, which placements it meets and why, in words."""

    free: bool
    overlapped: tuple[Placement, ...] = ()
    why: str = ""


@dataclass(eq=False)
class HeldPiece:
    """One placement taken up from (or over) one hide, with all others on that hide indexed.

    `rules` say where it may lie; empty for strips, which then are held to `area` and `axis`.
    """

    hide: Hide
    job: Job
    moving: Placement
    others: tuple[Placement, ...]
    piece: CutPiece | None
    _turned: dict[
        tuple[float, bool],
        tuple[NDArray[np.float64], list[tuple[NDArray[np.float64], Containment]], Turns],
    ] = field(default_factory=dict)

    @cached_property
    def rules(self) -> PlacementRules:
        """The job's rules on this hide."""
        return PlacementRules(self.hide, self.job)

    @cached_property
    def allowed(self) -> tuple[AllowedPlacement, ...]:
        """Where and which way round the piece may lie; a strip lies in its area at its axis."""
        if self.piece is not None:
            return self.rules.for_piece(self.piece)
        strip = self.job.strip(self.moving.strip)
        axis = self.rules.strip_axis(strip)
        turns = (
            Turns.any() if axis is None or self.moving.spiral else Turns.around(axis, strip.tolerance, 180.0)
        )
        return (AllowedPlacement(turns, (Containment(self._own_ring, self.rules.strip_area(strip)),)),)

    @cached_property
    def turns(self) -> Turns:
        """Every turn (degrees) of the placement's pose that some rule allows, this side up."""
        found = Turns.none()
        for option in self.allowed:
            if option.flipped == self._flipped(self.moving.mirrored):
                found = found.union(option.turns)
        return found

    @cached_property
    def _own_ring(self) -> NDArray[np.float64]:
        return self.moving.pose.inverse().apply(self.moving.cut_ring)

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree([shapely.Polygon(other.cut_ring) for other in self.others])

    @cached_property
    def _gaps(self) -> NDArray[np.float64]:
        strip = bool(self.moving.strip)
        return np.array(
            [self.job.strip_gap if strip and other.strip else self.job.gap for other in self.others],
            dtype=float,
        )

    def rings(self, pose: Pose) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The finished and the cut outline (n, 2) at `pose`, mm; the overcut is the placement's own."""
        back = self.moving.pose.inverse()
        return (
            pose.apply_ring(back.apply_ring(self.moving.finished_ring)),
            pose.apply_ring(back.apply_ring(self.moving.cut_ring)),
        )

    def check(self, pose: Pose) -> PoseCheck:
        """Whether the piece may lie at `pose`, and what hinders it."""
        _, cut = self.rings(pose)
        overlapped = self._overlapped(shapely.polygons(cut))
        if overlapped:
            names = sorted({hit.name for hit in overlapped})
            return PoseCheck(False, overlapped, f"It meets {_listed(names)}.")
        why = self.why_not(pose)
        return PoseCheck(not why, (), why)

    def why_not(self, pose: Pose) -> str:
        """What the rules say against `pose`, leaving other pieces aside; empty where they allow it."""
        flipped = self._flipped(pose.mirrored)
        options = [option for option in self.allowed if option.flipped == flipped]
        if not options:
            return f"The job's rules do not let {self.moving.name} lie on {self.hide.name} this side up."
        turned = [option for option in options if option.turns.contains(pose.angle)]
        if any(self._constraints_hold(option, pose) for option in turned):
            return ""
        leather = shapely.Polygon(self.hide.ring, self.hide.hole_rings)
        finished, cut = self.rings(pose)
        if not _covers(leather.buffer(self.job.permissions.run_off), cut):
            return "It runs off the hide's edge."
        if not turned:
            return f"It is turned {_degrees_off(options, pose.angle):.0f}° too far for its stretch."
        for outline, flaws in self._outlines_and_their_flaws(pose, finished):
            for flaw in flaws:
                if outline.distance(shapely.Polygon(flaw.ring)) < flaw.margin + _SLACK:
                    return f"It comes too near the flaw {flaw.name or flaw.spoils}."
        return "It lies partly in a region, or over a stretch direction, that its rules keep it off."

    def _outlines_and_their_flaws(
        self, pose: Pose, finished: NDArray[np.float64]
    ) -> Iterator[tuple[shapely.Polygon, tuple[Flaw, ...]]]:
        """The finished outline at `pose`, and each part of it, with the flaws that it keeps off."""
        if self.piece is None:
            strip = self.job.strip(self.moving.strip)
            yield shapely.Polygon(finished), flaws_against_strip(self.hide, strip)
            return
        cut = self.piece.cut
        yield shapely.Polygon(finished), flaws_against_face(self.hide, cut.shows)
        for part in self.piece.piece.parts_in(cut.layer):
            yield (
                shapely.Polygon(pose.apply(part.ring)),
                flaws_against_face(self.hide, part.shows or cut.shows),
            )

    def _overlapped(self, polygon: shapely.Polygon) -> tuple[Placement, ...]:
        if not self.others:
            return ()
        widest = float(self._gaps.max(initial=0.0))
        near = self._tree.query(polygon, predicate="dwithin", distance=max(widest - _SLACK, 0.0))
        if not len(near):
            return ()
        shapes = self._tree.geometries[near]
        clash = shapely.distance(shapes, polygon) < self._gaps[near] - _SLACK
        touching = ~clash & shapely.intersects(shapes, polygon)
        clash[touching] = shapely.area(shapely.intersection(shapes[touching], polygon)) > _SLACK
        return tuple(self.others[number] for number in sorted(near[clash]))

    def _flipped(self, mirrored: bool) -> bool:
        return self.piece is not None and mirrored != self.piece.mirrored

    def _constraints_hold(self, option: AllowedPlacement, pose: Pose) -> bool:
        # An option's ring is in the placement's own frame, already turned over: only turn and move are left.
        lay = Pose(pose.x, pose.y, pose.angle)
        return all(_covers(constraint.area, lay.apply(constraint.ring)) for constraint in option.constraints)

    def nearest_free(self, pose: Pose, within: float = 400.0, step: float = 4.0) -> Pose | None:
        """The free pose at the same turn that is nearest to `pose`, to about half a millimetre; None if there
        is none closer than `within` mm.

        Rings of poses round the wish are tried outward, then the first free one is drawn back towards it. The
        turn is first brought to the nearest allowed one.
        """
        if not self.turns:
            return None
        start = Pose(pose.x, pose.y, self.turns.nearest(pose.angle), pose.mirrored)
        if self.check(start).free:
            return start
        for radius, moves in _rings_of_moves(within, step):
            free = self._free_among(start, moves)
            if len(free):
                drawn = [self._pulled_back(start, move, max(radius - step, 0.0)) for move in free[:6]]
                best = min(drawn, key=lambda move: math.hypot(*move))
                return Pose(start.x + best[0], start.y + best[1], start.angle, start.mirrored)
        return None

    def _free_among(self, start: Pose, moves: NDArray[np.float64]) -> NDArray[np.float64]:
        _, cut = self.rings(start)
        shapes = shapely.polygons(cut[None, :, :] + moves[:, None, :])
        clear = np.ones(len(moves), dtype=bool)
        if self.others:
            gap = max(float(self._gaps.max(initial=0.0)) - _SLACK, 1e-9)
            clear[np.unique(self._tree.query(shapes, predicate="dwithin", distance=gap)[0])] = False
        found = [
            move
            for move in moves[clear]
            if not self._rules_forbid(Pose(start.x + move[0], start.y + move[1], start.angle, start.mirrored))
        ]
        return np.asarray(found).reshape(-1, 2)

    def _rules_forbid(self, pose: Pose) -> bool:
        flipped = self._flipped(pose.mirrored)
        return not any(
            option.flipped == flipped
            and option.turns.contains(pose.angle)
            and self._constraints_hold(option, pose)
            for option in self.allowed
        )

    def _pulled_back(self, start: Pose, move: NDArray[np.float64], least: float) -> tuple[float, float]:
        far = math.hypot(*move)
        unit = move / far
        free, blocked = far, least
        while free - blocked > 0.4:
            middle = (free + blocked) / 2
            at = Pose(start.x + unit[0] * middle, start.y + unit[1] * middle, start.angle, start.mirrored)
            if self.check(at).free:
                free = middle
            else:
                blocked = middle
        return float(unit[0] * free), float(unit[1] * free)


def hold_placement(plan: Plan, job: Job, hide: Hide, moving: Placement) -> HeldPiece:
    """`moving` taken up over `hide`, with every other placement of the plan on it in the way."""
    others = tuple(other for other in plan.placements if other.hide == hide.name and other is not moving)
    return HeldPiece(hide, job, moving, others, cut_piece_of(job, moving))


def angle_at(centre: tuple[float, float], start: tuple[float, float], now: tuple[float, float]) -> float:
    """Degrees by which the pointer has turned about `centre` from `start` to `now`, in (-180, 180]."""
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(now[1] - centre[1], now[0] - centre[0])
    turned = math.degrees(last - first) % 360.0
    return turned - 360.0 if turned > 180.0 else turned


def _covers(area: shapely.Geometry, ring: NDArray[np.float64]) -> bool:
    shapely.prepare(area)
    polygon = shapely.polygons(ring)
    if area.covers(polygon):
        return True
    # Rounding may put a corner a hair outside an edge it lies on: what counts is the area beyond it.
    return bool(area.intersects(polygon) and polygon.difference(area).area <= _SLACK)


def _rings_of_moves(within: float, step: float) -> Iterator[tuple[float, NDArray[np.float64]]]:
    radius = step
    while radius <= within:
        count = max(12, min(48, int(2 * math.pi * radius / step)))
        turns = np.linspace(0.0, 2.0 * math.pi, count, endpoint=False)
        yield radius, radius * np.column_stack((np.cos(turns), np.sin(turns)))
        radius += step if radius < 60 else 2 * step


def _degrees_off(options: Sequence[AllowedPlacement], angle: float) -> float:
    turns = Turns.none()
    for option in options:
        turns = turns.union(option.turns)
    if not turns:
        return 180.0
    apart = abs(turns.nearest(angle) - angle % 360.0)
    return min(apart, 360.0 - apart)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
