"""What is wrong with a plan: one line, grouped by kind; each group shows its pieces on the table."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from nestplan.desk.controls.details import Details
from nestplan.desk.controls.fields import fit_rows, set_role
from nestplan.desk.document.plan_edits import cut_piece_of
from nestplan.desk.plain_text import plain_label, plain_tip
from nestplan.desk.sentences import count
from nestplan.model.audit import Fault
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.sheets.placement_names import placed_name
from nestplan.tasks.checking import PlanCheck

__all__ = ["FaultsPart"]

_KINDS: dict[str, Callable[[int], str]] = {
    "overlap": lambda number: f"{count(number, 'overlap')}",
    "gap": lambda number: f"{count(number, 'place')} with too little gap",
    "flaw": lambda number: f"{count(number, 'piece')} over a flaw",
    "hide": lambda number: f"{count(number, 'piece')} off the hide",
    "region": lambda number: f"{count(number, 'piece')} in a wrong region",
    "stretch": lambda number: f"{count(number, 'piece')} against the stretch",
    "leather": lambda number: f"{count(number, 'piece')} of wrong leather",
    "count": lambda number: f"{count(number, 'piece')} too many",
}
"""The kinds of fault that a hand can make, in words for so many of them."""


class FaultsPart(QWidget):
    """The verdict on a plan. `shown` carries the numbers of the placements of the fault that was chosen."""

    shown = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.verdict = plain_label()
        self.verdict.setWordWrap(True)
        self.list = QListWidget()
        self.list.setAccessibleName("What is wrong with the plan")
        self.list.setWordWrap(True)
        self.list.itemClicked.connect(self._chosen)
        self.list.itemActivated.connect(self._chosen)
        self.details = Details("Show each", self.list)
        self._faults: tuple[Fault, ...] = ()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.verdict)
        column.addWidget(self.details)

    def show_check(self, checked: PlanCheck | None, job: Job | None) -> None:
        """Show what the check says of a plan of `job`; None: nothing yet."""
        self.setVisible(checked is not None)
        if checked is None:
            return
        self._faults = checked.faults
        self.details.setVisible(bool(checked.faults))
        if not checked.faults:
            set_role(self.verdict, "good")
            self.verdict.setText("✓ Checked: nothing overlaps, every rule is kept.")
            self.verdict.setToolTip("Every outline was checked a second time, independently of the search")
            return
        set_role(self.verdict, "alarm")
        told = [fault_words(fault, checked.plan, job) for fault in checked.faults]
        words = told[0].rstrip(".") if len(told) == 1 else grouped(checked.faults)
        self.verdict.setText(f"⚠ Not to be cut yet: {words}.")
        self.verdict.setToolTip(plain_tip("\n".join(told[:20])))
        self.list.clear()
        for each in told:
            self.list.addItem(QListWidgetItem(each))
        fit_rows(self.list, most=5)

    def _chosen(self, item: QListWidgetItem) -> None:
        self.shown.emit(self._faults[self.list.row(item)].placements)


def fault_words(fault: Fault, plan: Plan, job: Job | None) -> str:
    """A fault in words that say which copy of a piece they speak of: its layer, side and set."""
    words = fault.what
    for placement in (plan.placements[number] for number in fault.placements[:2]):
        if job is None or not _is_of(job, placement):
            continue
        known = f"{placed_name(job, placement)} (set {placement.set})"
        if words.startswith("Its "):
            words = f"{known}: its {words.removeprefix('Its ')}"
        words = words.replace(f"'{placement.name}'", known, 1)
    return words


def _is_of(job: Job, placement: Placement) -> bool:
    """Whether the job, which may have been changed since, still knows what is placed."""
    if placement.strip:
        return any(wanted.strip.name == placement.strip for wanted in job.wanted_strips)
    return cut_piece_of(job, placement) is not None


def grouped(faults: Sequence[Fault]) -> str:
    """How many faults of each kind there are, in words."""
    kinds: dict[str, int] = {}
    for fault in faults:
        kinds[fault.rule] = kinds.get(fault.rule, 0) + 1
    words = [_KINDS[kind](number) for kind, number in kinds.items() if kind in _KINDS]
    others = sum(number for kind, number in kinds.items() if kind not in _KINDS)
    return ", ".join([*words, *([count(others, "other fault")] if others else [])])
