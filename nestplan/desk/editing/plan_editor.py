"""The steps Plan and Cut: placements on the current hide, laid by hand or by the search, and marked as cut."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from functools import partial

import msgspec
import numpy as np
from PySide6.QtCore import Signal
from shapely.geometry import Point, Polygon

from nestplan.desk.background.checking import PlanChecker
from nestplan.desk.document import plan_edits
from nestplan.desk.document.document import Document, key_of
from nestplan.desk.document.plan_edits import Waiting
from nestplan.desk.editing.command import Command
from nestplan.desk.editing.cutting import mark_cut, named
from nestplan.desk.editing.legend_entries import plan_legend
from nestplan.desk.editing.plan_scene import PlanScene
from nestplan.desk.editing.plan_search import PlanSearch
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.held_piece import HeldPiece, hold_placement
from nestplan.desk.settings import Settings
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.legend import LegendEntry
from nestplan.desk.table.placing import PlaceTool
from nestplan.desk.table.tracing import PointerPosition
from nestplan.geometry.pose import Pose
from nestplan.model.plan import Placement
from nestplan.tasks.checking import PlanCheck
from nestplan.tasks.planning import empty_plan

__all__ = ["PlanEditor"]


class PlanEditor(StepEditor):
    """Placements selected, moved, turned, locked and taken off by hand. `checked` carries each check of the plan."""

    checked = Signal(object)

    def __init__(
        self,
        document: Document,
        table: Table,
        checker: PlanChecker,
        search: PlanSearch,
        settings: Settings,
    ) -> None:
        super().__init__(document, table)
        self._settings = settings
        self._search = search
        self._scene = PlanScene(document, checker, settings)
        self.cutting = False
        checker.checked.connect(self._take_check)
        search.drafted.connect(self.refresh)
        search.notified.connect(self.notified)
        search.error_reported.connect(self.error_reported)
        document.plan_changed.connect(lambda _: self.refresh())
        document.hide_shown.connect(lambda _: self.refresh())
        document.photos_changed.connect(self.refresh)
        document.selection_changed.connect(self._show_selected)
        settings.unit_changed.connect(lambda _: self.refresh())

    def records(self) -> Iterator[tuple[Hashable, object]]:
        return self._scene.records(self._search.draft, numbered=self.cutting)

    def legend(self) -> Iterator[LegendEntry]:
        return plan_legend(self.document.hide, self.document.contents.plan, self.document.contents.job)

    def use_default_tool(self) -> None:
        self.table.set_tool(self._tool())
        self._show_selected(self.document.selected)

    def _tool(self) -> PlaceTool:
        return PlaceTool(
            placement_at=self.placement_at,
            hold=self.hold,
            select=self.document.select,
            move=self.move,
            command=self.command,
            slide=lambda: self._settings.slide,
            movable=not self.cutting,
        )

    def _show_selected(self, selected: Sequence[Placement]) -> None:
        if self.active and isinstance(self.table.tool, PlaceTool):
            hide = self.document.hide
            self.table.tool.selected = tuple(p for p in selected if hide is not None and p.hide == hide.name)
            self.table.tool_changed.emit(self.table.tool)
        self.refresh()

    def _take_check(self, checked: PlanCheck | None) -> None:
        self._scene.take_check(checked)
        self.refresh()
        self.checked.emit(checked)

    def placement_at(self, pointer: PointerPosition) -> Placement | None:
        """The placement on the current hide under the pointer."""
        hide, plan = self.document.hide, self.document.contents.plan
        if hide is None or plan is None:
            return None
        at = Point(pointer.at)
        here = [p for p in plan.placements if p.hide == hide.name]
        inside = [p for p in here if _box_near(p, pointer) and Polygon(p.finished_ring).covers(at)]
        if inside:
            # Of pieces that lie on each other the selected one, which was moved there; else the smallest.
            held = [p for p in inside if any(p is other for other in self.document.selected)]
            return min(held or inside, key=lambda p: Polygon(p.finished_ring).area)
        near = [
            p
            for p in here
            if _box_near(p, pointer) and Polygon(p.finished_ring).distance(at) <= pointer.tolerance / 2
        ]
        return near[0] if near else None

    def select_placements(self, numbers: Sequence[int]) -> None:
        """Select placements by their numbers in the plan and bring them into sight, on their hide."""
        plan = self.document.contents.plan
        if plan is None or not numbers:
            return
        chosen = [plan.placements[number] for number in numbers]
        self.document.show_hide(chosen[0].hide)
        self.document.select(chosen)
        self.table.reveal(("placement", key_of(chosen[0])))

    def commands(self) -> list[Command]:
        selected = self.document.selected
        some, one = bool(selected), len(selected) == 1
        locked = some and all(placement.locked for placement in selected)
        done = some and all(placement.done for placement in selected)
        commands = [
            Command("Mark as not cut" if done else "Mark as cut", self.mark_cut, "done", "Enter", some),
            Command("Unlock" if locked else "Lock", self.toggle_lock, "lock", "L", some),
            Command("Turn over", self.turn_over, "over", "M", some and not self.cutting),
            Command(
                "Slide to the nearest free place", self.slide_free, "slide", "F", one and not self.cutting
            ),
            Command("Remove from the hide", self.take_off, "off", "Del", some and not self.cutting),
        ]
        names = [hide.name for hide in self.document.contents.hides if hide is not self.document.hide]
        if some and not self.cutting:
            commands += [Command(f"Move to {name}", partial(self.move_to_hide, name)) for name in names]
        return [
            *commands,
            Command("Select all of this kind", self.select_kind, key="Ctrl+Shift+A", enabled=some),
            Command("Select all on this hide", self.select_all, key="Ctrl+A"),
            Command("Unlock all", self.unlock_all, enabled=bool(self._locked())),
        ]

    def select_at(self, pointer: PointerPosition) -> object:
        found = self.placement_at(pointer)
        if found is not None and not any(found is other for other in self.document.selected):
            self.document.select((found,))
        return found

    def select_all(self) -> None:
        plan, hide = self.document.contents.plan, self.document.hide
        if plan is not None and hide is not None:
            self.document.select([placed for placed in plan.placements if placed.hide == hide.name])

    def select_kind(self) -> None:
        """Select every copy on this hide of what is selected, in either hand."""
        plan, hide = self.document.contents.plan, self.document.hide
        kinds = {(placed.name, placed.layer) for placed in self.document.selected}
        if plan is not None and hide is not None and kinds:
            here = [placed for placed in plan.placements if placed.hide == hide.name]
            self.document.select([placed for placed in here if (placed.name, placed.layer) in kinds])

    def selected_box(self) -> tuple[float, float, float, float] | None:
        rings = [placed.cut_ring for placed in self.document.selected]
        if not rings:
            return None
        points = np.concatenate(rings)
        (left, bottom), (right, top) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        return left, bottom, right, top

    def _locked(self) -> tuple[Placement, ...]:
        plan = self.document.contents.plan
        return tuple(placed for placed in plan.placements if placed.locked) if plan else ()

    def unlock_all(self) -> None:
        """Let go all that is locked, on every hide."""
        plan, locked = self.document.contents.plan, self._locked()
        if plan is not None and locked:
            self.document.set_plan(f"Unlock all {len(locked)}", plan_edits.set_locked(plan, locked, False))

    def hold(self, placement: Placement) -> HeldPiece:
        """A placement taken up from the current hide."""
        hide, plan, job = self.document.hide, self.document.contents.plan, self.document.contents.job
        assert hide is not None
        assert plan is not None
        assert job is not None
        return hold_placement(plan, job, hide, placement)

    def move(self, placement: Placement, pose: Pose, words: str) -> None:
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
        """What the keys do to the selected placements. Whether it was one of ours."""
        selected = self.document.selected
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
            return self._select_next(1 if key == "n" else -1)
        if key not in actions or not selected:
            return False
        actions[key]()
        return True

    def _select_next(self, step: int) -> bool:
        hide, plan = self.document.hide, self.document.contents.plan
        here = [p for p in plan.placements if hide and p.hide == hide.name] if plan else []
        if not here:
            return False
        at = next((n for n, p in enumerate(here) if p in self.document.selected), -step)
        self.document.select((here[(at + step) % len(here)],))
        return True

    def toggle_lock(self) -> None:
        """Lock the selected placements, or let them go where all are locked."""
        plan, selected = self.document.contents.plan, self.document.selected
        if plan is not None and selected:
            locked = not all(placement.locked for placement in selected)
            words = "Lock" if locked else "Unlock"
            self.document.set_plan(
                f"{words} {named(selected)}", plan_edits.set_locked(plan, selected, locked)
            )

    def turn_over(self) -> None:
        """Turn the selected placements over."""
        selected = [p for p in self.document.selected if not (p.strip or p.locked or p.done)]
        if selected and not self.cutting:
            self._replace([(p, plan_edits.turned_over(p)) for p in selected], f"Turn over {named(selected)}")

    def turn_to(self, angle: float) -> None:
        """Turn the selected placement to a typed angle, about its middle."""
        from nestplan.desk.table.placing import turned_about_middle

        if len(self.document.selected) == 1 and not self.cutting:
            placement = self.document.selected[0]
            self.move(placement, turned_about_middle(placement, angle - placement.angle), "Turn")

    def slide_free(self) -> None:
        """Slide the selected placement to the nearest place where it may lie."""
        if len(self.document.selected) != 1 or self.cutting:
            return
        placement = self.document.selected[0]
        pose = self.hold(placement).nearest_free(placement.pose)
        if pose is None:
            self.notified.emit(f"No free place for {placement.name} within 40 cm.")
        else:
            self.move(placement, pose, "Slide")

    def take_off(self) -> None:
        """Take the selected placements off the hide; they wait to be put back."""
        plan = self.document.contents.plan
        selected = tuple(p for p in self.document.selected if not p.done)
        if plan is not None and selected and not self.cutting:
            self.document.set_plan(
                f"Remove {named(selected)} from its hide", plan_edits.taken_off(plan, selected)
            )

    def put_back(self, waiting: Waiting) -> None:
        """Lay one of what waits on the current hide: in the nearest free place to the middle of what is seen."""
        hide, job = self.document.hide, self.document.contents.job
        if hide is None or job is None:
            return
        plan = self.document.contents.plan or empty_plan(job, self.document.contents.hides)
        pointer = self.table.pointer_at(self.table.viewport().rect().center())
        with self.reporting_errors():
            plan, made = plan_edits.laid_down(plan, job, hide, waiting, pointer.at)
            hold = hold_placement(plan, job, hide, made)
            pose = hold.nearest_free(made.pose, within=2500.0, step=12.0)
            if pose is None:
                self.notified.emit(
                    f"No free place for {waiting.label} on {hide.name}: it lies where you look."
                )
            else:
                last = len(plan.placements) - 1
                made = plan_edits.moved(made, pose)
                plan = plan_edits.replaced(plan, {last: made})
            self.document.set_plan(f"Put back {waiting.label}", plan)
            self.document.select((made,))
            self.table.reveal(("placement", key_of(made)))

    def move_to_hide(self, name: str) -> None:
        """Take the selected placements to another hide, to the nearest free places there."""
        contents = self.document.contents
        plan, job, hide = contents.plan, contents.job, contents.hide(name)
        selected = [p for p in self.document.selected if not (p.done or p.locked)]
        if plan is None or job is None or hide is None or not selected:
            return
        low, high = hide.ring.min(axis=0), hide.ring.max(axis=0)
        for placement in selected:
            number = next(n for n, p in enumerate(plan.placements) if p is placement)
            middle = (placement.finished_ring.min(axis=0) + placement.finished_ring.max(axis=0)) / 2
            shift = Pose(*((low + high) / 2 - middle))
            made = plan_edits.moved(placement, placement.pose.then(shift), name)
            plan = plan_edits.replaced(plan, {number: made})
            pose = hold_placement(plan, job, hide, made).nearest_free(made.pose, within=2500.0, step=12.0)
            if pose is not None:
                plan = plan_edits.replaced(plan, {number: plan_edits.moved(made, pose)})
        self.document.set_plan(
            f"Move {named(selected)} to {name}", msgspec.structs.replace(plan, figures=None)
        )
        shown = self.document.hide
        self.document.select(
            [p for p in self.document.selected if shown is not None and p.hide == shown.name]
        )

    def mark_cut(self) -> None:
        """Mark the selected placements as cut, or not where all are."""
        mark_cut(self.document)


def _box_near(placement: Placement, pointer: PointerPosition) -> bool:
    low, high = placement.finished_ring.min(axis=0), placement.finished_ring.max(axis=0)
    x, y = pointer.at
    tolerance = pointer.tolerance
    return bool(
        low[0] - tolerance <= x <= high[0] + tolerance and low[1] - tolerance <= y <= high[1] + tolerance
    )
