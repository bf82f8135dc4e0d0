"""A plan that has been cut is booked: its hides are used up, useful offcuts go to the rack, the job to the log.

The same steps as `nestplan cut`, on saved files, and taken back the same way. No Qt here.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from nestplan.desk.document.document import Contents
from nestplan.desk.sentences import count
from nestplan.errors import InputError

__all__ = ["Booked", "book_cut", "take_back"]


@dataclass(frozen=True)
class Booked:
    """The work after a booking, its files, what to tell, and what names the booking for taking it back."""

    contents: Contents
    files: dict[str, str]
    words: str
    folder: Path
    cut_id: str


def book_cut(contents: Contents, files: dict[str, str]) -> Booked:
    """Book the plan of `contents`, whose parts are all saved in `files`.

    Errors: InputError where a part is not saved, a hide was used up already, or the rack cannot be written.
    """
    from nestplan.model.cut_journal import commit_cut, rack_lock
    from nestplan.model.cut_outcome import outcome_of_cut
    from nestplan.model.files import content_hash, read_plan
    from nestplan.model.job_log import JOB_LOG_NAME
    from nestplan.model.rack import read_rack
    from nestplan.yields.remaining_leather import remaining_leather

    if contents.plan is None or contents.job is None or "plan" not in files or not contents.plan.placements:
        raise InputError(
            "Nothing has been planned and saved, so there is nothing to book.", mend="Save the plan first."
        )
    plan = read_plan(files["plan"])
    on = {placement.hide for placement in plan.placements}
    used = sorted(hide.name for hide in contents.hides if hide.name in on and hide.used)
    if used:
        raise InputError(f"The hide '{used[0]}' was cut up already.", mend="Plan on other hides.")
    hides = {hide.name: (Path(files[hide.name]), hide) for hide in contents.hides if hide.name in files}
    folder = next(path.parent for name, (path, _) in hides.items() if name in on)
    date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    cut_id = content_hash(plan)
    with rack_lock(folder):
        left = remaining_leather(plan, contents.job, [hide for _, hide in hides.values()])
        names = {entry.hide.name for entry in read_rack(folder).hides} | set(hides)
        done = outcome_of_cut(
            plan,
            hides,
            left.offcuts,
            left.net,
            job=contents.job.name,
            plan_hash=cut_id,
            date=date,
            log=folder / JOB_LOG_NAME,
            taken=names,
        )
        commit_cut(folder, cut_id=cut_id, date=date, plan=plan.name, files=done.files)
    gone = {hide.name for hide in done.used}
    kept = tuple(hide for hide in contents.hides if hide.name not in gone)
    offcuts = tuple(hide for _, hide in done.offcuts)
    after = {name: file for name, file in files.items() if name not in gone and name != "plan"}
    after |= {hide.name: str(path) for path, hide in done.offcuts}
    words = _booked_words(len(gone), len(offcuts))
    return Booked(Contents(kept + offcuts, contents.job, None), after, words, folder, cut_id)


def take_back(booked: Booked) -> None:
    """Put every file back as it was before. Errors: InputError where one was changed since."""
    from nestplan.model.cut_journal import rack_lock, undo_cut

    with rack_lock(booked.folder):
        undo_cut(booked.folder, booked.cut_id)


def _booked_words(gone: int, offcuts: int) -> str:
    used = f"{count(gone, 'hide')} {'is' if gone == 1 else 'are'} used up"
    lie = "lies on the rack as a hide of its own" if offcuts == 1 else "lie on the rack as hides of their own"
    return f"{used}; {count(offcuts, 'offcut')} {lie}."
