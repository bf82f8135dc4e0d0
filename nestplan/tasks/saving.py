"""Saving what lies open: what has changed since it was last opened or saved, each record into its own file."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec

from nestplan.errors import InputError
from nestplan.model.cut_journal import RackRepair, rack_locks
from nestplan.model.files import content_hash, read_hide, write_hide, write_job, write_plan
from nestplan.model.hide import Hide
from nestplan.model.plan import Plan, Source
from nestplan.storage import file_stem, real_path
from nestplan.tasks.contents import Contents
from nestplan.tasks.hide_pictures import keep_picture
from nestplan.tasks.output_paths import free_path, path_from
from nestplan.tasks.settling import LOCK_PATIENCE, settle_folders

__all__ = ["SavedContents", "save_contents", "with_present_sources"]


@dataclass(frozen=True)
class SavedContents:
    """What was saved, the files it is in, and what was put right in their folders before.

    `used_changed` names hides that were cut up, or whose cut was undone, since they were opened: what is saved says
    so too. `pictures_not_kept` names hides whose picture could not be kept beside their file, and why.
    """

    contents: Contents
    files: dict[str, str]
    used_changed: tuple[str, ...] = ()
    repairs: tuple[RackRepair, ...] = ()
    pictures_not_kept: tuple[tuple[str, InputError], ...] = ()


def save_contents(
    contents: Contents,
    saved: Contents,
    files: Mapping[str, str],
    folder: Path,
    *,
    leave: Collection[str] = (),
) -> SavedContents:
    """Write what has changed since `saved`, and what has no file yet, into `folder`.

    `files` are the paths by the hide's name, with `""` for the job and `plan` for the plan. What `leave` names in
    the same way is not written. Whether a hide is used up is said by its file, where it has one: only a cut, and
    undoing it, changes that. The picture under a hide is kept beside the hide's file.

    Raises InputError if a file cannot be written; what was written before it stays written.
    """
    kept = {
        name: file for name, file in files.items() if name in ("", "plan") or contents.hide(name) is not None
    }
    before = {hide.name: hide for hide in saved.hides}
    changed = [hide for hide in contents.hides if hide.name not in kept or before.get(hide.name) is not hide]
    taken = {Path(file) for file in kept.values()}

    def file_for(key: str, name: str, kind: str) -> str:
        if key not in kept:
            path = free_path(folder, file_stem(name), f".{kind}.json", taken)
            taken.add(path)
            kept[key] = str(path)
        return kept[key]

    repairs: list[RackRepair] = []
    written: dict[str, Hide] = {}
    racks = {real_path(kept[hide.name]).parent for hide in changed if hide.name in kept}
    settle_folders(sorted(racks), repairs.append)
    with rack_locks(racks, patience=LOCK_PATIENCE):
        for hide in changed:
            path = Path(file_for(hide.name, hide.name, "hide"))
            written[hide.name] = _with_use_of_file(hide, path)
            write_hide(path, written[hide.name])
        unkept = _keep_pictures(contents, kept)
    hides = tuple(written.get(hide.name, hide) for hide in contents.hides)
    now = Contents(hides, contents.job, contents.plan, contents.photos)
    job, plan = contents.job, contents.plan
    if job is not None and "" not in leave and (job is not saved.job or "" not in kept):
        write_job(file_for("", job.name, "job"), job)
    if plan is not None and job is not None and "plan" not in leave:
        file_for("plan", job.name, "plan")
        write_plan(kept["plan"], with_present_sources(plan, now, kept))
    used_changed = tuple(hide.name for hide in changed if written[hide.name].used != hide.used)
    return SavedContents(now, kept, used_changed, tuple(repairs), unkept)


def _keep_pictures(contents: Contents, files: Mapping[str, str]) -> tuple[tuple[str, InputError], ...]:
    """Keep the pictures under hides beside the hides' files; the names of those that could not be kept, and why."""
    failed = []
    for name, photo in contents.photos:
        try:
            if name in files:
                keep_picture(Path(files[name]), photo)
        except InputError as error:
            failed.append((name, error))
    return tuple(failed)


def _with_use_of_file(hide: Hide, path: Path) -> Hide:
    """The hide, used up or not as its file says; as it is where there is no such file."""
    try:
        used = read_hide(path).used if path.exists() else hide.used
    except InputError:
        return hide
    return hide if used == hide.used else msgspec.structs.replace(hide, used=used)


def with_present_sources(plan: Plan, contents: Contents, files: Mapping[str, str]) -> Plan:
    """The plan with its job and hides (names, files as seen from the plan's own, content hashes) as they are now."""
    job = contents.job
    assert job is not None
    folder = Path(files["plan"]).parent
    paths = {name: path_from(folder, Path(file)) for name, file in files.items()}
    used = {placement.hide for placement in plan.placements} | {source.name for source in plan.hides}
    return msgspec.structs.replace(
        plan,
        job=Source(name=job.name, file=paths.get("", plan.job.file), hash=content_hash(job)),
        hides=tuple(
            Source(name=hide.name, file=paths.get(hide.name, ""), hash=content_hash(hide))
            for hide in contents.hides
            if hide.name in used
        ),
    )
