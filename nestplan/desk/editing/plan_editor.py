"""The steps Plan and Cut: placements on the hide at hand, laid by hand or by the search, and marked as cut."""

from __future__ import annotations

import functools
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace

import msgspec
from PySide6.QtCore import Signal
from shapely.geometry import Point, Polygon

from nestplan.desk.background.checking import PlanChecker
from nestplan.desk.background.searching import Search
from nestplan.desk.document import plan_edits
from nestplan.desk.document.document import Document, key_of
from nestplan.desk.document.plan_edits import Waiting
from nestplan.desk.editing.hide_editor import hide_things
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.handling import Hand, hand_for
from nestplan.desk.settings import Settings
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.items import Ground, Left, Stretch
from nestplan.desk.table.naming import Naming
from nestplan.desk.table.placing import PlaceTool
from nestplan.desk.table.tracing import DiscTool, Spot, TraceTool
from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import make_ring
from nestplan.model.hide import Disc, Flaw, Line
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.model.values import Point as Point2
from nestplan.model.values import Points
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.tasks.checking import PlanCheck
from nestplan.tasks.planning import SearchRequest, empty_plan

__all__ = ["PlanEditor"]


class PlanEditor(StepEditor):
    """Laying and cutting. `search_changed` tells when a search begins or ends, `progressed` how far it is."""

    search_changed = Signal()
    progressed = Signal(object)
    checked = Signal(object)

    def __init__(self, document: Document, table: Table, checker: PlanChecker, settings: Settings) -> None:
        super().__init__(document, table)
        self._settings = settings
        self._checker = checker
        self.search: Search | None = None
        self.cutting = False
        self._naming: Naming | None = None
        self._wrong: frozenset[tuple[object, ...]] = frozenset()
        checker.checked.connect(self._take_check)
        document.plan_changed.connect(lambda _: self.refresh())
        document.hide_shown.connect(lambda _: self.refresh())
        document.picked_changed.connect(self._show_picked)
        settings.unit_changed.connect(lambda _: self.refresh())

    def things(self) -> Iterator[tuple[Hashable, object]]:
        hide, plan, job = self.document.hide, self.document.contents.plan, self.document.contents.job
        if hide is None:
            return
        yield "hide", hide
        laid = plan is not None and any(placement.hide == hide.name for placement in plan.placements)
        draft = self.search.draft if self.search is not None and self.search.running else ()
        laid = laid or bool(draft)
        for key, thing in hide_things(hide):
            if laid and isinstance(thing, Stretch):
                continue  # under the pieces it would only show in scraps
            yield key, replace(thing, quiet=True) if laid and isinstance(thing, Ground) else thing
        if draft and job is not None:
            naming = self._names_of(job)
            for number, placement in enumerate(draft):
                if placement.hide == hide.name:
                    yield ("draft", number), naming.laid(placement, ghost=True)
            return
        if plan is None or job is None:
            return
        checked = self._checker.latest
        if checked is not None and checked.plan is plan and checked.figures is not None:
            for number, offcut in enumerate(checked.figures.offcuts):
                if offcut.hide == hide.name:
                    size = self._settings.size(offcut.rectangle_width, offcut.rectangle_height)
                    yield ("offcut", number), Left(offcut, f"{size} free")
        naming = self._names_of(job)
        numbers = self.cutting_numbers() if self.cutting else {}
        picked = {id(placement) for placement in self.document.picked}
        for placement in plan.placements:
            if placement.hide == hide.name:
                key = key_of(placement)
                yield (
                    ("laid", key),
                    naming.laid(
                        placement,
                        picked=id(placement) in picked,
                        wrong=key in self._wrong,
                        number=numbers.get(id(placement), ""),
                    ),
                )

    def cutting_steps(self) -> list[tuple[str, tuple[Placement, ...], str]]:
        """The order of cutting on the hide at hand: number, what is cut, and why then.

        Numbered as on the sheet that was printed before the first cut, so that numbers stay while one cuts.
        """
        contents, hide = self.document.contents, self.document.hide
        if contents.plan is None or contents.job is None or hide is None:
            return []
        uncut = plan_edits.marked_cut(contents.plan, contents.plan.placements, False)
        return [
            (cut.label, tuple(contents.plan.placements[number] for number in cut.members), cut.reason)
            for cut in cutting_steps(uncut, contents.job, hide)
        ]

    def cutting_numbers(self) -> dict[int, str]:
        """The number of each placement on the hide at hand in the order of cutting, by its identity."""
        numbers = {}
        for label, placed, _ in self.cutting_steps():
            first = int(label.split("–")[0])
            for step, placement in enumerate(placed):
                numbers[id(placement)] = str(first + step)
        return numbers

    def _names_of(self, job: Job) -> Naming:
        if self._naming is None or self._naming.job is not job:
            self._naming = Naming(job)
        return self._naming

    def rest(self) -> None:
        self.table.set_tool(self._tool())
        self._show_picked(self.document.picked)

    def _tool(self) -> PlaceTool:
        return PlaceTool(
            find=self.find,
            hand=self.hand,
            pick=self.document.pick,
            lay=self.lay,
            command=self.command,
            slide=lambda: self._settings.slide,
            movable=not self.cutting,
        )

    def _show_picked(self, picked: Sequence[Placement]) -> None:
        if self.active and isinstance(self.table.tool, PlaceTool):
            self.table.tool.picked = tuple(picked)
            self.table.tool_changed.emit(self.table.tool)
        self.refresh()

    def _take_check(self, checked: PlanCheck | None) -> None:
        wrong: set[tuple[object, ...]] = set()
        if checked is not None:
            for fault in checked.faults:
                wrong |= {key_of(checked.plan.placements[number]) for number in fault.placements}
        self._wrong = frozenset(wrong)
        self.refresh()
        self.checked.emit(checked)

    def find(self, spot: Spot) -> Placement | None:
        """The placement on the hide at hand under a spot."""
        hide, plan = self.document.hide, self.document.contents.plan
        if hide is None or plan is None:
            return None
        at = Point(spot.at)
        here = [p for p in plan.placements if p.hide == hide.name]
        inside = [p for p in here if _box_near(p, spot) and Polygon(p.finished_ring).covers(at)]
        if inside:
            # Of pieces that lie on each other the picked one, which was moved there; else the smallest.
            held = [p for p in inside if any(p is other for other in self.document.picked)]
            return min(held or inside, key=lambda p: Polygon(p.finished_ring).area)
        near = [
            p for p in here if _box_near(p, spot) and Polygon(p.finished_ring).distance(at) <= spot.reach / 2
        ]
        return near[0] if near else None

    def hand(self, placement: Placement) -> Hand:
        """A placement taken up from the hide at hand."""
        hide, plan, job = self.document.hide, self.document.contents.plan, self.document.contents.job
        assert hide is not None
        assert plan is not None
        assert job is not None
        return hand_for(plan, job, hide, placement)

    def lay(self, placement: Placement, pose: Pose, words: str) -> None:
        """Lay a placement at another pose."""
        kind = f"nudge {key_of(placement)}" if words == "Nudge" else ""
        self._replace([(placement, plan_edits.moved(placement, pose))], f"{words} {placement.name}", kind)

    def _replace(self, changes: Sequence[tuple[Placement, Placement]], words: str, kind: str = "") -> None:
        plan = self.document.contents.plan
        if plan is None:
            return
        by_id: dict[int, Placement | None] = {id(old): new for old, new in changes}
        numbers = {n: by_id[id(p)] for n, p in enumerate(plan.placements) if id(p) in by_id}
        changed = msgspec.structs.replace(plan_edits.replaced(plan, numbers), figures=None)
        self.document.set_plan(words, changed, kind=kind)

    def command(self, key: str) -> bool:
        """What the keys do to the picked placements. Whether it was one of ours."""
        picked = self.document.picked
        actions = {
            "l": self.toggle_lock,
            "m": self.turn_over,
            "f": self.slide_free,
            "delete": self.take_off,
            "enter": self.mark_cut,
        }
        if key == "enter" and not self.cutting:
            return False
        if key in ("n", "shift+n"):
            return self._pick_next(1 if key == "n" else -1)
        if key not in actions or not picked:
            return False
        actions[key]()
        return True

    def _pick_next(self, step: int) -> bool:
        hide, plan = self.document.hide, self.document.contents.plan
        here = [p for p in plan.placements if hide and p.hide == hide.name] if plan else []
        if not here:
            return False
        at = next((n for n, p in enumerate(here) if p in self.document.picked), -step)
        self.document.pick((here[(at + step) % len(here)],))
        return True

    def toggle_lock(self) -> None:
        """Lock the picked placements, or let them go where all are locked."""
        plan, picked = self.document.contents.plan, self.document.picked
        if plan is not None and picked:
            locked = not all(placement.locked for placement in picked)
            words = "Lock" if locked else "Unlock"
            self.document.set_plan(f"{words} {_named(picked)}", plan_edits.set_locked(plan, picked, locked))

    def turn_over(self) -> None:
        """Turn the picked placements over."""
        picked = [p for p in self.document.picked if not (p.strip or p.locked or p.done)]
        if picked and not self.cutting:
            self._replace([(p, plan_edits.turned_over(p)) for p in picked], f"Turn over {_named(picked)}")

    def turn_to(self, angle: float) -> None:
        """Turn the picked placement to a typed angle, about its middle."""
        from nestplan.desk.table.placing import turned_about_middle

        if len(self.document.picked) == 1 and not self.cutting:
            placement = self.document.picked[0]
            self.lay(placement, turned_about_middle(placement, angle - placement.angle), "Turn")

    def slide_free(self) -> None:
        """Slide the picked placement to the nearest place where it may lie."""
        if len(self.document.picked) != 1 or self.cutting:
            return
        placement = self.document.picked[0]
        pose = self.hand(placement).nearest_free(placement.pose)
        if pose is None:
            self.notified.emit(f"No free place for {placement.name} within 40 cm.")
        else:
            self.lay(placement, pose, "Slide")

    def take_off(self) -> None:
        """Take the picked placements off the hide; they wait to be put back."""
        plan = self.document.contents.plan
        picked = tuple(p for p in self.document.picked if not p.done)
        if plan is not None and picked and not self.cutting:
            self.document.set_plan(f"Take off {_named(picked)}", plan_edits.taken_off(plan, picked))

    def put_back(self, waiting: Waiting) -> None:
        """Lay one of what waits on the hide at hand: in the nearest free place to the middle of what is seen."""
        hide, job = self.document.hide, self.document.contents.job
        if hide is None or job is None:
            return
        plan = self.document.contents.plan or empty_plan(job, self.document.contents.hides)
        spot = self.table.spot_at(self.table.viewport().rect().center())
        with self.asking():
            plan, made = plan_edits.laid_down(plan, job, hide, waiting, spot.at)
            hand = hand_for(plan, job, hide, made)
            pose = hand.nearest_free(made.pose, reach=2500.0, step=12.0)
            if pose is None:
                self.notified.emit(
                    f"No free place for {waiting.label} on {hide.name}: it lies where you look."
                )
            else:
                last = len(plan.placements) - 1
                made = plan_edits.moved(made, pose)
                plan = plan_edits.replaced(plan, {last: made})
            self.document.set_plan(f"Put back {waiting.label}", plan)
            self.document.pick((made,))
            self.table.reveal(("laid", key_of(made)))

    def move_to_hide(self, name: str) -> None:
        """Take the picked placements to another hide, to the nearest free places there."""
        contents = self.document.contents
        plan, job, hide = contents.plan, contents.job, contents.hide(name)
        picked = [p for p in self.document.picked if not (p.done or p.locked)]
        if plan is None or job is None or hide is None or not picked:
            return
        low, high = hide.ring.min(axis=0), hide.ring.max(axis=0)
        for placement in picked:
            number = next(n for n, p in enumerate(plan.placements) if p is placement)
            middle = (placement.finished_ring.min(axis=0) + placement.finished_ring.max(axis=0)) / 2
            shift = Pose(*((low + high) / 2 - middle))
            made = plan_edits.moved(placement, placement.pose.then(shift), name)
            plan = plan_edits.replaced(plan, {number: made})
            pose = hand_for(plan, job, hide, made).nearest_free(made.pose, reach=2500.0, step=12.0)
            if pose is not None:
                plan = plan_edits.replaced(plan, {number: plan_edits.moved(made, pose)})
        self.document.set_plan(
            f"Move {_named(picked)} to {name}", msgspec.structs.replace(plan, figures=None)
        )

    def mark_cut(self) -> None:
        """Mark the picked placements as cut, or not where all are."""
        plan, picked = self.document.contents.plan, self.document.picked
        if plan is not None and picked:
            done = not all(placement.done for placement in picked)
            words = "Mark as cut:" if done else "Mark as not cut:"
            self.document.set_plan(f"{words} {_named(picked)}", plan_edits.marked_cut(plan, picked, done))

    def draw_found_flaw(self, shape: str, spoils: str) -> None:
        """Draw a flaw found while cutting, on the hide at hand."""

        def add(*, outline: Points | None = None, disc: Disc | None = None, line: Line | None = None) -> None:
            hide = self.document.hide
            if hide is not None:
                flaw = Flaw(
                    spoils=spoils,
                    name="found while cutting",
                    margin=2.0,
                    outline=outline,
                    disc=disc,
                    line=line,
                )
                self.document.edit_hide(
                    "Add a flaw found while cutting", msgspec.structs.replace(hide, flaws=(*hide.flaws, flaw))
                )
                self.rest()

        def add_disc(at: Point2, diameter: float) -> None:
            self.tried(lambda: add(disc=Disc(at=at, diameter=diameter)))

        def add_line(points: Points) -> None:
            self.tried(lambda: add(line=Line(points=points, width=3.0)))

        def add_outline(points: Points) -> None:
            self.tried(lambda: add(outline=tuple((float(x), float(y)) for x, y in make_ring(points))))

        if shape == "disc":
            self.take(DiscTool(add_disc, cancelled=self.rest))
        elif shape == "line":
            self.take(TraceTool(add_line, closed=False, cancelled=self.rest))
        else:
            self.take(TraceTool(add_outline, cancelled=self.rest))

    def start(self, request: SearchRequest) -> None:
        """Search for a plan; a running search is given up first."""
        contents = self.document.contents
        if self.running or contents.job is None or not contents.hides:
            return
        self.search = Search(contents, request, self)
        self.search.progressed.connect(self.progressed)
        self.search.drafted.connect(lambda _: self.refresh())
        self.search.found.connect(functools.partial(self._found, request))
        self.search.discarded.connect(self._ended)
        self.search.failed.connect(self._failed)
        self.search.start()
        self.search_changed.emit()

    @property
    def running(self) -> bool:
        """Whether a search is at work (or waits)."""
        return self.search is not None and self.search.running

    @property
    def kept(self) -> tuple[Placement, ...]:
        """What stays where it is when the rest is planned again: what is locked or cut."""
        plan = self.document.contents.plan
        return tuple(p for p in plan.placements if p.locked or p.done) if plan else ()

    def _found(self, request: SearchRequest, plan: Plan) -> None:
        if not plan.placements and self.search is not None and self.search.was_stopped:
            self._ended()
            self.notified.emit("Nothing had a place yet when you stopped the search; all is as it was.")
            return
        self.document.set_plan("Plan the rest" if request.keep else "Plan", plan)
        self._ended()
        used = [placement.hide for placement in plan.placements]
        hide = self.document.hide
        if used and (hide is None or hide.name not in used):
            self.document.show_hide(used[0])

    def _failed(self, error: object) -> None:
        self._ended()
        self.error_reported.emit(error)

    def _ended(self) -> None:
        if self.search is not None:
            self.search.draft = ()
        self.refresh()
        self.search_changed.emit()

    def close(self) -> None:
        """Give up a running search."""
        if self.search is not None:
            self.search.close()


def _box_near(placement: Placement, spot: Spot) -> bool:
    low, high = placement.finished_ring.min(axis=0), placement.finished_ring.max(axis=0)
    x, y = spot.at
    reach = spot.reach
    return bool(low[0] - reach <= x <= high[0] + reach and low[1] - reach <= y <= high[1] + reach)


def _named(picked: Sequence[Placement]) -> str:
    return picked[0].name if len(picked) == 1 else f"{len(picked)} pieces"
