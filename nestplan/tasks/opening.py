"""Reading what a user names: hides and folders of them, a plan with what it was made from, files of any kind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from nestplan.errors import InputError
from nestplan.model.files import content_hash, kind_said_in, read_hide, read_hides, read_job, read_plan
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan, Source
from nestplan.storage import real_path
from nestplan.tasks.job_edits import without_other_pieces
from nestplan.tasks.output_paths import free_name
from nestplan.tasks.settling import OnRepair, settle_folders, settle_hides

__all__ = [
    "DRAWING_SUFFIXES",
    "PHOTO_SUFFIXES",
    "OpenedFiles",
    "OpenedPlan",
    "file_kind",
    "hide_files",
    "open_files",
    "open_plan",
    "read_hides_of",
]

PHOTO_SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp")
"""Endings of files that are taken for photographs of hides."""

DRAWING_SUFFIXES = (".dxf", ".svg", ".csv", ".geojson")
"""Endings of files that are taken for drawings; a `.json` file that is none of nestplan's own is one too."""


def hide_files(
    paths: Iterable[Path], *, used_too: bool = False, on_repair: OnRepair | None = None
) -> list[Path]:
    """The hide files of files and folders; of a folder (a rack) those that are not used up, unless `used_too`.

    What a cut left half done there is put right first, which `on_repair` is told.

    Raises InputError if a folder has no such hide, a file is given twice, or a rack cannot be put right.
    """
    paths = list(paths)
    settle_folders((path if path.is_dir() else path.parent for path in paths), on_repair)
    files: list[Path] = []
    for path in paths:
        if not path.is_dir():
            files.append(path)
            continue
        found = sorted(path.glob("*.hide.json"))
        if not used_too:
            found = [each for each in found if not read_hide(each).used]
        if not found:
            raise InputError(
                "The folder holds no hides."
                if used_too
                else "There is no hide in this folder, or all are used up.",
                file=str(path),
                mend="Give a folder of .hide.json files, or the files themselves.",
            )
        files += found
    seen: set[Path] = set()
    for file in files:
        if real_path(file) in seen:
            raise InputError("This hide is given twice.", file=str(file), mend="Give each hide once.")
        seen.add(real_path(file))
    return files


def read_hides_of(paths: Iterable[Path], *, on_repair: OnRepair | None = None) -> tuple[Hide, ...]:
    """The hides of files and folders, as `hide_files` finds them.

    Raises InputError if one cannot be read, is given twice, or has the name of another.
    """
    return read_hides(hide_files(paths, on_repair=on_repair))


@dataclass(frozen=True)
class OpenedPlan:
    """A plan with the job and hides it was made from; `hides` stand in the order of the plan's sources."""

    plan: Plan
    job: Job
    hides: tuple[Hide, ...]


def open_plan(
    path: Path,
    *,
    job: Path | None = None,
    hides: Sequence[Path] = (),
    on_repair: OnRepair | None = None,
) -> OpenedPlan:
    """The plan in a file with its job and hides, which are looked for where the plan says unless given.

    What a cut left half done beside the hides is put right first, which `on_repair` is told.

    Raises InputError if one is missing or is not the one the plan was made from.
    """
    plan = read_plan(path)
    settle_hides((*hides, *(path.parent / source.file for source in plan.hides)), on_repair)
    job_path = job or path.parent / plan.job.file
    found_job = read_job(job_path)
    given = {hide.name: (hide, where) for hide, where in ((read_hide(where), where) for where in hides)}
    found = []
    for source in plan.hides:
        hide, where = given.get(source.name) or _hide_beside(path, source.file)
        found.append(hide)
        if _has_changed(source, hide):
            raise InputError(
                f"The hide '{source.name}' has changed since the plan was made.",
                file=str(where),
                mend="Plan again, or give the hide as it was.",
            )
    if _has_changed(plan.job, found_job):
        raise InputError(
            "The job has changed since the plan was made.",
            file=str(job_path),
            mend="Plan again, or give the job as it was.",
        )
    return OpenedPlan(plan, found_job, tuple(found))


def _hide_beside(plan: Path, file: str) -> tuple[Hide, Path]:
    where = plan.parent / file
    return read_hide(where), where


def _has_changed(source: Source, document: Hide | Job) -> bool:
    """Whether a document is another one than a plan was made from; no, where the plan does not say."""
    return bool(source.hash) and content_hash(document) != source.hash


@dataclass
class OpenedFiles:
    """What was read from files of any kind.

    `files` holds the paths by the hide's name, with `""` for the job and `plan` for the plan. `photos` and
    `drawings` are files that need a question first. What a user is to be told: `used_up` names the hides that
    were left out as used up; `changed` names the hides that are no longer those of the plan, and
    `job_changed` says it of the job, and `not_in_job` is how many placements were left out because the job no longer
    cuts such a piece from such a layer; a plan that had to be left out lacks its job (`job_missing`) or the
    `hides_missing`.
    """

    hides: list[Hide] = field(default_factory=list)
    job: Job | None = None
    plan: Plan | None = None
    files: dict[str, str] = field(default_factory=dict)
    photos: list[str] = field(default_factory=list)
    drawings: list[str] = field(default_factory=list)
    used_up: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    job_changed: bool = False
    not_in_job: int = 0
    job_missing: bool = False
    hides_missing: tuple[str, ...] = ()


def file_kind(path: Path) -> str:
    """`hide`, `job`, `plan`, `photo`, `drawing`, `folder`, or `` where it is none of them."""
    if path.is_dir():
        return "folder"
    suffix = path.suffix.lower()
    if suffix in PHOTO_SUFFIXES:
        return "photo"
    if suffix in DRAWING_SUFFIXES:
        return "drawing"
    for kind in ("hide", "job", "plan"):
        if path.name.endswith(f".{kind}.json") or path.name == f"{kind}.json":
            return kind
    return _kind_inside(path) if suffix == ".json" else ""


def _kind_inside(path: Path) -> str:
    """The kind a JSON file says it is of; a drawing (rings) where it is none of nestplan's."""
    said = kind_said_in(path)
    return "" if said is None else said or "drawing"


def open_files(
    paths: Sequence[Path], *, beside: bool = True, on_repair: OnRepair | None = None
) -> OpenedFiles:
    """Everything in the files (and in folders named).

    A plan brings the job and hides it was made from; a job opened by itself brings, with `beside`, the hides
    of its folder. Hides of a folder that are used up stay out unless the plan lies on them. What a cut left half
    done in a folder is put right before its hides are read, which `on_repair` is told.

    Raises InputError if a file cannot be read, is of no kind that can be opened, or two hides have one name.
    """
    reading = _Reading([real_path(path) for path in paths], beside=beside, on_repair=on_repair)
    opened = reading.all()
    if opened.plan is not None:
        _compare_with_sources(opened)
    _leave_out_used(opened, {str(real_path(path)) for path in paths})
    return opened


class _Reading:
    """Files still to be read, one after another, each of which may bring others."""

    def __init__(self, paths: Sequence[Path], *, beside: bool, on_repair: OnRepair | None) -> None:
        self._waiting = list(paths)
        self._on_repair = on_repair
        self._settled: set[Path] = set()
        self._hides_of_job = beside and not any(
            file_kind(path) in ("hide", "folder", "plan") for path in paths
        )
        self._opened = OpenedFiles()

    def all(self) -> OpenedFiles:
        """What is in all the files."""
        seen: set[Path] = set()
        while self._waiting:
            path = self._waiting.pop(0)
            if path not in seen:
                seen.add(path)
                self._read(path, file_kind(path))
        return self._opened

    def _read(self, path: Path, kind: str) -> None:
        opened = self._opened
        if kind == "folder":
            self._settle(path)
            self._waiting += sorted(p for p in path.iterdir() if file_kind(p) in ("hide", "job", "plan"))
        elif kind == "hide":
            self._take_hide(path)
        elif kind == "job":
            opened.job, opened.files[""] = read_job(path), str(path)
            if self._hides_of_job:
                self._settle(path.parent)
                self._waiting += sorted(path.parent.glob("*.hide.json"))
        elif kind == "plan":
            self._take_plan(path)
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

    def _take_hide(self, path: Path) -> None:
        self._settle(path.parent)
        hide, opened = read_hide(path), self._opened
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

    def _settle(self, folder: Path) -> None:
        if folder not in self._settled:
            self._settled.add(folder)
            settle_folders([folder], self._on_repair)

    def _take_plan(self, path: Path) -> None:
        plan = self._opened.plan = read_plan(path)
        self._opened.files["plan"] = str(path)
        named = [real_path(path.parent / source.file) for source in (plan.job, *plan.hides) if source.file]
        self._waiting += [found for found in named if found.is_file()]


def _compare_with_sources(opened: OpenedFiles) -> None:
    """Note where a plan and the job and hides found for it differ; leave a plan out that lacks some of them."""
    plan = opened.plan
    assert plan is not None
    hides = {hide.name: hide for hide in opened.hides}
    if opened.job is None:
        opened.job_missing = True
    else:
        opened.hides_missing = tuple(sorted({placed.hide for placed in plan.placements} - set(hides)))
    if opened.job is None or opened.hides_missing:
        opened.plan = None
        opened.files.pop("plan", None)
        return
    opened.changed = tuple(
        source.name
        for source in plan.hides
        if source.name in hides and _has_changed(source, hides[source.name])
    )
    opened.job_changed = _has_changed(plan.job, opened.job)
    opened.plan = without_other_pieces(plan, opened.job)
    opened.not_in_job = len(plan.placements) - len(opened.plan.placements)


def _leave_out_used(opened: OpenedFiles, named: set[str]) -> None:
    """Leave out used hides, unless their file was `named` or the plan lies on them."""
    on = {placement.hide for placement in opened.plan.placements} if opened.plan else set()
    gone = [
        hide.name
        for hide in opened.hides
        if hide.used and hide.name not in on and opened.files[hide.name] not in named
    ]
    opened.hides = [hide for hide in opened.hides if hide.name not in gone]
    for name in gone:
        del opened.files[name]
    opened.used_up = tuple(gone)
