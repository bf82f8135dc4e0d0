"""Saving what lies open: what has changed since it was last opened or saved, each record into its own file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import msgspec

from nestplan.model.files import content_hash, write_hide, write_job, write_plan
from nestplan.model.plan import Plan, Source
from nestplan.storage import file_stem
from nestplan.tasks.contents import Contents
from nestplan.tasks.output_paths import free_path, path_from

__all__ = ["save_contents", "with_present_sources"]


def save_contents(
    contents: Contents, saved: Contents, files: Mapping[str, str], folder: Path
) -> dict[str, str]:
    """Write what has changed since `saved`, and what has no file yet, into `folder`; gives all the files.

    `files` are the paths by the hide's name, with `""` for the job and `plan` for the plan.

    Raises InputError if a file cannot be written; what was written before it stays written.
    """
    kept = {
        name: file for name, file in files.items() if name in ("", "plan") or contents.hide(name) is not None
    }
    before = {hide.name: hide for hide in saved.hides}
    taken = {Path(file) for file in kept.values()}

    def new_file(name: str, kind: str) -> str:
        path = free_path(folder, file_stem(name), f".{kind}.json", taken)
        taken.add(path)
        return str(path)

    for hide in contents.hides:
        if hide.name not in kept:
            kept[hide.name] = new_file(hide.name, "hide")
        elif before.get(hide.name) is hide:
            continue
        write_hide(kept[hide.name], hide)
    job, plan = contents.job, contents.plan
    if job is not None and (job is not saved.job or "" not in kept):
        if "" not in kept:
            kept[""] = new_file(job.name, "job")
        write_job(kept[""], job)
    if plan is not None and job is not None:
        if "plan" not in kept:
            kept["plan"] = new_file(job.name, "plan")
        write_plan(kept["plan"], with_present_sources(plan, contents, kept))
    return kept


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
