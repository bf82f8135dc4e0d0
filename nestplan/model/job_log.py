"""The log of finished jobs: what each plan promised and what leather it really took.

One JSON record a line, so that any program can read it; written whole or not at all. The workshop's own yield
comes from here; the plan's own figures come from `yields`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import msgspec

from nestplan.errors import InputError, VersionError
from nestplan.model.values import Name, Record, need, need_finite
from nestplan.storage import read_regular_file

__all__ = [
    "JOB_LOG_NAME",
    "FinishedHide",
    "FinishedJob",
    "WorkshopYield",
    "job_log_line",
    "job_log_text",
    "read_job_log",
    "workshop_yields",
]

JOB_LOG_NAME = "finished-jobs.jsonl"
_FORMAT = 1
_MOST_BYTES = 64 * 1024 * 1024


class FinishedHide(Record, frozen=True, kw_only=True):
    """A hide that a finished job used: its areas in mm² and its price."""

    name: Name
    hash: str = ""
    leather: str = ""
    gross: float
    stated: float | None = None
    price: float | None = None


class FinishedJob(Record, frozen=True, kw_only=True):
    """A job that was cut. Areas in mm².

    `net` is the finished pieces and strips that came out well, `gross` the hides used, `offcuts` what went
    back to the rack, `really_used` the leather the job really took: `gross` less `offcuts` unless the
    workshop gave its own figure. `planned_yield` is the plan's net / gross less its offcuts, to stand beside
    it.
    """

    nestplan: int = _FORMAT
    kind: str = "finished"
    id: Name
    date: str
    plan: Name
    plan_hash: str
    job: Name
    leather: str = ""
    hides: tuple[FinishedHide, ...] = ()
    pieces: int = 0
    net: float
    gross: float
    offcuts: float = 0.0
    really_used: float
    planned_yield: float
    note: str = ""

    def __post_init__(self) -> None:
        need_finite("areas", self.net, self.gross, self.offcuts, self.really_used, self.planned_yield)
        need(
            self.really_used > 0.0,
            "The leather really used must be more than 0.",
            place="really_used",
            mend="Give it.",
        )
        need(self.net >= 0.0, "The net area may not be negative.", place="net", mend="Change it.")

    @property
    def own_yield(self) -> float:
        """Net area over the leather really used."""
        return self.net / self.really_used


class WorkshopYield(Record, frozen=True, kw_only=True):
    """Finished jobs summed up, for one kind of leather or all: areas in mm², yields by area. A job that took two
    kinds of leather has two records and is one job."""

    leather: str
    jobs: int
    net: float
    really_used: float
    own_yield: float
    planned_yield: float


def read_job_log(path: str | Path) -> tuple[FinishedJob, ...]:
    """The finished jobs of a log file, oldest first; none if there is no file.

    Raises InputError, with the line, for what cannot be read, VersionError if a newer nestplan wrote it.
    """
    path = Path(path)
    if not path.exists():
        return ()
    content = read_regular_file(path, most_bytes=_MOST_BYTES, too_large="Move old lines to another file.")
    # Only line feeds part records: a text may hold other signs that part lines.
    lines = content.split(b"\n")
    return tuple(_record(line, number, path) for number, line in enumerate(lines, start=1) if line.strip())


def _record(line: bytes, number: int, path: Path) -> FinishedJob:
    try:
        line.decode()
        record = msgspec.json.decode(line, type=FinishedJob)
    except (msgspec.DecodeError, InputError, UnicodeDecodeError, RecursionError) as error:
        raise InputError(
            f"A line of the log cannot be read ({error}).",
            place=f"line {number}",
            file=str(path),
            mend="Correct the line or take it out.",
        ) from error
    if record.nestplan > _FORMAT:
        raise VersionError(
            f"A line of the log has format {record.nestplan}.",
            place=f"line {number}",
            file=str(path),
            mend="Read it with a newer nestplan.",
        )
    return record


def job_log_line(job: FinishedJob) -> str:
    """The record as one line of JSON, with its line end."""
    head = {"nestplan": job.nestplan, "kind": job.kind}
    return msgspec.json.encode({**head, **msgspec.to_builtins(job)}).decode() + "\n"


def job_log_text(path: str | Path, jobs: Iterable[FinishedJob]) -> str:
    """What the log file holds once `jobs` are added to it: old lines stay as they are. Raises InputError."""
    path = Path(path)
    read_job_log(path)
    before = path.read_bytes().decode() if path.exists() else ""
    return before + ("" if not before or before.endswith("\n") else "\n") + "".join(map(job_log_line, jobs))


def workshop_yields(jobs: Iterable[FinishedJob]) -> tuple[WorkshopYield, ...]:
    """The workshop's own yield beside the plans', for each kind of leather and, last, for all (`""`).

    Yields are sums of net area over sums of leather, so a large job weighs more than a small one; the planned
    yield is the plans' mean, weighed by net area over their own yield, that is by the leather they promised.
    """
    groups: dict[str, list[FinishedJob]] = {}
    for job in jobs:
        groups.setdefault(job.leather, []).append(job)
    everything = [job for group in groups.values() for job in group]
    rows = [*sorted(groups.items()), *([("", everything)] if everything and set(groups) != {""} else [])]
    return tuple(_summed(leather, group) for leather, group in rows)


def _summed(leather: str, jobs: Sequence[FinishedJob]) -> WorkshopYield:
    net = sum(job.net for job in jobs)
    used = sum(job.really_used for job in jobs)
    promised = sum(job.net / job.planned_yield for job in jobs if job.planned_yield > 0.0)
    return WorkshopYield(
        leather=leather,
        jobs=len({job.id for job in jobs}),
        net=net,
        really_used=used,
        own_yield=net / used,
        planned_yield=net / promised if promised else 0.0,
    )
