"""Searching for a plan: what it is made from read, the search run, the plan and its pictures written."""

from __future__ import annotations

import datetime
import filecmp
import shutil
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from nestplan.errors import InputError
from nestplan.model.files import content_hash, read_hides, read_job, read_plan, write_plan
from nestplan.model.goals import COMPLETE, HideEdge
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan, Source
from nestplan.tasks.opening import hide_files
from nestplan.tasks.output_paths import make_folder, path_from

if TYPE_CHECKING:
    from nestplan.nesting.budget import StopRule
    from nestplan.nesting.progress import Observer

__all__ = [
    "PLAN_FILES",
    "PlanInputs",
    "SearchRequest",
    "copy_demo",
    "draft_plan",
    "empty_plan",
    "has_work_by_hand",
    "hides_to_cut",
    "prepare_engine",
    "read_inputs",
    "search_plan",
    "with_sources",
    "write_plan_folder",
]

PLAN_FILES = ("plan.json", "plan.svg", "plan.png", "cut-sheet.pdf")
"""Names of the files of a plan's folder."""


@dataclass(frozen=True)
class PlanInputs:
    """What a plan is made from: the job, the hides, their files, and the placements that stay where they are."""

    job: Job
    hides: tuple[Hide, ...]
    job_file: Path
    hide_files: tuple[Path, ...]
    keep: tuple[Placement, ...] = ()


@dataclass(frozen=True)
class SearchRequest:
    """How a search is run.

    `goal` is the name of one of `nestplan.model.goals`; `seconds` bounds it by the clock unless `passes` are given.
    `toward` goes with a goal that takes an edge. `keep` are placements that stay where they are. `hides` names the
    hides to plan on, all where it is empty (see `hides_to_cut`).
    """

    goal: str = COMPLETE.name
    seconds: float | None = 60.0
    passes: int | None = None
    seed: int = 0
    keep: tuple[Placement, ...] = ()
    hides: tuple[str, ...] = ()
    toward: HideEdge | None = None
    workers: int | None = None


def read_inputs(job: Path, hides: Sequence[Path], *, keep: Path | None = None) -> PlanInputs:
    """The job and the hides (files, or folders of them); of the plan `keep` what is locked or cut already.

    Raises InputError if a file cannot be read, or a hide is used up and no plan is kept from.
    """
    read = read_job(job)
    files = hide_files(hides)
    leather = read_hides(files)
    for hide, path in zip(leather, files, strict=True):
        if hide.used and keep is None:
            raise InputError(
                f"The hide '{hide.name}' is marked as cut up ({hide.used}).",
                file=str(path),
                place="used",
                mend="Plan on another hide or on its offcuts, or undo the cut.",
            )
    kept: tuple[Placement, ...] = ()
    if keep is not None:
        kept = tuple(placed for placed in read_plan(keep).placements if placed.locked or placed.done)
    return PlanInputs(read, leather, job, tuple(files), kept)


def has_work_by_hand(path: Path) -> bool:
    """Whether there is a plan at `path` with pieces that are locked or already cut."""
    if not path.is_file():
        return False
    try:
        return any(placed.locked or placed.done for placed in read_plan(path).placements)
    except InputError:
        return False


def prepare_engine(on_start: Callable[[], None]) -> None:
    """Compile the engine for this machine where that was not done yet; `on_start` is called before it begins."""
    from nestplan.nesting.precompile import is_prepared, prepare

    if not is_prepared():
        on_start()
        prepare()


def search_plan(
    job: Job,
    hides: Sequence[Hide],
    request: SearchRequest,
    *,
    stop: StopRule | None = None,
    observer: Observer | None = None,
) -> Plan:
    """The best plan found of `job` on `hides`, its offcuts measured.

    `stop` ends the search early with the best plan so far; `observer` is told of progress.

    Raises InputError or RuleError if the job cannot be planned on the hides at all.
    """
    from nestplan.nesting.nest import nest
    from nestplan.yields import with_measured_offcuts

    plan = nest(
        job,
        hides,
        goal=request.goal,
        seconds=None if request.passes is not None else request.seconds,
        passes=request.passes,
        seed=request.seed,
        keep=request.keep,
        stop=stop,
        observer=observer,
        workers=request.workers,
        toward=request.toward,
    )
    return with_measured_offcuts(plan, job, hides)


def hides_to_cut(
    hides: Sequence[Hide], keep: Sequence[Placement], names: Collection[str] = ()
) -> tuple[Hide, ...]:
    """Those of `hides` that can still be cut, or that something to `keep` lies on; of `names` only, if given."""
    held = {placement.hide for placement in keep}
    ready = [hide for hide in hides if not hide.used or hide.name in held]
    return tuple(hide for hide in ready if not names or hide.name in names)


def empty_plan(job: Job, hides: Sequence[Hide]) -> Plan:
    """A plan of the job on the hides with nothing laid yet."""
    return Plan(
        name=job.name,
        job=Source(name=job.name, hash=content_hash(job)),
        hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in hides),
    )


def draft_plan(job: Job, hides: Sequence[Hide], lying: Sequence[Placement], *, seed: int) -> Plan:
    """What lies where in the middle of a search as a plan without figures, the copies numbered anew."""
    count: Counter[tuple[str, str]] = Counter()
    placements = []
    for placement in lying:
        count[placement.name, placement.layer] += 1
        copy = count[placement.name, placement.layer]
        placements.append(msgspec.structs.replace(placement, copy=copy))
    return msgspec.structs.replace(empty_plan(job, hides), placements=tuple(placements), seed=seed)


def with_sources(plan: Plan, inputs: PlanInputs, folder: Path, *, stamped: bool) -> Plan:
    """The plan with its job and hides as paths from `folder`; `stamped` with the time of now, or with none."""
    sources = tuple(
        msgspec.structs.replace(source, file=path_from(folder, path))
        for source, path in zip(plan.hides, inputs.hide_files, strict=True)
    )
    made = datetime.datetime.now().astimezone().isoformat(timespec="seconds") if stamped else ""
    return msgspec.structs.replace(
        plan,
        job=msgspec.structs.replace(plan.job, file=path_from(folder, inputs.job_file)),
        hides=sources,
        made=made,
    )


def write_plan_folder(plan: Plan, job: Job, hides: Sequence[Hide], folder: Path) -> None:
    """Write the PLAN_FILES of a plan into `folder`, which is made if it is not there; in the job's units.

    Raises InputError if the folder or a file cannot be written.
    """
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import write_svg
    from nestplan.sheets import plan_picture, write_cut_sheet

    make_folder(folder, instead="another folder with --out")
    data, svg, png, cut_sheet = (folder / name for name in PLAN_FILES)
    write_plan(data, plan)
    picture = plan_picture(plan, job, hides, units=job.units)
    write_svg(picture, svg, title=plan.name)
    write_png(picture, png)
    write_cut_sheet(plan, job, hides, cut_sheet, units=job.units)


def copy_demo(folder: Path) -> tuple[Path, list[Path]]:
    """Copy the demo's files (an invented pageant) into `folder`; its job file and its hide files.

    Raises InputError if a file of the demo is there already and was changed.
    """
    from nestplan.resources import demo_folder

    source = demo_folder()
    files = [path for path in sorted(source.iterdir()) if path.is_file() and not path.name.startswith(".")]
    for path in files:
        there = folder / path.name
        if there.exists() and not filecmp.cmp(path, there, shallow=False):
            raise InputError(
                "This file of the demo is there already and was changed.",
                file=str(there),
                mend="Copy the demo to another folder: nestplan demo my_demo.",
            )
    folder.mkdir(parents=True, exist_ok=True)
    for path in files:
        shutil.copyfile(path, folder / path.name)
    return folder / "quillmere.job.json", sorted(folder.glob("*.hide.json"))
