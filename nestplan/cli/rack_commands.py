"""The rack on the command line: `rack`, `cut` and `mark-area`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

from nestplan.cli.terminal import say, say_json, say_repair

if TYPE_CHECKING:
    from nestplan.model import Hide
    from nestplan.model.rack import RackHide
    from nestplan.tasks.cutting import CommittedCut, CutFiles
    from nestplan.tasks.rack import FinishedJobs, RackList

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add `rack`, `cut` and `mark-area`."""
    app.command(short_help="List the hides of a folder, or its finished jobs.")(rack)
    app.command(short_help="Book a plan as cut; useful offcuts go back to the rack.")(cut)
    app.command("mark-area", short_help="Keep the seller's area beside the measured one.")(mark_area)


def rack(
    folder: Path = typer.Argument(..., help="The folder of the hide files."),
    *,
    leather: list[str] | None = typer.Option(None, "--leather", help="Only this kind; may be repeated."),
    thickness: str | None = typer.Option(None, "--thickness", help="Only hides that meet this: 3-4 oz."),
    area_from: str | None = typer.Option(None, "--area-from", help="At least this area: 10 ft2, 90 dm2."),
    area_to: str | None = typer.Option(None, "--area-to", help="At most this area."),
    used: bool = typer.Option(False, "--used", help="Hides that are cut up already, too."),
    jobs: bool = typer.Option(False, "--jobs", help="The finished jobs and the workshop's own yield."),
    units: str = typer.Option("mm", "--units", help="mm (areas in dm²) or in (areas in ft²)."),
    as_json: bool = typer.Option(False, "--json", help="As JSON, areas in mm²."),
) -> None:
    """List the hides of a folder, or its finished jobs."""
    from nestplan.cli.option_values import length_unit
    from nestplan.geometry.units import read_area, read_thickness_range
    from nestplan.tasks.rack import HideWishes, list_finished_jobs, list_rack

    length_unit(units)
    if jobs:
        _tell_jobs(list_finished_jobs(folder, on_repair=say_repair), units, as_json)
        return
    wishes = HideWishes(
        leather=leather or (),
        thickness=read_thickness_range(thickness) if thickness else None,
        least_area=read_area(area_from) if area_from else None,
        most_area=read_area(area_to) if area_to else None,
        used=used,
    )
    found = list_rack(folder, wishes, on_repair=say_repair)
    _tell_rack(found, units, as_json)
    for fault in found.faults:
        say(f"Left out: {fault}", err=True)
    if found.faults:
        raise typer.Exit(2)


def cut(
    plan: Path = typer.Argument(..., help="The plan that was cut (plan.json)."),
    *,
    job: Path | None = typer.Option(None, "--job", help="The job file, if it has moved."),
    hide: list[Path] | None = typer.Option(
        None, "--hide", help="A hide file, if it has moved; may be repeated."
    ),
    rack: Path | None = typer.Option(
        None, "--rack", help="Folder of journal and log; the first hide's own by default."
    ),
    really_used: list[str] | None = typer.Option(
        None,
        "--really-used",
        help="What the job really took, if not hides less offcuts: 31 ft2, or 'cow side=31 ft2'.",
    ),
    note: str = typer.Option("", "--note", help="A word for the log."),
    offcuts_from: str | None = typer.Option(
        None, "--offcuts-from", help="Keep only offcuts of at least this area: 1 dm2, 0.2 ft2."
    ),
    undo: bool = typer.Option(False, "--undo", help="Take this plan's cut back: every file as it was."),
) -> None:
    """Book a plan as cut: its hides are used up, useful offcuts go back to the rack, the job to the
    log."""
    from nestplan.geometry.units import read_area
    from nestplan.tasks.cutting import CutNotes, cut_plan, find_cut

    files = find_cut(plan, job=job, hides=hide or (), rack=rack, on_repair=say_repair)
    if undo:
        _undo(files)
        return
    least = read_area(offcuts_from) if offcuts_from else 0.0
    notes = CutNotes(really_used=_really_used(really_used or ()), least_offcut=least, note=note)
    _tell_cut(cut_plan(files, notes))
    where = "" if files.rack == files.usual_rack else f" --rack {files.rack}"
    say(f"Take it back with: nestplan cut {plan}{where} --undo")


def mark_area(
    hide: Path = typer.Argument(..., help="The hide file."),
    mark: str = typer.Argument(..., help="What the seller wrote on it: 22.3, 22 3/4, 22.75 ft2, 210 dm2."),
    *,
    area_reads: str | None = typer.Option(
        None, "--area-reads", help="tenths or quarters, for a mark such as 22.3."
    ),
) -> None:
    """Keep the seller's area of a hide beside the measured one."""
    from nestplan.cli.option_values import area_of_mark
    from nestplan.geometry.units import show_area
    from nestplan.model.files import read_hide
    from nestplan.tasks.rack import keep_marked_area
    from nestplan.tasks.settling import settle_hides

    settle_hides([hide], say_repair)
    found = read_hide(hide)
    marked = keep_marked_area(hide, area_of_mark(mark, area_reads))
    say(
        f"{found.name}: marked {show_area(marked.stated_area, 'ft2')}, "
        f"measured {show_area(found.gross_area, 'ft2')} ({marked.excess:+.1%})."
    )


def _tell_rack(found: RackList, units: str, as_json: bool) -> None:
    from nestplan.cli.plan_words import counted
    from nestplan.geometry.units import show_area

    if as_json:
        say_json([_as_row(entry, found.folder) for entry in found.hides])
        return
    square = _square(units)
    table = [("name", "leather", "measured", "marked", "thickness", "flaws", "price", "state")]
    for entry in sorted(found.hides, key=lambda each: _by_number(each.hide.name)):
        hide = entry.hide
        thick = _thickness(hide, units)
        price = "–" if hide.price is None else f"{hide.price:.2f} {hide.currency}".strip()
        stated = "–" if hide.stated_area is None else show_area(hide.stated_area, square)
        state = f"used: {hide.used}" if hide.used else _history(hide)
        measured = show_area(hide.gross_area, square)
        table.append((hide.name, hide.leather, measured, stated, thick, str(len(hide.flaws)), price, state))
    _tell_table(table)
    shown = f"{len(found.hides)} of {counted(found.total, 'hide')}"
    say(f"{shown}, {show_area(found.area, square)} together.")


def _thickness(hide: Hide, units: str) -> str:
    from nestplan.geometry.units import show_thickness

    if hide.thickness is None:
        return "–"
    least, most = (show_thickness(value, "oz" if units == "in" else "mm") for value in hide.thickness)
    return least if least == most else f"{least.rsplit(' ', 1)[0]}–{most}"


def _square(units: str) -> Literal["dm2", "ft2"]:
    """The unit of areas that goes with a unit of lengths."""
    return "ft2" if units == "in" else "dm2"


def _history(hide: Hide) -> str:
    if hide.origin is None:
        return ""
    return f"offcut of {hide.origin.parent}" if hide.origin.how == "offcut" else hide.origin.how


def _as_row(entry: RackHide, folder: Path) -> dict[str, object]:
    hide = entry.hide
    return {
        "name": hide.name,
        "file": entry.path.relative_to(folder).as_posix(),
        "hash": entry.hash,
        "leather": hide.leather,
        "measured_area": round(hide.gross_area, 1),
        "stated_area": None if hide.stated_area is None else round(float(hide.stated_area), 1),
        "thickness": None if hide.thickness is None else [float(value) for value in hide.thickness],
        "flaws": len(hide.flaws),
        "price": hide.price,
        "currency": hide.currency,
        "parent": hide.origin.parent if hide.origin else "",
        "used": hide.used,
    }


def _tell_jobs(finished: FinishedJobs, units: str, as_json: bool) -> None:
    from nestplan.cli.plan_words import counted
    from nestplan.geometry.units import show_area

    if as_json:
        say_json({"jobs": finished.jobs, "yields": finished.yields})
        return
    if not finished.jobs:
        say("No job has been booked as cut here yet.")
        return
    square = _square(units)
    table = [("date", "job", "leather", "net", "really used", "own yield", "planned")]
    for job in finished.jobs:
        net, really = show_area(job.net, square), show_area(job.really_used, square)
        own, planned = f"{job.own_yield:.1%}", f"{job.planned_yield:.1%}"
        table.append((job.date[:10], job.job, job.leather, net, really, own, planned))
    _tell_table(table)
    for row in finished.yields:
        say(
            f"{row.leather or 'All leather'}, {counted(row.jobs, 'job')}: "
            f"own yield {row.own_yield:.1%}, planned {row.planned_yield:.1%}"
        )


def _by_number(name: str) -> list[tuple[int, str]]:
    """Sorts `offcut 2` before `offcut 10`."""
    return [(int(part), "") if part.isdigit() else (0, part.lower()) for part in re.split(r"(\d+)", name)]


def _tell_table(table: Sequence[tuple[str, ...]]) -> None:
    """Rows in columns as wide as their widest cell."""
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    for row in table:
        say("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def _undo(files: CutFiles) -> None:
    from nestplan.tasks.cutting import take_back_cut

    undone = take_back_cut(files.rack, files.cut_id, hide_files=files.hide_files.values())
    for change in undone.changes:
        what = "taken away" if change.before is None else "as it was before"
        say(f"{change.file}: {what}")
    say(f"The cut of {undone.date[:10]} is undone.")


def _tell_cut(done: CommittedCut) -> None:
    from nestplan.cli.plan_words import counted
    from nestplan.geometry.units import show_area

    square = _square(done.units)
    for hide in done.used:
        say(f"{hide.name}: used")
    for path, hide in done.offcuts:
        say(
            f"{hide.name}: {show_area(hide.gross_area, square)}, {counted(len(hide.flaws), 'flaw')}, in {path}"
        )
    for record in done.records:
        say(
            f"{record.leather}: {show_area(record.net, square)} of pieces from "
            f"{show_area(record.really_used, square)} of leather, "
            f"own yield {record.own_yield:.1%} (planned {record.planned_yield:.1%})"
        )


def _really_used(texts: Sequence[str]) -> dict[str, float]:
    """Areas in mm² by kind of leather; `""` for a figure that names none."""
    from nestplan.geometry.units import read_area

    found = {}
    for text in texts:
        leather, _, area = text.rpartition("=")
        found[leather.strip()] = read_area(area.strip())
    return found
