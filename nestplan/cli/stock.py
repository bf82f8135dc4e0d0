"""The rack on the command line: `rack`, `cut` and `mark-area`.

Not here: what an offcut keeps of its hide, or how a cut is undone (model), how offcuts are found (yields).
"""

from __future__ import annotations

import datetime
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

if TYPE_CHECKING:
    from nestplan.model import Hide, Plan
    from nestplan.model.job_log import FinishedJob
    from nestplan.model.rack import RackHide

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add `rack`, `cut` and `mark-area`."""

    @app.command(short_help="List the hides of a folder, or its finished jobs.")
    def rack(
        folder: Path = typer.Argument(..., help="The folder of the hide files."),
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
        from nestplan.cli.arguments import length_unit
        from nestplan.errors import InputError
        from nestplan.geometry.units import read_area, read_thickness_range
        from nestplan.model.job_log import JOB_LOG_NAME, read_job_log
        from nestplan.model.rack import matching_hides, read_rack

        length_unit(units)
        if jobs and not folder.is_dir():
            raise InputError(
                "There is no such folder.", file=str(folder), mend="Give the folder of the hide files."
            )
        if jobs:
            _tell_jobs(read_job_log(folder / JOB_LOG_NAME), units, as_json)
            return
        found = read_rack(folder)
        chosen = list(
            matching_hides(
                found.hides,
                leather=leather or (),
                thickness=read_thickness_range(thickness) if thickness else None,
                least_area=read_area(area_from) if area_from else None,
                most_area=read_area(area_to) if area_to else None,
                used=used,
            )
        )
        _tell_rack(folder, chosen, len(found.hides), units, as_json)
        for fault in found.faults:
            typer.echo(f"Left out: {fault}", err=True)
        if found.faults:
            raise typer.Exit(2)

    @app.command(short_help="Book a plan as cut; useful offcuts go back to the rack.")
    def cut(
        plan: Path = typer.Argument(..., help="The plan that was cut (plan.json)."),
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
        from nestplan.model.cut_journal import rack_lock
        from nestplan.model.files import content_hash, read_plan

        the_plan = read_plan(plan)
        cut_id = content_hash(the_plan)
        paths = _hide_paths(plan, the_plan, hide or ())
        folder = rack or _first_folder(the_plan, paths)
        if undo:
            with rack_lock(folder):
                _undo(folder, cut_id)
            return
        least = read_area(offcuts_from) if offcuts_from else 0.0
        with rack_lock(folder):
            _book(plan, the_plan, cut_id, job, paths, folder, really_used or (), note, least)

    @app.command("mark-area", short_help="Keep the seller's area beside the measured one.")
    def mark_area(
        hide: Path = typer.Argument(..., help="The hide file."),
        mark: str = typer.Argument(
            ..., help="What the seller wrote on it: 22.3, 22 3/4, 22.75 ft2, 210 dm2."
        ),
        area_reads: str | None = typer.Option(
            None, "--area-reads", help="tenths or quarters, for a mark such as 22.3."
        ),
    ) -> None:
        """Keep the seller's area of a hide beside the measured one."""
        import msgspec

        from nestplan.cli.asking import area_of_mark
        from nestplan.geometry.units import show_area
        from nestplan.model.files import read_hide, write_hide

        found = read_hide(hide)
        area = area_of_mark(mark, area_reads)
        write_hide(hide, msgspec.structs.replace(found, stated_area=area))
        more = found.gross_area / area - 1.0 if area else 0.0
        typer.echo(
            f"{found.name}: marked {show_area(area, 'ft2')}, measured {show_area(found.gross_area, 'ft2')} "
            f"({more:+.1%})."
        )


def _tell_rack(folder: Path, chosen: list[RackHide], total: int, units: str, as_json: bool) -> None:
    from nestplan.cli.wording import counted
    from nestplan.geometry.units import show_area, show_thickness

    if as_json:
        import msgspec

        rows = [_as_row(entry, folder) for entry in chosen]
        typer.echo(msgspec.json.format(msgspec.json.encode(rows), indent=2).decode())
        return
    square = "ft2" if units == "in" else "dm2"
    table = [("name", "leather", "measured", "marked", "thickness", "flaws", "price", "state")]
    for entry in sorted(chosen, key=lambda each: _by_number(each.hide.name)):
        hide = entry.hide
        thick = "–"
        if hide.thickness is not None:
            shown = [show_thickness(value, "oz" if units == "in" else "mm") for value in hide.thickness]
            thick = shown[0] if shown[0] == shown[1] else f"{shown[0].rsplit(' ', 1)[0]}–{shown[1]}"
        price = "–" if hide.price is None else f"{hide.price:.2f} {hide.currency}".strip()
        stated = "–" if hide.stated_area is None else show_area(hide.stated_area, square)  # type: ignore[arg-type]
        state = f"used: {hide.used}" if hide.used else _history(hide)
        measured = show_area(hide.gross_area, square)  # type: ignore[arg-type]
        table.append((hide.name, hide.leather, measured, stated, thick, str(len(hide.flaws)), price, state))
    _tell_table(table)
    area = sum(entry.hide.gross_area for entry in chosen)
    typer.echo(f"{len(chosen)} of {counted(total, 'hide')}, {show_area(area, square)} together.")  # type: ignore[arg-type]


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


def _tell_jobs(finished: Sequence[FinishedJob], units: str, as_json: bool) -> None:
    from nestplan.cli.wording import counted
    from nestplan.geometry.units import show_area
    from nestplan.model.job_log import workshop_yields

    sums = workshop_yields(finished)
    if as_json:
        import msgspec

        both = {"jobs": finished, "yields": sums}
        typer.echo(msgspec.json.format(msgspec.json.encode(both), indent=2).decode())
        return
    if not finished:
        typer.echo("No job has been booked as cut here yet.")
        return
    square = "ft2" if units == "in" else "dm2"
    table = [("date", "job", "leather", "net", "really used", "own yield", "planned")]
    for job in finished:
        net, really = show_area(job.net, square), show_area(job.really_used, square)  # type: ignore[arg-type]
        own, planned = f"{job.own_yield:.1%}", f"{job.planned_yield:.1%}"
        table.append((job.date[:10], job.job, job.leather, net, really, own, planned))
    _tell_table(table)
    for row in sums:
        typer.echo(
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
        typer.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def _hide_paths(plan: Path, the_plan: Plan, given: Sequence[Path]) -> dict[str, Path]:
    """The file of each hide of a plan: given, or where the plan says, from its own folder."""
    from nestplan.model.files import read_hide

    named = {read_hide(path).name: path for path in given}
    beside = {source.name: Path(os.path.normpath(plan.parent / source.file)) for source in the_plan.hides}
    return {name: named.get(name, path) for name, path in beside.items()}


def _first_folder(the_plan: Plan, paths: dict[str, Path]) -> Path:
    used = [place.hide for place in the_plan.placements]
    return paths[used[0]].parent if used else next(iter(paths.values())).parent


def _undo(folder: Path, cut_id: str) -> None:
    from nestplan.model.cut_journal import undo_cut

    undone = undo_cut(folder, cut_id)
    for change in undone.changes:
        what = "taken away" if change.before is None else "as it was before"
        typer.echo(f"{change.file}: {what}")
    typer.echo(f"The cut of {undone.date[:10]} is undone.")


def _book(
    plan: Path,
    the_plan: Plan,
    cut_id: str,
    job: Path | None,
    paths: dict[str, Path],
    folder: Path,
    really_used: Sequence[str],
    note: str,
    least: float,
) -> None:
    from nestplan.cli.planning import open_plan
    from nestplan.cli.wording import counted
    from nestplan.errors import InputError
    from nestplan.geometry.units import show_area
    from nestplan.model.cut_journal import commit_cut
    from nestplan.model.cut_outcome import outcome_of_cut
    from nestplan.model.files import read_hide
    from nestplan.model.job_log import JOB_LOG_NAME
    from nestplan.model.rack import read_rack
    from nestplan.yields.remaining_leather import remaining_leather

    if not the_plan.placements:
        raise InputError(
            "The plan places nothing, so there is nothing to cut.", file=str(plan), mend="Plan again."
        )
    for name in {place.hide for place in the_plan.placements}:
        used = read_hide(paths[name]).used
        if used:
            raise InputError(
                f"The hide '{name}' was cut up for '{used}' already.",
                file=str(paths[name]),
                mend="Undo that cut first, or plan on other hides.",
            )
    _, the_job, hides = open_plan(plan, job=job, hides=list(paths.values()))
    date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    left = remaining_leather(the_plan, the_job, hides, least_area=least)
    names = {entry.hide.name for entry in read_rack(folder).hides} | set(paths)
    done = outcome_of_cut(
        the_plan,
        {name: (path, hide) for hide in hides for name, path in paths.items() if name == hide.name},
        left.offcuts,
        left.net,
        job=the_job.name,
        plan_hash=cut_id,
        date=date,
        log=folder / JOB_LOG_NAME,
        taken=names,
        really_used=_really_used(really_used),
        note=note,
    )
    commit_cut(folder, cut_id=cut_id, date=date, plan=the_plan.name, files=done.files)
    square: Literal["dm2", "ft2"] = "ft2" if the_job.units == "in" else "dm2"
    for hide in done.used:
        typer.echo(f"{hide.name}: used")
    for path, hide in done.offcuts:
        typer.echo(
            f"{hide.name}: {show_area(hide.gross_area, square)}, {counted(len(hide.flaws), 'flaw')}, in {path}"
        )
    for record in done.records:
        typer.echo(
            f"{record.leather}: {show_area(record.net, square)} of pieces from "
            f"{show_area(record.really_used, square)} of leather, "
            f"own yield {record.own_yield:.1%} (planned {record.planned_yield:.1%})"
        )
    where = "" if folder == _first_folder(the_plan, paths) else f" --rack {folder}"
    typer.echo(f"Take it back with: nestplan cut {plan}{where} --undo")


def _really_used(texts: Sequence[str]) -> dict[str, float]:
    """Areas in mm² by kind of leather; `""` for a figure that names none."""
    from nestplan.geometry.units import read_area

    found = {}
    for text in texts:
        leather, _, area = text.rpartition("=")
        found[leather.strip()] = read_area(area.strip())
    return found
