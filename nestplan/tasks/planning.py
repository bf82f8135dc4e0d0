"""Searching for a plan: what it is made from read, the search run, the plan and its pictures written."""

from __future__ import annotations

import datetime
import filecmp
import itertools
import math
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
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
from nestplan.storage import move_into_place, staging_folder, write_atomically
from nestplan.tasks.opening import hide_files
from nestplan.tasks.output_paths import make_folder, path_from
from nestplan.tasks.settling import OnRepair

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

_LEAST_MEASURING = 0.3
"""Seconds for which offcuts are measured at least after a search by the clock."""
_STARTING_AND_WRITING = 1.7
"""Seconds kept of those that a search by the clock may overrun, for what stands before it and after it: reading, and
writing the files of a plan."""

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


def read_inputs(
    job: Path, hides: Sequence[Path], *, keep: Path | None = None, on_repair: OnRepair | None = None
) -> PlanInputs:
    """The job and the hides (files, or folders of them); of the plan `keep` what is locked or cut already.

    Raises InputError if a file cannot be read or a hide is used up.
    """
    read = read_job(job)
    files = hide_files(hides, on_repair=on_repair)
    leather = read_hides(files)
    for hide, path in zip(leather, files, strict=True):
        if hide.used:
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
    """The best plan found of `job` on `hides`, its offcuts measured as far as the clock allows.

    `stop` ends the search early with the best plan so far; `observer` is told of progress.

    Raises InputError or RuleError if the job cannot be planned on the hides at all.
    """
    from nestplan.nesting.budget import OVERRUN_SECONDS, OVERRUN_SHARE
    from nestplan.nesting.nest import nest
    from nestplan.yields import with_measured_offcuts

    seconds = None if request.passes is not None else request.seconds
    end = math.inf
    if seconds is not None:
        end = time.monotonic() + seconds * (1.0 + OVERRUN_SHARE) + OVERRUN_SECONDS - _STARTING_AND_WRITING
    plan = nest(
        job,
        hides,
        goal=request.goal,
        seconds=seconds,
        passes=request.passes,
        seed=request.seed,
        keep=request.keep,
        stop=stop,
        observer=observer,
        workers=request.workers,
        toward=request.toward,
    )
    # A search that was paused may come back after its end.
    end = max(end, time.monotonic() + _LEAST_MEASURING)
    return with_measured_offcuts(plan, job, stop=lambda: time.monotonic() > end)


def hides_to_cut(
    hides: Sequence[Hide], keep: Sequence[Placement], names: Collection[str] = ()
) -> tuple[Hide, ...]:
    """Those of `hides` that can still be cut; of `names` only, if given.

    Raises InputError if something to `keep` lies on a hide that is used up: what is left of it lies on the rack as
    offcuts, and would be planned on twice.
    """
    used = {hide.name for hide in hides if hide.used}
    for placement in keep:
        if placement.hide in used:
            raise InputError(
                f"The hide '{placement.hide}', which something kept lies on, is used up.",
                mend="Plan what is still wanted as a job of its own on other hides, or undo the cut.",
            )
    return tuple(hide for hide in hides if not hide.used and (not names or hide.name in names))


def empty_plan(job: Job, hides: Sequence[Hide]) -> Plan:
    """A plan of the job on the hides with nothing laid yet."""
    return Plan(
        name=job.name,
        job=Source(name=job.name, hash=content_hash(job)),
        hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in hides),
    )


def draft_plan(
    job: Job,
    hides: Sequence[Hide],
    lying: Sequence[Placement],
    *,
    seed: int,
    keep: Sequence[Placement] = (),
) -> Plan:
    """What lies where in the middle of a search as a plan without figures.

    Copies and sets are numbered as in a plan, around those of `keep`, which stay as they are.
    """
    from nestplan.nesting.result.set_numbering import number_strips

    kept = [placement for placement in lying if placement in keep]
    new = [placement for placement in lying if placement not in keep]
    pieces = _number_pieces([placement for placement in new if not placement.strip], job, kept)
    strips = number_strips([placement for placement in new if placement.strip], job, kept)
    return msgspec.structs.replace(empty_plan(job, hides), placements=(*kept, *pieces, *strips), seed=seed)


def _number_pieces(pieces: Iterable[Placement], job: Job, keep: Iterable[Placement]) -> list[Placement]:
    """Pieces given free copies around those kept, and the first set that still needs one of their kind and hand."""
    copies: dict[tuple[str, str], set[int]] = defaultdict(set)
    held: Counter[tuple[str, str, bool, int]] = Counter()

    def hand(placement: Placement) -> bool:
        return placement.mirrored and job.piece(placement.piece).pair

    for placement in keep:
        if placement.piece:
            copies[placement.piece, placement.layer].add(placement.copy)
            held[placement.piece, placement.layer, hand(placement), placement.set] += 1
    numbered = []
    for placement in pieces:
        name, layer, side = placement.piece, placement.layer, hand(placement)
        count = job.piece(name).count
        number = next(n for n in itertools.count(1) if held[name, layer, side, n] < count)
        held[name, layer, side, number] += 1
        copy = next(n for n in itertools.count(1) if n not in copies[name, layer])
        copies[name, layer].add(copy)
        numbered.append(msgspec.structs.replace(placement, set=number, copy=copy))
    return numbered


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

    They are made beside their places first and then take them together, so that a sheet never lies beside a plan
    that it was not made from.

    Raises InputError if the folder or a file cannot be written.
    """
    from nestplan.drawing.png import png_bytes
    from nestplan.drawing.svg import write_svg
    from nestplan.sheets import plan_picture, write_cut_sheet

    make_folder(folder, instead="another folder for the plan")
    with staging_folder(folder) as stage, ThreadPoolExecutor(1) as beside:
        data, svg, png, cut_sheet = (stage / name for name in PLAN_FILES)
        write_plan(data, plan)
        picture = plan_picture(plan, job, hides, units=job.units)
        # Pixels are filled and packed while the sheet is drawn.
        pixels = beside.submit(png_bytes, picture)
        write_svg(picture, svg, title=plan.name)
        write_cut_sheet(plan, job, hides, cut_sheet, units=job.units)
        write_atomically(png, pixels.result())
        move_into_place(stage, folder, PLAN_FILES)


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
        write_atomically(folder / path.name, path.read_bytes())
    return folder / "quillmere.job.json", sorted(folder.glob("*.hide.json"))
