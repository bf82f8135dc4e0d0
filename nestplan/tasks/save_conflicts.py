"""Files that another window or program changed since they were read: found before they are written over.

Each file is known by the fingerprint of its bytes as they were last read or written here. Nothing is written here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec

from nestplan.errors import InputError
from nestplan.model.files import read_hide, read_job, read_plan
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan
from nestplan.tasks.contents import Contents, renamed_hide
from nestplan.tasks.output_paths import free_name

__all__ = [
    "SaveCheck",
    "SaveConflict",
    "check_save",
    "contents_beside",
    "contents_of_theirs",
    "difference_words",
    "file_fingerprint",
]

_LONGEST = 60
"""Letters of a value that are shown of a difference."""


@dataclass(frozen=True)
class SaveConflict:
    """A record that was changed here and, in its file, by someone else: `theirs` is None if it cannot be read.

    `name` is the hide's name, `""` for the job, `plan` for the plan.
    """

    name: str
    file: Path
    ours: Hide | Job | Plan
    theirs: Hide | Job | Plan | None


@dataclass(frozen=True)
class SaveCheck:
    """What stands in the way of saving; `left` names the records changed in their files alone: not to be written."""

    conflicts: tuple[SaveConflict, ...] = ()
    left: tuple[str, ...] = ()


def file_fingerprint(file: str | Path) -> str:
    """The SHA-256 of a file's bytes; empty if there is no such file."""
    try:
        return hashlib.sha256(Path(file).read_bytes()).hexdigest()
    except OSError:
        return ""


def check_save(
    contents: Contents, saved: Contents, files: Mapping[str, str], fingerprints: Mapping[str, str]
) -> SaveCheck:
    """What was changed in the files of `contents` since they had these `fingerprints` (by path).

    `saved` are the contents as they were last opened or saved. A hide that was only cut up meanwhile, or whose cut
    was undone, is no conflict: saving takes that over.
    """
    changed = {
        name
        for name, file in files.items()
        if fingerprints.get(file) and file_fingerprint(file) not in ("", fingerprints[file])
    }
    left = [hide.name for hide in contents.hides if hide.name in changed and saved.hide(hide.name) is hide]
    conflicts = [
        conflict
        for hide in contents.hides
        if hide.name in changed - set(left)
        and (conflict := _conflict_about(hide, saved.hide(hide.name), files[hide.name])) is not None
    ]
    if "" in changed and contents.job is not None:
        if contents.job is saved.job:
            left.append("")
        else:
            conflicts.append(SaveConflict("", Path(files[""]), contents.job, _read_job(files[""])))
    if "plan" in changed and contents.plan is not None:
        theirs = _read_plan(files["plan"])
        if theirs is None or theirs.placements != contents.plan.placements:
            if contents.plan is saved.plan and not conflicts:
                left.append("plan")
            else:
                conflicts.append(SaveConflict("plan", Path(files["plan"]), contents.plan, theirs))
    return SaveCheck(tuple(conflicts), tuple(left))


def _conflict_about(hide: Hide, before: Hide | None, file: str) -> SaveConflict | None:
    """The conflict about a hide that was changed here and in its file; None if the file says no more than its use."""
    theirs = _read_hide(file)
    if theirs is not None and before is not None and _same_but_used(theirs, before):
        return None
    return SaveConflict(hide.name, Path(file), hide, theirs)


def contents_beside(
    contents: Contents, files: Mapping[str, str], conflicts: Collection[SaveConflict]
) -> tuple[Contents, dict[str, str]]:
    """The contents with what is in conflict under names of its own, and the files of the rest.

    Saved so, ours lies beside theirs, and both can be opened together.
    """
    names = {conflict.name: conflict.theirs for conflict in conflicts}
    kept = {name: file for name, file in files.items() if name not in names}
    job, plan, photos = contents.job, contents.plan, contents.photos
    taken = [hide.name for hide in contents.hides]
    hides = []
    for hide in contents.hides:
        if hide.name in names:
            name = free_name(hide.name, taken)
            taken.append(name)
            plan = renamed_hide(plan, hide.name, name) if plan is not None else None
            photos = tuple((name if owner == hide.name else owner, photo) for owner, photo in photos)
            theirs = names[hide.name]
            used = theirs.used if isinstance(theirs, Hide) else hide.used
            hide = msgspec.structs.replace(hide, name=name, used=used)
        hides.append(hide)
    if "" in names and job is not None:
        job = msgspec.structs.replace(job, name=free_name(job.name, [job.name]))
        kept.pop("plan", None)
    return Contents(tuple(hides), job, plan, photos), kept


def contents_of_theirs(contents: Contents, conflicts: Collection[SaveConflict]) -> Contents:
    """The contents with what is in conflict as it is in the files; what cannot be read stays ours."""
    theirs = {conflict.name: conflict.theirs for conflict in conflicts if conflict.theirs is not None}
    hides = []
    for hide in contents.hides:
        other = theirs.get(hide.name)
        hides.append(other if isinstance(other, Hide) else hide)
    job, plan = theirs.get("", contents.job), theirs.get("plan", contents.plan)
    return replace(
        contents,
        hides=tuple(hides),
        job=job if isinstance(job, Job) else contents.job,
        plan=plan if isinstance(plan, Plan) else contents.plan,
    )


def difference_words(conflict: SaveConflict) -> list[str]:
    """How ours and theirs differ, a line for each part that does."""
    ours, theirs = conflict.ours, conflict.theirs
    if theirs is None:
        return ["the file cannot be read any more"]
    if isinstance(ours, Plan) and isinstance(theirs, Plan):
        return _plan_differences(ours, theirs)
    lines = []
    for field in ours.__struct_fields__:
        mine, other = getattr(ours, field), getattr(theirs, field)
        if mine != other:
            lines.append(
                f"{field.replace('_', ' ')}: {_shown(mine, other)} here, {_shown(other, mine)} there"
            )
    return lines or ["written in another way"]


def _plan_differences(ours: Plan, theirs: Plan) -> list[str]:
    lines = []
    if len(ours.placements) != len(theirs.placements):
        lines.append(f"pieces laid: {len(ours.placements)} here, {len(theirs.placements)} there")
    cut = [sum(placement.done for placement in plan.placements) for plan in (ours, theirs)]
    if cut[0] != cut[1]:
        lines.append(f"pieces cut: {cut[0]} here, {cut[1]} there")
    elsewhere = len(set(ours.placements) - set(theirs.placements))
    if elsewhere and not lines:
        lines.append(f"{elsewhere} pieces lie elsewhere")
    return lines or ["written in another way"]


def _shown(value: object, other: object) -> str:
    """A value in a few words: how many where it is a list of another length."""
    if (
        isinstance(value, tuple)
        and isinstance(other, tuple)
        and value
        and isinstance(value[0], msgspec.Struct)
    ):
        return f"{len(value)}" if len(value) != len(other) else "changed"
    if isinstance(value, str | int | float) or value is None:
        words = "none" if value in ("", None) else str(value)
        return words if len(words) <= _LONGEST else words[:_LONGEST] + "…"
    return "changed"


def _same_but_used(theirs: Hide, before: Hide) -> bool:
    return msgspec.structs.replace(theirs, used=before.used) == before


def _read_hide(file: str) -> Hide | None:
    try:
        return read_hide(file)
    except InputError:
        return None


def _read_job(file: str) -> Job | None:
    try:
        return read_job(file)
    except InputError:
        return None


def _read_plan(file: str) -> Plan | None:
    try:
        return read_plan(file)
    except InputError:
        return None
