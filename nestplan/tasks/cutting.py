"""Committing a cut to the rack, and taking it back.

A plan that was cut uses its hides up; useful offcuts go to the rack as hides of their own, the job to the log. All
of it is written in one go, and undone to the byte.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from nestplan.errors import InputError
from nestplan.model.cut_journal import JournalEntry, commit_cut, rack_lock, undo_cut
from nestplan.model.cut_outcome import outcome_of_cut
from nestplan.model.files import content_hash, read_hide, read_plan
from nestplan.model.hide import Hide
from nestplan.model.job_log import JOB_LOG_NAME, FinishedJob
from nestplan.model.plan import Plan
from nestplan.model.rack import read_rack
from nestplan.tasks.contents import Contents
from nestplan.tasks.opening import open_plan

__all__ = [
    "CommittedCut",
    "CutFiles",
    "CutNotes",
    "contents_after_cut",
    "cut_plan",
    "find_cut",
    "take_back_cut",
]


@dataclass(frozen=True)
class CutFiles:
    """A plan to be committed as cut: its file, the plan, its hides' files by name, and the rack's folder."""

    plan_file: Path
    plan: Plan
    hide_files: Mapping[str, Path]
    rack: Path
    job_file: Path | None = None

    @property
    def cut_id(self) -> str:
        """What names the cut in the rack's journal: the plan's content hash."""
        return content_hash(self.plan)

    @property
    def usual_rack(self) -> Path:
        """The rack that is taken where none is named: the folder of the hide that the plan places first on."""
        return _usual_rack(self.plan, self.hide_files)


@dataclass(frozen=True)
class CommittedCut:
    """A cut that is on the rack: the hides used up, the offcuts with their files, the records of the log."""

    rack: Path
    cut_id: str
    used: tuple[Hide, ...]
    offcuts: tuple[tuple[Path, Hide], ...]
    records: tuple[FinishedJob, ...]
    units: str = "mm"


@dataclass(frozen=True)
class CutNotes:
    """What the workshop says about a cut.

    `really_used` is the leather it really took, mm², by kind of leather (`""` where there is only one); offcuts
    smaller than `least_offcut` mm² are not kept; `note` is a word for the log.
    """

    really_used: Mapping[str, float] = field(default_factory=dict)
    least_offcut: float = 0.0
    note: str = ""


def find_cut(
    plan_file: Path, *, job: Path | None = None, hides: Sequence[Path] = (), rack: Path | None = None
) -> CutFiles:
    """The plan in a file with the files of its hides: those of `hides`, or where the plan says.

    Raises InputError if the plan or one of `hides` cannot be read.
    """
    plan = read_plan(plan_file)
    named = {read_hide(path).name: path for path in hides}
    beside = {source.name: Path(os.path.normpath(plan_file.parent / source.file)) for source in plan.hides}
    files = {name: named.get(name, path) for name, path in beside.items()}
    return CutFiles(plan_file, plan, files, rack or _usual_rack(plan, files), job)


def _usual_rack(plan: Plan, files: Mapping[str, Path]) -> Path:
    used = [placement.hide for placement in plan.placements]
    return files[used[0]].parent if used else next(iter(files.values())).parent


def cut_plan(cut: CutFiles, notes: CutNotes = CutNotes(), *, taken: Iterable[str] = ()) -> CommittedCut:
    """Commit the plan as cut, as one change of the rack that can be taken back.

    `taken` are names that no offcut gets, besides those on the rack.

    Raises InputError if the plan places nothing, a hide was used up already, the job or a hide has changed since
    the plan was made, or the rack cannot be written.
    """
    from nestplan.yields.remaining_leather import remaining_leather

    with rack_lock(cut.rack):
        _require_uncut(cut)
        files = cut.hide_files
        opened = open_plan(cut.plan_file, job=cut.job_file, hides=list(files.values()))
        date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
        left = remaining_leather(opened.plan, opened.job, opened.hides, least_area=notes.least_offcut)
        on_rack = {entry.hide.name for entry in read_rack(cut.rack).hides}
        done = outcome_of_cut(
            opened.plan,
            {hide.name: (files[hide.name], hide) for hide in opened.hides},
            left.offcuts,
            left.net,
            job=opened.job.name,
            plan_hash=cut.cut_id,
            date=date,
            log=cut.rack / JOB_LOG_NAME,
            taken=on_rack | set(files) | set(taken),
            really_used=notes.really_used,
            note=notes.note,
        )
        commit_cut(cut.rack, cut_id=cut.cut_id, date=date, plan=opened.plan.name, files=done.files)
    return CommittedCut(cut.rack, cut.cut_id, done.used, done.offcuts, done.records, opened.job.units)


def _require_uncut(cut: CutFiles) -> None:
    if not cut.plan.placements:
        raise InputError(
            "The plan places nothing, so there is nothing to cut.",
            file=str(cut.plan_file),
            mend="Plan again.",
        )
    for name in {placement.hide for placement in cut.plan.placements}:
        used = read_hide(cut.hide_files[name]).used
        if used:
            raise InputError(
                f"The hide '{name}' was cut up for '{used}' already.",
                file=str(cut.hide_files[name]),
                mend="Undo that cut first, or plan on other hides.",
            )


def take_back_cut(rack: Path, cut_id: str) -> JournalEntry:
    """Put every file of a cut back as it was before; the cut as the rack's journal has it.

    Raises InputError if the journal has no such cut, or a file was changed since.
    """
    with rack_lock(rack):
        return undo_cut(rack, cut_id)


def contents_after_cut(
    contents: Contents, files: Mapping[str, str], cut: CommittedCut
) -> tuple[Contents, dict[str, str]]:
    """What lies open once its plan is cut, and its files: without the hides used up and the plan, with the offcuts."""
    gone = {hide.name for hide in cut.used}
    kept = tuple(hide for hide in contents.hides if hide.name not in gone)
    after = {name: file for name, file in files.items() if name not in gone and name != "plan"}
    after |= {hide.name: str(path) for path, hide in cut.offcuts}
    return Contents(kept + tuple(hide for _, hide in cut.offcuts), contents.job, None), after
