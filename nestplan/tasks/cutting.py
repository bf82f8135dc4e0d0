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
from nestplan.model.cut_journal import (
    JournalEntry,
    commit_cut,
    rack_locks,
    read_journal,
    roll_back_unfinished_cuts,
    undo_cut,
)
from nestplan.model.cut_outcome import outcome_of_cut
from nestplan.model.files import content_hash, read_hide, read_plan
from nestplan.model.hide import Hide
from nestplan.model.job_log import JOB_LOG_NAME, FinishedJob
from nestplan.model.plan import Plan
from nestplan.model.rack import read_rack
from nestplan.tasks.contents import Contents
from nestplan.tasks.hide_pictures import drop_picture, pass_picture_on, pictures_beside
from nestplan.tasks.opening import open_files, open_plan
from nestplan.tasks.settling import LOCK_PATIENCE, OnRepair, settle_folders, settle_hides

__all__ = [
    "CommittedCut",
    "CutFiles",
    "CutNotes",
    "CutOnRack",
    "contents_after_cut",
    "contents_after_taking_back",
    "cut_plan",
    "find_cut",
    "last_cut",
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
    """A cut that is on the rack: the plan's hide files, the hides used up, the offcuts with their files, the records of
    the log."""

    rack: Path
    cut_id: str
    hide_files: tuple[Path, ...]
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
    plan_file: Path,
    *,
    job: Path | None = None,
    hides: Sequence[Path] = (),
    rack: Path | None = None,
    on_repair: OnRepair | None = None,
) -> CutFiles:
    """The plan in a file with the files of its hides: those of `hides`, or where the plan says.

    What a cut left half done in their folders is put right first, which `on_repair` is told.

    Raises InputError if the plan or one of `hides` cannot be read, or the plan names no hides, or not all of those that
    it places something on.
    """
    plan = read_plan(plan_file)
    _require_named_hides(plan_file, plan)
    settle_hides(hides, on_repair)
    named = {read_hide(path).name: path for path in hides}
    beside = {source.name: Path(os.path.normpath(plan_file.parent / source.file)) for source in plan.hides}
    files = {name: named.get(name, path) for name, path in beside.items()}
    settle_folders((*(path.parent for path in files.values()), *([rack] if rack else [])), on_repair)
    return CutFiles(plan_file, plan, files, rack or _usual_rack(plan, files), job)


def _require_named_hides(plan_file: Path, plan: Plan) -> None:
    known = {source.name for source in plan.hides}
    if not known:
        raise InputError("The plan names no hides.", file=str(plan_file), mend="Plan again.")
    for placed in plan.placements:
        if placed.hide not in known:
            raise InputError(
                f"The plan places something on '{placed.hide}', which is none of its hides.",
                file=str(plan_file),
                mend="Plan again.",
            )


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

    hides = {cut.hide_files[placed.hide].parent for placed in cut.plan.placements}
    with rack_locks([cut.rack, *hides], patience=LOCK_PATIENCE):
        roll_back_unfinished_cuts(cut.rack)
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
        for path, offcut in done.offcuts:
            if offcut.origin is not None and offcut.origin.parent in files:
                pass_picture_on(files[offcut.origin.parent], path)
    return CommittedCut(
        cut.rack, cut.cut_id, tuple(files.values()), done.used, done.offcuts, done.records, opened.job.units
    )


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


def take_back_cut(rack: Path, cut_id: str, *, hide_files: Iterable[Path] = ()) -> JournalEntry:
    """Put every file of a cut back as it was before; the cut as the rack's journal has it.

    `hide_files` are those of the plan that was cut: in their folders files may be put back, besides the rack's own.

    Raises InputError if the journal has no such cut, a file was changed since, or one cannot be put back.
    """
    folders = {path.parent for path in hide_files}
    with rack_locks([rack, *folders], patience=LOCK_PATIENCE):
        undone = undo_cut(rack, cut_id, also=folders)
        for change in undone.changes:
            if change.before is None and change.file.endswith(".hide.json"):
                drop_picture(rack / change.file)
        return undone


def contents_after_cut(
    contents: Contents, files: Mapping[str, str], cut: CommittedCut
) -> tuple[Contents, dict[str, str]]:
    """What lies open once its plan is cut, and its files: without the hides used up and the plan, with the offcuts."""
    gone = {hide.name for hide in cut.used}
    kept = tuple(hide for hide in contents.hides if hide.name not in gone)
    after = {name: file for name, file in files.items() if name not in gone and name != "plan"}
    after |= {hide.name: str(path) for path, hide in cut.offcuts}
    hides = kept + tuple(hide for _, hide in cut.offcuts)
    return Contents(hides, contents.job, None, pictures_beside(after)), after


@dataclass(frozen=True)
class CutOnRack:
    """A cut in a rack's journal that can be taken back: its plan's name, its date, how many hides it used up and
    offcuts it gave. `plan_file` is the plan's file, if it lies in the rack, `hide_files` those of its hides."""

    rack: Path
    cut_id: str
    plan: str
    date: str
    hides: int
    offcuts: int
    plan_file: Path | None
    hide_files: tuple[Path, ...]


def last_cut(rack: Path) -> CutOnRack | None:
    """The cut that was committed last on a rack and not taken back; None if there is none.

    Raises InputError if the rack's journal cannot be read.
    """
    cut = next((cut for cut in reversed(read_journal(rack)) if cut.state == "done"), None)
    if cut is None:
        return None
    hides = [change for change in cut.changes if change.file.endswith(".hide.json")]
    plan_file = _plan_file_of(rack, cut.id)
    return CutOnRack(
        rack,
        cut.id,
        cut.plan,
        cut.date,
        sum(change.before is not None for change in hides),
        sum(change.before is None for change in hides),
        plan_file,
        tuple(find_cut(plan_file).hide_files.values()) if plan_file is not None else (),
    )


def _plan_file_of(rack: Path, cut_id: str) -> Path | None:
    """The file in a rack's folder that holds the plan of a cut."""
    for path in sorted(rack.glob("*plan.json")):
        try:
            if content_hash(read_plan(path)) == cut_id:
                return path
        except InputError:
            continue
    return None


def contents_after_taking_back(
    contents: Contents, files: Mapping[str, str], plan_file: Path | None
) -> tuple[Contents, dict[str, str]]:
    """What lies open once a cut was taken back, and its files: the plan with its hides and job as they lie in their
    files, and the other hides that are still there.

    Raises InputError if a file cannot be read.
    """
    opened = open_files([plan_file] if plan_file is not None else [])
    there = {name: file for name, file in files.items() if name not in ("", "plan") and Path(file).is_file()}
    others = [hide for hide in contents.hides if hide.name in there and hide.name not in opened.files]
    merged = {hide.name: there[hide.name] for hide in others} | opened.files
    job = opened.job if opened.job is not None else contents.job
    if opened.job is None and "" in files:
        merged[""] = files[""]
    return Contents((*opened.hides, *others), job, opened.plan, pictures_beside(merged)), merged
