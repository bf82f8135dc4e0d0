"""What a cut makes of its hides: used ones marked, offcuts as new hides, lines for the log.

Nothing is written here: `outcome_of_cut` gives the texts of all files, and `cut_journal` writes them in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec
import shapely

from nestplan.errors import InputError
from nestplan.geometry.ring import to_polygon
from nestplan.model.files import content_hash, to_text
from nestplan.model.hide import Hide
from nestplan.model.job_log import FinishedHide, FinishedJob, job_log_text
from nestplan.model.plan import Placement, Plan
from nestplan.model.rack import file_name_for, offcut_hides

__all__ = ["CutOutcome", "outcome_of_cut"]

_SHARED = 1.0
"""mm² that an offcut may share with what was cut: rounding in files (0.1 µm) along long edges."""


@dataclass(frozen=True)
class CutOutcome:
    """The outcome of a cut: `files` to write (path, text), the hides used, offcuts with paths, log
    records."""

    files: tuple[tuple[Path, str], ...]
    used: tuple[Hide, ...]
    offcuts: tuple[tuple[Path, Hide], ...]
    records: tuple[FinishedJob, ...]


def outcome_of_cut(
    plan: Plan,
    hides: Mapping[str, tuple[Path, Hide]],
    offcuts: Mapping[str, Sequence[shapely.Polygon]],
    net: Mapping[str, float],
    *,
    job: str,
    plan_hash: str,
    date: str,
    log: Path,
    taken: Iterable[str] = (),
    really_used: Mapping[str, float] | None = None,
    note: str = "",
) -> CutOutcome:
    """What becomes of the hides that `plan` places something on.

    `hides` gives each hide and its file by name, `offcuts` the useful leavings by hide (hide coordinates, mm),
    `net` the area of finished pieces and strips by hide (mm²). `really_used` (mm²) by kind of leather replaces
    hides less offcuts in the log; the key `""` stands for the only kind there is. Raises InputError if an
    offcut lies off its hide or on what was cut, or `really_used` names a leather that the plan does not use.
    """
    placed: dict[str, list[Placement]] = {}
    for placement in plan.placements:
        placed.setdefault(placement.hide, []).append(placement)
    names = set(taken)
    files: list[tuple[Path, str]] = []
    used: list[Hide] = []
    made: list[tuple[Path, Hide]] = []
    left: dict[str, float] = {}
    for name, placements in placed.items():
        path, hide = hides[name]
        polygons = offcuts.get(name, ())
        _check_clear(name, polygons, placements)
        children = offcut_hides(
            hide, polygons, parent_hash=content_hash(hide), plan_hash=plan_hash, date=date, taken=names
        )
        names |= {child.name for child in children}
        gone = msgspec.structs.replace(hide, used=plan.name)
        used.append(gone)
        files.append((path, to_text(gone)))
        for child in children:
            target = file_name_for(child.name, path.parent, [other for other, _ in files])
            files.append((target, to_text(child)))
            made.append((target, child))
        left[name] = sum(child.gross_area for child in children)
    records = _records(
        plan,
        placed,
        hides,
        left=left,
        net=net,
        job=job,
        plan_hash=plan_hash,
        date=date,
        really_used=really_used or {},
        note=note,
    )
    files.append((log, job_log_text(log, records)))
    return CutOutcome(tuple(files), tuple(used), tuple(made), tuple(records))


def _check_clear(name: str, polygons: Sequence[shapely.Polygon], placements: Sequence[Placement]) -> None:
    cut = shapely.union_all([to_polygon(placement.cut_ring) for placement in placements])
    for polygon in polygons:
        if shapely.intersection(polygon, cut).area > _SHARED:
            raise InputError(
                f"An offcut of '{name}' covers something that was cut.", mend="Plan again, or check the plan."
            )


def _records(
    plan: Plan,
    placed: Mapping[str, Sequence[Placement]],
    hides: Mapping[str, tuple[Path, Hide]],
    *,
    left: Mapping[str, float],
    net: Mapping[str, float],
    job: str,
    plan_hash: str,
    date: str,
    really_used: Mapping[str, float],
    note: str,
) -> list[FinishedJob]:
    """One record for each kind of leather, since yields of one say nothing about another."""
    kinds: dict[str, list[str]] = {}
    for name in placed:
        kinds.setdefault(hides[name][1].leather, []).append(name)
    told = dict(really_used)
    if "" in told and len(kinds) == 1:
        told[next(iter(kinds))] = told.pop("")
    unknown = set(told) - set(kinds)
    if unknown:
        named = ", ".join(each or "no kind" for each in sorted(unknown))
        raise InputError(
            f"The plan uses {', '.join(kinds)}; a figure is given for {named}.",
            mend="Say 'LEATHER=AREA' for each kind of leather.",
            place="really used",
        )
    records = []
    for leather, names in kinds.items():
        gross = sum(hides[name][1].gross_area for name in names)
        kept = sum(left[name] for name in names)
        things = [placement for name in names for placement in placed[name]]
        finished = sum(net[name] for name in names)
        records.append(
            FinishedJob(
                id=plan_hash,
                date=date,
                plan=plan.name,
                plan_hash=plan_hash,
                job=job,
                leather=leather,
                hides=tuple(_finished_hide(hides[name][1]) for name in names),
                pieces=len(things),
                net=finished,
                gross=gross,
                offcuts=kept,
                really_used=told.get(leather, gross - kept),
                planned_yield=finished / (gross - kept) if gross > kept else 0.0,
                note=note,
            )
        )
    return records


def _finished_hide(hide: Hide) -> FinishedHide:
    return FinishedHide(
        name=hide.name,
        hash=content_hash(hide),
        leather=hide.leather,
        gross=hide.gross_area,
        # A plain number: in the log areas are mm², in a hide's file a text with its unit.
        stated=None if hide.stated_area is None else float(hide.stated_area),
        price=hide.price,
    )
