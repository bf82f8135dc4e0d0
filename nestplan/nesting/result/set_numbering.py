"""Which copy belongs to which set: whole sets first, their pieces near each other, mates nearest of all.

Copies of one cut piece are alike, so which belong together is free to choose once all has its place: it costs nothing.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from msgspec.structs import replace

from nestplan.model.job import Job
from nestplan.model.plan import Placement
from nestplan.nesting.leather_problem import LeatherProblem

__all__ = ["number_sets", "number_strips"]

OTHER_HIDE = 1e6
"""mm that two hides count as apart."""


def number_sets(problem: LeatherProblem, placed: Sequence[tuple[int, Placement]]) -> list[Placement]:
    """Placements (each with the index of the required piece it is) given their set and copy, sets in order.

    Set numbers fill up from 1, around what the problem keeps already; within a set the pieces nearest to its
    first one are taken, and to a left piece the nearest right.
    """
    pools: dict[int, list[Placement]] = defaultdict(list)
    for required, placement in placed:
        pools[problem.required_pieces[required].piece].append(placement)
    used: dict[tuple[str, str], set[int]] = defaultdict(set)
    for kept in problem.keep:
        if kept.piece:
            used[kept.piece, kept.layer].add(kept.copy)
    numbered: list[Placement] = []
    for article, number in problem.sets:
        mine = [
            p
            for p in problem.keep
            if p.piece and p.set == number and _article(problem.job, p.piece) == article
        ]
        held = Counter((p.piece, p.layer, p.mirrored) for p in mine)
        together: list[Placement] = list(mine)
        for index in _kinds_by_size(problem.job, article):
            piece = problem.job.cut_pieces[index]
            for _ in range(piece.piece.count - held[piece.key]):
                if not pools[index]:
                    break
                chosen = _nearest(pools[index], together, piece.piece.name)
                pools[index].remove(chosen)
                copies = used[piece.piece.name, piece.cut.layer]
                copy = next(n for n in range(1, len(copies) + 2) if n not in copies)
                copies.add(copy)
                together.append(replace(chosen, set=number, copy=copy))
        numbered += together[len(mine) :]
    return numbered


def number_strips(strips: Iterable[Placement], job: Job, keep: Iterable[Placement]) -> list[Placement]:
    """Strips with copies renumbered around those kept, and the set each copy is for."""
    used: dict[str, set[int]] = defaultdict(set)
    for kept in keep:
        if kept.strip:
            used[kept.strip].add(kept.copy)
    named: dict[tuple[str, int], int] = {}
    numbered = []
    for strip in strips:
        key = (strip.strip, strip.copy)
        if key not in named:
            named[key] = next(n for n in range(1, len(used[strip.strip]) + 2) if n not in used[strip.strip])
            used[strip.strip].add(named[key])
        count = job.strip(strip.strip).count
        numbered.append(replace(strip, copy=named[key], set=(named[key] - 1) // count + 1))
    return numbered


def _kinds_by_size(job: Job, article: int) -> list[int]:
    """Cut pieces of an article, the largest first; the two hands of a piece follow each other."""
    mine = [index for index, piece in enumerate(job.cut_pieces) if piece.article == article]
    return sorted(mine, key=lambda i: (-job.cut_pieces[i].piece.net_area, job.cut_pieces[i].key[:2], i))


def _nearest(pool: Sequence[Placement], together: Sequence[Placement], name: str) -> Placement:
    """The placement nearest to its mates in the set if they are there, else to the set's first piece."""
    mates = [p for p in together if p.piece == name]
    around = (mates[-1:] or together[:1]) if together else []
    if not around:
        return min(pool, key=lambda p: (p.hide, p.x, p.y))
    x, y = _middle(around[0])

    def distance(p: Placement) -> tuple[float, float, float]:
        px, py = _middle(p)
        apart = ((px - x) ** 2 + (py - y) ** 2) ** 0.5
        return (apart + (OTHER_HIDE if p.hide != around[0].hide else 0.0), p.x, p.y)

    return min(pool, key=distance)


def _middle(placement: Placement) -> tuple[float, float]:
    xs, ys = zip(*placement.finished, strict=True)
    return (min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0


def _article(job: Job, piece: str) -> int:
    return next(p.article for p in job.cut_pieces if p.piece.name == piece)
