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
    first one are taken, and to a left piece the nearest right. No set gets more of a piece than belongs to it; what
    belongs to none of those planned for goes to further ones.
    """
    sharing = _Sharing(problem, placed)
    for article, number in problem.sets:
        sharing.fill_set(article, number)
    for article in range(len(problem.job.articles)):
        number = max((number for of, number in problem.sets if of == article), default=0)
        while sharing.has_left(article):
            number += 1
            sharing.fill_set(article, number)
    return sharing.numbered


class _Sharing:
    """Placements shared out among sets. Copies that are alike (see `Job.kind_of_copy`) are one pool."""

    def __init__(self, problem: LeatherProblem, placed: Sequence[tuple[int, Placement]]) -> None:
        self.job = problem.job
        self.keep = [placement for placement in problem.keep if placement.piece]
        self.numbered: list[Placement] = []
        self.pools: dict[tuple[str, str, bool], list[Placement]] = defaultdict(list)
        for index, placement in placed:
            self.pools[self.job.kind_of_copy(*problem.cut_piece(index).key)].append(placement)
        self.copies: dict[tuple[str, str], set[int]] = defaultdict(set)
        for kept in self.keep:
            self.copies[kept.piece, kept.layer].add(kept.copy)

    def has_left(self, article: int) -> bool:
        """Whether there are placements of the article that have no set yet."""
        mine = (piece for piece in self.job.cut_pieces if piece.article == article)
        return any(self.pools[self.job.kind_of_copy(*piece.key)] for piece in mine)

    def fill_set(self, article: int, number: int) -> None:
        """Give a set what it lacks, as far as there is any."""
        names = {piece.piece.name for piece in self.job.cut_pieces if piece.article == article}
        kept = [placement for placement in self.keep if placement.set == number and placement.piece in names]
        held = Counter(self.job.kind_of_copy(each.piece, each.layer, each.mirrored) for each in kept)
        together = list(kept)
        for index in _kinds_by_size(self.job, article):
            piece = self.job.cut_pieces[index]
            kind = self.job.kind_of_copy(*piece.key)
            already = min(held[kind], piece.piece.count)
            held[kind] -= already
            for _ in range(min(piece.piece.count - already, len(self.pools[kind]))):
                chosen = _nearest(self.pools[kind], together, piece.piece.name)
                self.pools[kind].remove(chosen)
                copy = _take_free_number(self.copies[piece.piece.name, piece.cut.layer])
                together.append(replace(chosen, set=number, copy=copy))
        self.numbered += together[len(kept) :]


def _take_free_number(taken: set[int]) -> int:
    """The least number from 1 that is not taken yet; it is taken from now on."""
    number = next(n for n in range(1, len(taken) + 2) if n not in taken)
    taken.add(number)
    return number


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
            named[key] = _take_free_number(used[strip.strip])
        count = job.strip(strip.strip).count
        numbered.append(replace(strip, copy=named[key], set=(named[key] - 1) // count + 1))
    return numbered


def _kinds_by_size(job: Job, article: int) -> list[int]:
    """Cut pieces of an article, the largest first; the two hands of a piece follow each other."""
    mine = [index for index, piece in enumerate(job.cut_pieces) if piece.article == article]
    return sorted(mine, key=lambda i: (-job.cut_pieces[i].net_area, job.cut_pieces[i].key[:2], i))


def _nearest(pool: Sequence[Placement], together: Sequence[Placement], name: str) -> Placement:
    """The placement nearest to its mates in the set if they are there, else to the set's first piece."""
    mates = [p for p in together if p.piece == name]
    around = (mates[-1:] or together[:1]) if together else []
    if not around:
        return min(pool, key=lambda p: (p.hide, p.x, p.y))
    x, y = around[0].middle

    def distance(p: Placement) -> tuple[float, float, float]:
        px, py = p.middle
        apart = ((px - x) ** 2 + (py - y) ** 2) ** 0.5
        return (apart + (OTHER_HIDE if p.hide != around[0].hide else 0.0), p.x, p.y)

    return min(pool, key=distance)
