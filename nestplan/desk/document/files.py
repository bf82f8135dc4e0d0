"""The user's files read into the work and written from it: hides, a job, a plan. No Qt.

Read and written by `nestplan.model.files`, as on the command line. Photographs and drawings are read by
`intake`; work kept safe without being asked is in `recovery`.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from nestplan.desk.document.document import Contents, file_stem, free_name
from nestplan.desk.document.plan_edits import relinked
from nestplan.errors import InputError
from nestplan.model.files import (
    content_hash,
    read_hide,
    read_job,
    read_plan,
    write_hide,
    write_job,
    write_plan,
)
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan

__all__ = ["DRAWINGS", "PHOTOS", "Opened", "kind_of", "open_files", "save_work"]

PHOTOS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp")
DRAWINGS = (".dxf", ".svg", ".csv", ".geojson")


@dataclass
class Opened:
    """What was read: the work, its files by the hide's name (`""` the job, `plan` the plan), and what to tell.

    `photos` and `drawings` are files of other kinds, which need a question first.
    """

    hides: list[Hide] = field(default_factory=list)
    job: Job | None = None
    plan: Plan | None = None
    files: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    photos: list[str] = field(default_factory=list)
    drawings: list[str] = field(default_factory=list)


def kind_of(path: Path) -> str:
    """`hide`, `job`, `plan`, `photo`, `drawing`, `folder`, or `` where it is none of them."""
    if path.is_dir():
        return "folder"
    suffix = path.suffix.lower()
    if suffix in PHOTOS:
        return "photo"
    if suffix in DRAWINGS:
        return "drawing"
    for kind in ("hide", "job", "plan"):
        if path.name.endswith(f".{kind}.json") or path.name == f"{kind}.json":
            return kind
    if suffix != ".json":
        return ""
    try:
        head = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    if not isinstance(head, dict):
        return ""
    return str(head.get("kind", "drawing")) if "nestplan" in head or "kind" in head else "drawing"


def open_files(paths: Sequence[Path], *, beside: bool = True) -> Opened:
    """Everything in the files (and in folders named).

    A plan brings the job and hides it was made from; a job opened by itself brings, with `beside`, the hides
    of its folder. Errors: InputError, VersionError.
    """
    opened = Opened()
    waiting = [path.resolve() for path in paths]
    asked_hides = any(kind_of(path) in ("hide", "folder", "plan") for path in waiting)
    plan_path: Path | None = None
    seen: set[Path] = set()
    while waiting:
        path = waiting.pop(0)
        if path in seen:
            continue
        seen.add(path)
        kind = kind_of(path)
        if kind == "folder":
            waiting += sorted(p for p in path.iterdir() if kind_of(p) in ("hide", "job", "plan"))
        elif kind == "hide":
            hide = read_hide(path)
            if hide.name in opened.files:
                name = free_name(hide.name, [other.name for other in opened.hides])
                raise InputError(
                    f"Two of the hides are called '{hide.name}'.",
                    file=str(path),
                    place="name",
                    mend=f"Open one of them first and rename it, for instance to '{name}'.",
                )
            opened.hides.append(hide)
            opened.files[hide.name] = str(path)
        elif kind == "job":
            opened.job, opened.files[""] = read_job(path), str(path)
            if beside and not asked_hides:
                waiting += sorted(path.parent.glob("*.hide.json"))
        elif kind == "plan":
            opened.plan, plan_path = read_plan(path), path
            opened.files["plan"] = str(path)
            named = [opened.plan.job, *opened.plan.hides]
            waiting += [
                found for s in named if s.file and (found := (path.parent / s.file).resolve()).is_file()
            ]
        elif kind == "photo":
            opened.photos.append(str(path))
        elif kind == "drawing":
            opened.drawings.append(str(path))
        else:
            raise InputError(
                "This is no file of nestplan, no drawing and no photograph.",
                file=str(path),
                mend="Open a .hide.json, .job.json or plan file, a DXF or SVG drawing, or a picture.",
            )
    if opened.plan is not None and plan_path is not None:
        opened.notes += _plan_notes(opened)
    named_hides = {str(path.resolve()) for path in paths}
    _leave_out_used(opened, named_hides)
    return opened


def _leave_out_used(opened: Opened, named: set[str]) -> None:
    """Hides of a folder that are used up stay out, unless they were named or the plan lies on them."""
    on = {placement.hide for placement in opened.plan.placements} if opened.plan else set()
    gone = [h.name for h in opened.hides if h.used and h.name not in on and opened.files[h.name] not in named]
    if gone:
        opened.hides = [hide for hide in opened.hides if hide.name not in gone]
        for name in gone:
            del opened.files[name]
        opened.notes.append(f"Used up and left out: {', '.join(gone)}.")


def _plan_notes(opened: Opened) -> list[str]:
    """What does not fit between a plan and the job and hides that were found for it."""
    plan = opened.plan
    assert plan is not None
    if opened.job is None:
        opened.plan = None
        opened.files.pop("plan", None)
        return ["The job this plan was made from was not found: open it together with the plan."]
    notes = []
    hides = {hide.name: hide for hide in opened.hides}
    missing = sorted({p.hide for p in plan.placements} - set(hides))
    if missing:
        opened.plan = None
        opened.files.pop("plan", None)
        return [f"The plan needs {', '.join(missing)}: open that hide's file together with the plan."]
    changed = [
        s.name for s in plan.hides if s.name in hides and s.hash and content_hash(hides[s.name]) != s.hash
    ]
    if plan.job.hash and content_hash(opened.job) != plan.job.hash:
        changed.append("the job")
    if changed:
        notes.append(f"Changed since the plan was made: {', '.join(changed)}. The plan was checked again.")
    return notes


def save_work(contents: Contents, saved: Contents, files: dict[str, str], folder: Path) -> dict[str, str]:
    """Write what has changed since `saved`, and what has no file yet, into `folder`; gives all the files.

    Errors: InputError if a file cannot be written; what was written before it stays written.
    """
    files = {
        name: file for name, file in files.items() if name in ("", "plan") or contents.hide(name) is not None
    }
    before = {hide.name: hide for hide in saved.hides}
    taken = set(files.values())
    for hide in contents.hides:
        if hide.name not in files:
            files[hide.name] = _new_file(folder, file_stem(hide.name), "hide", taken)
        elif before.get(hide.name) is hide:
            continue
        write_hide(files[hide.name], hide)
    if contents.job is not None and (contents.job is not saved.job or "" not in files):
        files.setdefault("", _new_file(folder, file_stem(contents.job.name), "job", taken))
        write_job(files[""], contents.job)
    if contents.plan is not None and contents.job is not None:
        files.setdefault("plan", _new_file(folder, file_stem(contents.job.name), "plan", taken))
        home = Path(files["plan"]).parent
        beside = {name: _beside(file, home) for name, file in files.items() if name != "plan"}
        write_plan(files["plan"], relinked(contents.plan, contents.job, contents.hides, beside))
    return files


def _new_file(folder: Path, stem: str, kind: str, taken: set[str]) -> str:
    number, path = 2, folder / f"{stem}.{kind}.json"
    while str(path) in taken or path.exists():
        path, number = folder / f"{stem}-{number}.{kind}.json", number + 1
    taken.add(str(path))
    return str(path)


def _beside(file: str, home: Path) -> str:
    try:
        return Path(os.path.relpath(file, home)).as_posix()
    except ValueError:
        return Path(file).as_posix()
