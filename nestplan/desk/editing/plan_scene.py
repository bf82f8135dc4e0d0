"""What lies on the table in the steps Plan and Cut: the current hide, its placements or a search's draft, offcuts."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import replace

from shapely.geometry import Polygon

from nestplan.desk.background.checking import PlanChecker
from nestplan.desk.document.document import Document, key_of
from nestplan.desk.editing.cutting import cutting_numbers
from nestplan.desk.editing.hide_editor import hide_records, leather_records
from nestplan.desk.settings import Settings
from nestplan.desk.table.items import ShownOffcut, ShownOverlap, ShownRegion, StretchArrow
from nestplan.desk.table.placement_labels import PlacementLabels
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.tasks.checking import PlanCheck

__all__ = ["PlanScene"]

Records = Iterator[tuple[Hashable, object]]


class PlanScene:
    """Makes the records; it keeps the names of a job's placements, and which of them the last check found wrong."""

    def __init__(self, document: Document, checker: PlanChecker, settings: Settings) -> None:
        self._document, self._checker, self._settings = document, checker, settings
        self._labels: PlacementLabels | None = None
        self._wrong: frozenset[tuple[object, ...]] = frozenset()
        self._overlapping: frozenset[tuple[object, ...]] = frozenset()
        self._overlaps: tuple[tuple[str, ShownOverlap], ...] = ()

    def take_check(self, checked: PlanCheck | None) -> None:
        """Show as wrong what this check found so from now on."""
        wrong: dict[bool, set[tuple[object, ...]]] = {True: set(), False: set()}
        overlaps: list[tuple[str, ShownOverlap]] = []
        for fault in checked.faults if checked is not None else ():
            placed = [checked.plan.placements[number] for number in fault.placements] if checked else []
            wrong[fault.rule == "overlap"] |= {key_of(placement) for placement in placed}
            if fault.rule == "overlap" and len(placed) == 2:
                overlaps += _common_parts(*placed)
        self._overlapping = frozenset(wrong[True] - wrong[False])
        self._wrong = frozenset(wrong[True] | wrong[False])
        self._overlaps = tuple(overlaps)

    def records(self, draft: tuple[Placement, ...], *, numbered: bool) -> Records:
        """All that lies on the table with its keys; a search's `draft` stands before the plan. With `numbered`
        placements carry their number in the order of cutting."""
        hide, plan, job = self._document.hide, self._document.contents.plan, self._document.contents.job
        if hide is None:
            return
        yield from leather_records(hide, self._document.contents.photo(hide.name))
        on_it = plan is not None and any(placement.hide == hide.name for placement in plan.placements)
        yield from _leather(hide, covered=on_it or bool(draft))
        if draft and job is not None:
            yield from self._drafted(draft, job, hide)
        elif plan is not None and job is not None:
            yield from self._offcuts(plan, hide)
            yield from self._placed(plan, job, hide, numbered=numbered)
            yield from self._common(hide)

    def _drafted(self, draft: tuple[Placement, ...], job: Job, hide: Hide) -> Records:
        labels = self._labels_of(job)
        for number, placement in enumerate(draft):
            if placement.hide == hide.name:
                yield ("draft", number), labels.shown(placement, ghost=True)

    def _offcuts(self, plan: Plan, hide: Hide) -> Records:
        checked = self._checker.latest
        if checked is None or checked.plan is not plan or checked.figures is None:
            return
        for number, offcut in enumerate(checked.figures.offcuts):
            if offcut.hide == hide.name:
                size = self._settings.size(offcut.rectangle_width, offcut.rectangle_height)
                yield ("offcut", number), ShownOffcut(offcut, f"{size} free")

    def _placed(self, plan: Plan, job: Job, hide: Hide, *, numbered: bool) -> Records:
        labels = self._labels_of(job)
        numbers = cutting_numbers(self._document) if numbered else {}
        selected = {id(placement) for placement in self._document.selected}
        for placement in plan.placements:
            if placement.hide == hide.name:
                key = key_of(placement)
                shown = labels.shown(
                    placement,
                    selected=id(placement) in selected,
                    wrong=key in self._wrong,
                    overlaps=key in self._overlapping,
                    number=numbers.get(id(placement), ""),
                )
                yield ("placement", key), shown

    def _common(self, hide: Hide) -> Records:
        for number, (name, overlap) in enumerate(self._overlaps):
            if name == hide.name:
                yield ("overlap", number), overlap

    def _labels_of(self, job: Job) -> PlacementLabels:
        if self._labels is None or self._labels.job is not job:
            self._labels = PlacementLabels(job)
        return self._labels


def _common_parts(one: Placement, other: Placement) -> list[tuple[str, ShownOverlap]]:
    """What two placements have in common, ring by ring, with the name of their hide."""
    common = Polygon(one.cut_ring).buffer(0).intersection(Polygon(other.cut_ring).buffer(0))
    parts = [part for part in getattr(common, "geoms", (common,)) if isinstance(part, Polygon)]
    return [(one.hide, ShownOverlap(tuple(part.exterior.coords[:-1]))) for part in parts if not part.is_empty]


def _leather(hide: Hide, *, covered: bool) -> Records:
    """The hide's own parts; where pieces cover them the stretch arrows are left out and regions are quiet."""
    for key, record in hide_records(hide):
        if covered and isinstance(record, StretchArrow):
            continue  # under the pieces it would only show in scraps
        yield key, replace(record, quiet=True) if covered and isinstance(record, ShownRegion) else record
