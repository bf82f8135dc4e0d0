"""The first answer: strips and pieces laid in the order that serves whole sets best.

What lives here: a draft (strips, the engine's layout, laces cut from what is left), how drafts compare, and how
the first one comes about. What does not: improving it (`goals`), the plan's words and numbers (`nest`).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from nestplan.model.plan import Placement
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.construct.straps import StripsWanted, lay_straps, strips_wanted
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Poses
from nestplan.yields import whole_sets

__all__ = ["Candidate", "first_draft", "laid_anew", "lay_sets", "tell_better", "with_strips_after"]

MOST_LAYS = 4
LAYING_SHARE = 0.3
"""Share of the clock after which no further laying is begun: where one takes long, moving pieces gains more."""
ANEW = 10_007
"""Step between the seeds of layings one after another."""
GRACE = 6.0
"""Seconds for which the first laying may go on although the clock has run out."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """Strips laid before the pieces, the poses of the pieces in `layout`'s problem, strips laid after, and what
    strips are missing."""

    task: LeatherProblem
    layout: Layout
    before: tuple[Placement, ...]
    poses: Poses
    after: tuple[Placement, ...] = ()
    missing: tuple[StripsWanted, ...] = ()
    later: tuple[StripsWanted, ...] = field(default=())

    @cached_property
    def pieces(self) -> list[tuple[int, Placement]]:
        """(want, placement) of every piece that lies."""
        return self.task.placements(self.poses)

    @cached_property
    def whole(self) -> tuple[int, ...]:
        """Whole sets of each article, what is kept included."""
        lie = [*self.task.keep, *self.before, *self.after, *(p for _, p in self.pieces)]
        return tuple(whole_sets(article, self.task.job, lie) for article in self.task.job.articles)

    @property
    def merit(self) -> tuple[float, float, float, float]:
        """What makes one draft better than another: sets, things that lie, their area, cheap hides."""
        asked = [article.sets for article in self.task.job.articles]
        share = sum(
            min(w / a, 1.0) if not self.task.beyond else w / a for w, a in zip(self.whole, asked, strict=True)
        )
        on = self.poses.field >= 0
        area = float(sum(self.task.cut_piece(int(i)).piece.net_area for i in np.flatnonzero(on)))
        missing = sum(w.count for w in self.missing)
        return share, float(on.sum()) - missing, area, -float(len(set(self.poses.field[on].tolist())))

    @property
    def lying(self) -> list[Placement]:
        """Everything that lies, what is kept first; copies and sets are not yet numbered."""
        return [*self.task.keep, *self.before, *(p for _, p in self.pieces), *self.after]

    @property
    def cost(self) -> float:
        """What the hides in use cost, in money or else area."""
        used = {placement.hide for placement in self.lying}
        return sum(self.task.cost(index) for index, hide in enumerate(self.task.hides) if hide.name in used)

    @property
    def complete(self) -> bool:
        """Whether all that was asked lies."""
        wants = self.task.wants
        lie = all(self.poses.field[i] >= 0 for i in range(len(wants)) if wants[i].asked)
        return lie and not self.missing


def first_draft(task: LeatherProblem, work: SearchContext, *, widen: bool = True) -> Candidate:
    """The first answer, with overcuts at their wish if `widen` and everything lies that way as cheaply.

    The first laying of all that is asked runs to its end even if the clock is short, but for a few seconds at most;
    what would only better it does not begin, or breaks off, once the clock has run out.
    """
    widen = widen and task.can_widen
    wide = _in_best_order(task.widened(1.0), work, once=True) if widen else None
    if wide is not None and wide.complete and (len(task.hides) == 1 or work.watch.late()):
        return wide
    draft = _in_best_order(task, work, hurried=wide is not None and wide.complete)
    if wide is not None and wide.complete and (not draft.complete or wide.cost <= draft.cost):
        draft = wide
    tell_better(draft, work)
    return draft


def _in_best_order(
    task: LeatherProblem, work: SearchContext, *, once: bool = False, hurried: bool = False
) -> Candidate:
    """The best of a few orders: straps, pieces, then lace from what is left; all strips last; all strips first.

    A further order is tried only where the one before left something out that it could mend, and with `once` not
    even then. `hurried`: there is an answer already, so that the clock may break off this one.
    """
    wanted = strips_wanted(task)
    straps = [w for w in wanted if w.strip.source == "edge"]
    laces = [w for w in wanted if w.strip.source != "edge"]
    orders: list[tuple[Sequence[StripsWanted], Sequence[StripsWanted]]] = [(straps, laces)]
    if straps:
        orders.append(([], wanted))
    if laces:
        orders.append((wanted, []))
    best: Candidate | None = None
    for first, last in orders:
        if best is not None and (best.complete or once or work.watch.late()):
            break
        work.watch.stage("strips")
        before, missing = lay_straps(task, first)
        work.watch.stage("lay")
        layout = Layout(task.problem(before), seed=work.seed)
        most = 1 if once else MOST_LAYS
        bare = Candidate(
            task, layout, tuple(before), Poses.none(layout.item_count), (), tuple(missing), tuple(last)
        )

        def between(poses: Poses, bare: Candidate = bare) -> None:
            tell_better(with_strips_after(replace(bare, poses=poses)), work)

        poses = lay_sets(
            task, layout, work, most_lays=most, hurried=hurried or best is not None, between=between
        )
        draft = with_strips_after(replace(bare, poses=poses))
        if best is None or draft.merit > best.merit:
            best = draft
            tell_better(draft, work)
    assert best is not None
    return best


def with_strips_after(draft: Candidate) -> Candidate:
    """The draft with the strips that come last laid around its pieces."""
    again = {w.strip.name for w in draft.later}
    kept = [w for w in draft.missing if w.strip.name not in again]
    around = [*draft.before, *(p for _, p in draft.pieces)]
    after, missing = lay_straps(draft.task, draft.later, around)
    return Candidate(
        draft.task, draft.layout, draft.before, draft.poses, tuple(after), (*kept, *missing), draft.later
    )


def tell_better(draft: Candidate, work: SearchContext) -> None:
    """Tell of a better draft: its counts, what lies where, and the draft itself to whoever makes plans of drafts."""
    work.watch.better(**standing(draft))
    work.watch.show(lambda: draft.lying)
    work.offer(draft)


def standing(draft: Candidate) -> dict[str, object]:
    """A draft's counts for the progress record."""
    job = draft.task.job
    on = draft.poses.field >= 0
    cut = sum(draft.task.cut_piece(int(i)).piece.net_area for i in np.flatnonzero(on))
    room = sum(draft.task.fields[f].area for f in set(draft.poses.field[on].tolist()))
    strips = len({(p.strip, p.copy) for p in (*draft.before, *draft.after)})
    kept = len({(p.name, p.layer, p.copy) for p in draft.task.keep})
    return {
        "placed": int(on.sum()) + strips + kept,
        "asked": sum(w.asked for w in draft.task.wants)
        + sum(w.count for w in strips_wanted(draft.task))
        + kept,
        "sets": sum(draft.whole),
        "sets_asked": sum(article.sets for article in job.articles),
        "cut_yield": float(cut / room) if room else 0.0,
    }


def lay_sets(
    task: LeatherProblem,
    layout: Layout,
    work: SearchContext,
    *,
    most_lays: int = MOST_LAYS,
    hurried: bool = False,
    between: Callable[[Poses], None] = lambda poses: None,
) -> Poses:
    """Pieces laid so that many sets come out whole: all at once, or where that fails the first k sets before the
    rest, for the k that does best. See `first_draft` for the clock; `hurried`: it counts from the beginning.
    `between` is called once, with the poses of the first laying, if others follow and there is no answer yet."""
    ground = PreparedProblem.from_layout(layout)
    upright = ground.with_quarter_turns(task.axes)
    ranks = np.array([want.rank for want in task.wants], np.int64)
    if not len(ranks):
        return Poses.none(0)
    everything = int(ranks.max()) + 1
    tries = everything if not task.beyond else _likely(task, ground)
    best, best_merit = None, (-1.0, -1.0)
    known: dict[int, bool] = {}
    told = hurried
    for _ in range(most_lays):
        breaks = _Break(work.watch, 0.0 if hurried or best is not None else GRACE)
        for way in (ground, upright):
            poses = _laid(task, way, tries, work, breaks, work.seed)
            on = poses.field >= 0
            known[tries] = known.get(tries, False) or bool(on[ranks < tries].all())
            merit = task.aim.merit(on)
            if best is None or merit > best_merit:
                best, best_merit = poses, merit
            done = (known[tries] and tries == everything) or work.watch.late() or _enough(work.watch)
            if done:
                break
            if not told:
                told = True
                between(poses)
        if done:
            break
        if tries == everything:
            size = task.aim.size
            assert best is not None
            lies = best.field >= 0
            tries = min(max(int(everything * float(size[lies].sum() / size.sum())), 1), everything - 1)
        else:
            tries += 1 if known[tries] else -1
        if tries in known or tries < 1:
            break
    assert best is not None
    return best


def laid_anew(draft: Candidate, work: SearchContext, until: float) -> Candidate:
    """The best of the draft and of pieces laid anew around its strips from other seeds, until that share of the budget
    is used up: for the goal `fill`. Every fourth time one set more is laid first than came out whole."""
    task, layout, watch = draft.task, draft.layout, work.watch
    ground = PreparedProblem.from_layout(layout)
    ways = (ground.with_quarter_turns(task.axes), ground)
    aim = task.aim
    best, best_merit = draft.poses, aim.merit(draft.poses.field >= 0)
    tried = 0
    while not watch.over() and watch.used() < until:
        tried += 1
        whole = sum(aim.whole(best.field >= 0))
        sets = min(max(whole + (tried % 4 == 0), 1), len(task.sets))
        way = ways[tried % 3 == 2]
        poses = _laid(task, way, sets, work, lambda _: watch.late(), work.seed + ANEW * tried)
        watch.count_pass()
        merit = aim.merit(poses.field >= 0)
        if merit > best_merit:
            best, best_merit = poses, merit
            tell_better(replace(draft, poses=poses), work)
    if best is draft.poses:
        return draft
    changed = with_strips_after(replace(draft, poses=best, after=()))
    return changed if changed.merit[:2] >= draft.merit[:2] else draft


def _laid(
    task: LeatherProblem,
    ground: PreparedProblem,
    sets: int,
    work: SearchContext,
    stop: Callable[[int], bool],
    seed: int,
) -> Poses:
    """Pieces laid anew: those of the first `sets` sets before the rest, hardest first."""
    ranks = np.array([want.rank for want in task.wants], np.int64)
    first = hardest_first(ground, np.flatnonzero(ranks < sets).tolist())
    rest = [int(i) for rank in range(sets, int(ranks.max()) + 1) for i in
            hardest_first(ground, np.flatnonzero(ranks == rank).tolist())]  # fmt: skip
    return lay(
        ground, order=[*first, *rest], seed=seed, effort=LayEffort.for_count(len(ranks)), pool=work.pool,
        spread=len(task.hides) > 1 and task.beyond, stop=stop,
    )  # fmt: skip


class _Break:
    """When laying breaks off: when the search is called off, or the clock has run out and `grace` seconds have gone
    by since the first piece was tried, so that a short clock or a slow start still gives a whole answer."""

    def __init__(self, watch: SearchBudget, grace: float) -> None:
        self.watch = watch
        self.grace = grace
        self.begun: float | None = None

    def __call__(self, tried: int) -> bool:
        now = time.monotonic()
        if tried and self.begun is None:
            self.begun = now
        if self.watch.told_off():
            return True
        return self.watch.late() and self.begun is not None and now - self.begun >= self.grace


def _enough(watch: SearchBudget) -> bool:
    """Whether layings have had their share of the clock, if there is one."""
    return watch.left is not None and watch.used() > LAYING_SHARE


def _likely(task: LeatherProblem, ground: PreparedProblem) -> int:
    """Sets that the leather may hold if seven tenths of the scarcest layer can be used."""
    return max(int(0.7 * len(task.sets)), 1)
