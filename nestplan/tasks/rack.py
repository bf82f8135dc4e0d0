"""The rack: which of its hides suit, the jobs finished from it, the seller's area kept beside the measured one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec

from nestplan.errors import InputError, NestplanError
from nestplan.model.cut_journal import rack_lock
from nestplan.model.files import read_hide, write_hide
from nestplan.model.hide import Hide
from nestplan.model.job_log import JOB_LOG_NAME, FinishedJob, WorkshopYield, read_job_log, workshop_yields
from nestplan.model.rack import RackHide, matching_hides, read_rack
from nestplan.model.values import Area
from nestplan.storage import real_path
from nestplan.tasks.settling import LOCK_PATIENCE, OnRepair, settle_folders

__all__ = [
    "FinishedJobs",
    "HideWishes",
    "MarkedHide",
    "RackList",
    "keep_marked_area",
    "list_finished_jobs",
    "list_rack",
]


@dataclass(frozen=True)
class HideWishes:
    """What a hide must be like to be listed: kinds of leather, thickness (mm, least and most), area (mm²)."""

    leather: Sequence[str] = ()
    thickness: tuple[float, float] | None = None
    least_area: float | None = None
    most_area: float | None = None
    used: bool = False


@dataclass(frozen=True)
class RackList:
    """The hides of a rack that were asked for, how many it has in all, and the faults of files left out."""

    folder: Path
    hides: tuple[RackHide, ...]
    total: int
    faults: tuple[NestplanError, ...]

    @property
    def area(self) -> float:
        """Measured area of the hides listed, mm²."""
        return sum(entry.hide.gross_area for entry in self.hides)


@dataclass(frozen=True)
class FinishedJobs:
    """The jobs in a rack's log, oldest first, and the workshop's own yields from them."""

    jobs: tuple[FinishedJob, ...]
    yields: tuple[WorkshopYield, ...]


@dataclass(frozen=True)
class MarkedHide:
    """A hide whose seller's area, mm², was kept: `excess` is the measured area over it, less 1."""

    hide: Hide
    stated_area: float
    excess: float


def list_rack(
    folder: Path, wishes: HideWishes = HideWishes(), *, on_repair: OnRepair | None = None
) -> RackList:
    """The hides of a folder, and of the folders in it, that satisfy the wishes.

    What a cut left half done there is put right first, which `on_repair` is told.

    Raises InputError if there is no such folder or it cannot be put right.
    """
    if folder.is_dir():
        settle_folders([folder], on_repair, inside=True)
    found = read_rack(folder)
    chosen = matching_hides(
        found.hides,
        leather=wishes.leather,
        thickness=wishes.thickness,
        least_area=wishes.least_area,
        most_area=wishes.most_area,
        used=wishes.used,
    )
    return RackList(folder, tuple(chosen), len(found.hides), found.faults)


def list_finished_jobs(folder: Path, *, on_repair: OnRepair | None = None) -> FinishedJobs:
    """The finished jobs of a rack, once what a cut left half done there is put right.

    Raises InputError if there is no such folder or its log cannot be read.
    """
    if not folder.is_dir():
        raise InputError(
            "There is no such folder.", file=str(folder), mend="Give the folder of the hide files."
        )
    settle_folders([folder], on_repair)
    jobs = read_job_log(folder / JOB_LOG_NAME)
    return FinishedJobs(jobs, workshop_yields(jobs))


def keep_marked_area(file: Path, area: float) -> MarkedHide:
    """Write the seller's area, mm², into the file of a hide, which stays as it is otherwise.

    Raises InputError if the file cannot be read or written.
    """
    with rack_lock(real_path(file).parent, patience=LOCK_PATIENCE):
        marked = msgspec.structs.replace(read_hide(file), stated_area=Area(area))
        write_hide(file, marked)
    return MarkedHide(marked, area, marked.gross_area / area - 1.0 if area else 0.0)
