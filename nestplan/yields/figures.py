"""What a plan comes to: areas, yields, where the rest went, whole sets, money.

Counted from the plan's own outlines, the job and the hides; no code is shared with nesting. Definitions stand
at `figures_of`. The bound on sets is in `nestplan.yields.bounds`, offcuts are in `nestplan.yields.offcuts`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import shapely
from msgspec.structs import replace
from shapely.geometry.base import BaseGeometry

from nestplan.errors import InputError
from nestplan.geometry.areas import grown, kept_away_from
from nestplan.geometry.ring import area, joint_area
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.layer_work import openings_of_layer
from nestplan.model.plan import (
    Figures,
    HideFigures,
    LayerFigures,
    Offcut,
    Placement,
    Plan,
    SetFigures,
)
from nestplan.model.rules import PlacementRules, flaws_against_face, flaws_against_strip
from nestplan.model.strip_parts import whole_copies
from nestplan.yields.bounds import SetBound, fewest_hides, set_bounds
from nestplan.yields.offcuts import LACE_WIDTH, measured_offcuts, offcuts_of

__all__ = ["figures_of", "net_area", "whole_sets", "with_bounds", "with_measures"]


def figures_of(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    *,
    bounds: Sequence[SetBound] | None = None,
    fewest: int | None = None,
    rules: Sequence[PlacementRules] | None = None,
    measured: bool = True,
    stop: Callable[[], bool] = lambda: False,
) -> Figures:
    """The figures of `plan`. Areas in mm², shares of the gross area from 0 to 1, money in the hides'
    currency.

    Only hides that something is cut from count. For each hide, and summed:

    - gross: its outline less its holes; stated: the seller's mark, never used in a yield. - usable: where a
    finished piece or strip of the layers it may serve may lie at all: flaws with their margins, closed
    regions and stretch taken off. Of a layer: the same for that layer alone. - net: finished pieces less
    their openings, and strips; of a spiral lace its length times its width. - cut: cut shapes and strips,
    with what runs off the edge; net yield and cut yield: their shares of gross. - lost to overcut: cut away
    later. Cut shapes on the leather less net, so bands, openings and the middles of lace discs. - lost to
    flaws: on the leather, spoiled for some piece or strip the hide may serve, margins included, and not cut
    over. - offcuts: what is left, opened by the useful width (`offcuts_of`). - lost to gaps: of the rest,
    what lies within half the knife gap of a cut shape. - lost to offcuts too small: the rest of the rest.
    Net, overcut, flaws, gaps, small and kept offcuts make up the gross area. - cost: the prices of the whole
    hides bought; None if one is unpriced or currencies differ. Per set: cost over all whole sets. Value left: each
    price times the share of the gross area in offcuts, which go back to the rack at that price; cost less value left
    is what the leather used costs, the waste between and round the pieces with it. - sets: asked, whole in this plan
    (counted over pieces, whichever set they were meant for), and the bound for the article by itself on all the hides
    given. `bounds` may hand in the bounds if they are known; without `measured`, or once `stop` says so, offcuts are
    not measured (`offcuts_of`). - hides bound: the fewest hides on which any plan places all that is asked, as proven
    by who hands it in as `fewest`, else by area. `rules` may hand in the job's rules on each of the hides.
    - lace: mm of lace in the offcuts, as wide as the job's narrowest
    lace, or 1/4 in.

    Raises InputError where a placement names a hide, piece or strip that is not given.
    """
    by_hide = _by_hide(plan, hides)
    known_rules = rules or [PlacementRules(hide, job) for hide in hides]
    counts = [
        _count_hide(of_hide, by_hide[of_hide.hide.name])
        for of_hide in known_rules
        if by_hide[of_hide.hide.name]
    ]
    totals = [count.figures for count in counts]
    gross = _sum(each.gross for each in totals)
    known = set_bounds(job, hides) if bounds is None else bounds
    most = {bound.article: bound.sets for bound in known}
    sets = tuple(
        SetFigures(
            article=article.name,
            asked=article.sets,
            whole=whole_sets(article, job, plan.placements),
            bound=most[article.name],
        )
        for article in job.articles
    )
    done = sum(each.whole for each in sets)
    currencies = {hide.currency for hide in hides if by_hide[hide.name] and hide.price is not None}
    one_money = len(currencies) <= 1
    cost = _sum_known(each.cost for each in totals) if one_money else None
    asked = sum(
        article.sets
        * (
            sum(piece.copies_in_set * len(piece.cuts) for piece in article.pieces)
            + sum(strip.count for strip in article.strips)
        )
        for article in job.articles
    )

    def share(part: float) -> float:
        return part / gross if gross else 0.0

    net, cut = _sum(each.net for each in totals), _sum(each.cut for each in totals)
    figures = Figures(
        gross=gross,
        stated=_sum_known(each.stated for each in totals),
        usable=_sum(each.usable for each in totals),
        net=net,
        cut=cut,
        net_yield=share(net),
        cut_yield=share(cut),
        lost_to_flaws=share(_sum(each.flaws for each in totals)),
        lost_to_overcut=share(_sum(each.overcut for each in totals)),
        lost_to_gaps=share(_sum(each.gaps for each in totals)),
        lost_to_small_offcuts=share(_sum(each.small_offcuts for each in totals)),
        offcut_area=_sum(each.offcuts for each in totals),
        placed=_number_placed(plan.placements, job),
        asked=asked,
        hides_used=len(totals),
        hides_bound=fewest_hides(job, hides) if fewest is None else fewest,
        sets=sets,
        cost=cost,
        cost_per_set=None if cost is None or done == 0 else cost / done,
        value_left=_sum_known(each.value_left for each in totals) if one_money else None,
        currency=next(iter(currencies), "") if one_money else "",
        hides=tuple(totals),
        layers=_layer_figures(plan, job, counts),
        offcuts=tuple(offcut for count in counts for offcut in count.offcuts),
    )
    return with_measures(figures, job, stop=stop) if measured else figures


def with_measures(figures: Figures, job: Job, *, stop: Callable[[], bool] = lambda: False) -> Figures:
    """The figures with what their offcuts still give, as far as it is measured before `stop` says so."""
    lace_width = min(
        (wanted.strip.width for wanted in job.wanted_strips if wanted.strip.use == "lace"), default=LACE_WIDTH
    )
    offcuts = measured_offcuts(figures.offcuts, lace_width, stop=stop)
    return replace(figures, offcuts=offcuts, lace=_sum(offcut.lace for offcut in offcuts))


def with_bounds(figures: Figures, bounds: Sequence[SetBound], fewest: int | None) -> Figures:
    """The figures with other bounds on sets, and on hides unless that is None."""
    most = {bound.article: bound.sets for bound in bounds}
    sets = tuple(replace(each, bound=most[each.article]) for each in figures.sets)
    return replace(figures, sets=sets, hides_bound=figures.hides_bound if fewest is None else fewest)


def whole_sets(article: Article, job: Job, placements: Iterable[Placement]) -> int:
    """How many whole sets of the article the placements make up, counting equal pieces alike.

    A pair needs as many of each hand; where the piece may be turned over its hands are the same. A joined strip
    counts once its parts make up its length.
    """
    found = list(placements)
    placed = Counter((thing.name, thing.layer, thing.mirrored) for thing in found if thing.piece)
    limits = []
    for piece in article.pieces:
        for cut in piece.cuts:
            plain, turned = placed[piece.name, cut.layer, False], placed[piece.name, cut.layer, True]
            if piece.pair and not piece.turn_over:
                limits.append(min(plain, turned) // piece.count)
            else:
                limits.append((plain + turned) // piece.copies_in_set)
    for strip in article.strips:
        limits.append(len(whole_copies(strip, found)) // strip.count)
    return min(limits)


def net_area(placement: Placement, job: Job) -> float:
    """Finished leather of one placement, mm²: its outline less the openings of its layer; of a spiral lace its length
    times its width."""
    if placement.spiral:
        strip = job.strip(placement.strip)
        return (strip.length if placement.length is None else placement.length) * strip.width
    whole = area(placement.finished_ring)
    if not placement.piece:
        return whole
    openings = openings_of_layer(job.piece(placement.piece), placement.layer)
    return whole - joint_area([opening.ring for opening in openings])


@dataclass(frozen=True, eq=False)
class _HideTally:
    """One hide's figures, its offcuts, and its usable area layer by layer."""

    figures: HideFigures
    offcuts: tuple[Offcut, ...]
    usable: dict[str, float]


def _count_hide(rules: PlacementRules, placements: Sequence[Placement]) -> _HideTally:
    hide, job = rules.hide, rules.job
    leather = hide.surface
    shapes = shapely.union_all([shapely.Polygon(placement.cut_ring) for placement in placements])
    usable = _usable(rules)
    spoiled = _spoiled(hide, job)
    net = sum(net_area(placement, job) for placement in placements)
    cut = sum(shapely.Polygon(placement.cut_ring).area for placement in placements)
    free = leather.difference(shapes)
    sound = free.difference(spoiled)
    kept = offcuts_of(hide.name, sound, job.useful_width, measured=False)
    offcuts = sum(offcut.area for offcut in kept)
    lost = sound.difference(
        shapely.union_all([shapely.Polygon(offcut.outline, offcut.holes) for offcut in kept])
    )
    gaps = lost.intersection(grown(shapes, job.gap / 2)).area
    gross = leather.area
    figures = HideFigures(
        hide=hide.name,
        gross=gross,
        stated=None if hide.stated_area is None else float(hide.stated_area),
        usable=shapely.union_all(list(usable.values())).area,
        net=net,
        cut=cut,
        flaws=max(0.0, free.area - sound.area),
        overcut=max(0.0, shapes.intersection(leather).area - net),
        gaps=gaps,
        small_offcuts=max(0.0, lost.area - gaps),
        offcuts=offcuts,
        net_yield=net / gross,
        cut_yield=cut / gross,
        cost=hide.price,
        value_left=None if hide.price is None else hide.price * offcuts / gross,
        pieces=sum(1 for placement in placements if placement.piece),
        strips=len(_placed_things(placement for placement in placements if placement.strip)),
    )
    return _HideTally(figures, kept, {layer: room.area for layer, room in usable.items()})


def _usable(rules: PlacementRules) -> dict[str, BaseGeometry]:
    """Where finished pieces and strips may lie on the hide, layer by layer."""
    job = rules.job
    areas: dict[str, dict[int, BaseGeometry]] = {}
    for piece in job.cut_pieces:
        for allowed in rules.for_piece(piece):
            room = allowed.constraints[0].area
            areas.setdefault(piece.cut.layer, {})[id(room)] = room
    for wanted in job.wanted_strips:
        room = rules.strip_area(wanted.strip)
        if not room.is_empty:
            areas.setdefault(wanted.strip.layer, {})[id(room)] = room
    return {layer: shapely.union_all(list(found.values())) for layer, found in areas.items()}


def _spoiled(hide: Hide, job: Job) -> BaseGeometry:
    """The hide's flaws, margins included, that keep off some piece or strip that may be cut from it."""
    hindering = {id(flaw) for flaw in flaws_against_face(hide, "hidden")}
    for piece in job.cut_pieces:
        if job.layer(piece.cut.layer).takes(hide):
            for shows in (piece.cut.shows, *(part.shows or piece.cut.shows for part in piece.piece.parts)):
                hindering |= {id(flaw) for flaw in flaws_against_face(hide, shows)}
    for wanted in job.wanted_strips:
        if job.layer(wanted.strip.layer).takes(hide):
            hindering |= {id(flaw) for flaw in flaws_against_strip(hide, wanted.strip)}
    flaws = [flaw for flaw in hide.flaws if id(flaw) in hindering]
    return shapely.union_all([kept_away_from(flaw.ring, flaw.margin) for flaw in flaws])


def _layer_figures(plan: Plan, job: Job, counts: Sequence[_HideTally]) -> tuple[LayerFigures, ...]:
    """The sums of each layer over the hides it was cut from."""
    found = []
    for layer in job.layers:
        mine = [placement for placement in plan.placements if placement.layer == layer.name]
        hides = {placement.hide for placement in mine}
        found.append(
            LayerFigures(
                layer=layer.name,
                usable=_sum(
                    count.usable.get(layer.name, 0.0) for count in counts if count.figures.hide in hides
                ),
                net=_sum(net_area(placement, job) for placement in mine),
                cut=_sum(shapely.Polygon(placement.cut_ring).area for placement in mine),
                pieces=sum(1 for placement in mine if placement.piece),
                strips=len(_placed_things(placement for placement in mine if placement.strip)),
            )
        )
    return tuple(found)


def _by_hide(plan: Plan, hides: Sequence[Hide]) -> dict[str, list[Placement]]:
    found: dict[str, list[Placement]] = {hide.name: [] for hide in hides}
    for number, placement in enumerate(plan.placements):
        if placement.hide not in found:
            raise InputError(
                f"The plan is cut from '{placement.hide}', which is not among the hides.",
                place=f"placements[{number}].hide",
                mend="Name its file too.",
            )
        found[placement.hide].append(placement)
    return found


def _number_placed(placements: Sequence[Placement], job: Job) -> int:
    """Pieces, and strips whose parts make up their length."""
    strips = sum(len(whole_copies(wanted.strip, placements)) for wanted in job.wanted_strips)
    return sum(1 for placement in placements if placement.piece) + strips


def _placed_things(placements: Iterable[Placement]) -> list[Placement]:
    """One placement for each placed thing: of a joined strip its first part only."""
    return [placement for placement in placements if placement.part <= 1]


def _sum(values: Iterable[float]) -> float:
    return float(sum(values))


def _sum_known(values: Iterable[float | None]) -> float | None:
    """The sum, or None where a value is not known or there is none."""
    found = list(values)
    return None if not found or None in found else float(sum(value for value in found if value is not None))
