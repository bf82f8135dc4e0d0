"""The main job on the command line: `plan`, `check` and `demo`.

Not here: how a plan is found (nesting), judged (audit) or drawn (sheets).
"""

from __future__ import annotations

import filecmp
import shutil
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from nestplan.model import Hide, Job, Placement, Plan
    from nestplan.model.goals import HideEdge

__all__ = ["register"]

_EDGES: tuple[HideEdge, ...] = ("neck", "tail", "belly", "backbone")


def register(app: typer.Typer) -> None:
    """Add `plan`, `check` and `demo`."""
    from nestplan.model.goals import COMPLETE, find_goal, goal_names, goals

    @app.command(short_help="Lay a job on hides: what is cut where, and what is left.")
    def plan(
        job: Path = typer.Argument(..., help="The job file (.job.json)."),
        hides: list[Path] = typer.Argument(
            ..., help="Hide files (.hide.json), or folders of them (the rack)."
        ),
        out: Path = typer.Option(
            ..., "--out", help="Folder for plan.json, plan.svg, plan.png and cut-sheet.pdf."
        ),
        seconds: float = typer.Option(10.0, "--seconds", min=0.0, help="How long to look for a better plan."),
        passes: int | None = typer.Option(
            None,
            "--passes",
            min=0,
            help="Bound the search by passes, not the clock: the same seed, the same plan.",
        ),
        seed: int = typer.Option(0, "--seed", min=0, help="Where chance starts; another seed, another plan."),
        goal: str = typer.Option(COMPLETE.name, "--goal", help=f"{_one_of(goal_names())}."),
        toward: str | None = typer.Option(
            None, "--toward", help="With gather: draw the pieces to neck, tail, belly or backbone."
        ),
        keep: Path | None = typer.Option(
            None, "--keep", help="A plan whose locked and already cut pieces stay where they are."
        ),
        workers: int | None = typer.Option(
            None, "--workers", min=1, help="Threads to use; all cores by default."
        ),
        as_json: bool = typer.Option(False, "--json", help="Print the figures alone, as JSON."),
    ) -> None:
        """Plan a job on hides: where every piece lies, on which hide, what is left."""
        from nestplan.cli.arguments import hide_files, need_folder
        from nestplan.errors import InputError
        from nestplan.model.files import read_hides, read_job, read_plan

        chosen = find_goal(goal, place="--goal")
        edge = next((edge for edge in _EDGES if edge == toward), None)
        if toward is not None and (edge is None or not chosen.takes_edge):
            drawing = _one_of([goal.name for goal in goals() if goal.takes_edge])
            raise InputError(
                f"Pieces cannot be drawn toward '{toward}' here.",
                place="--toward",
                mend=f"Use --goal {drawing} with one of {', '.join(_EDGES)}.",
            )
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
            kept = tuple(place for place in read_plan(keep).placements if place.locked or place.done)
        need_folder(out)
        _spare_begun(out / "plan.json", keep)
        made = _search(
            read,
            leather,
            goal=goal,
            seconds=seconds,
            passes=passes,
            seed=seed,
            keep=kept,
            workers=workers,
            toward=edge,
        )
        made = _with_sources(made, job, files, out, stamped=passes is None)
        _deliver(made, read, leather, out, as_json=as_json)

    @app.command(short_help="Judge a plan by a witness of its own.")
    def check(
        plan: Path = typer.Argument(..., help="The plan file (plan.json)."),
        job: Path | None = typer.Option(None, "--job", help="The job file, if it has moved."),
        hide: list[Path] | None = typer.Option(
            None, "--hide", help="A hide file, if it has moved; may be repeated."
        ),
    ) -> None:
        """Judge a plan from its own polygons, independently of how it was made."""
        from nestplan.cli.wording import counted
        from nestplan.model.audit import check as audit

        read, the_job, the_hides = open_plan(plan, job=job, hides=hide or ())
        faults = audit(read, the_job, the_hides)
        for fault in faults:
            typer.echo(f"{plan}: {fault}")
        if faults:
            typer.echo(f"{counted(len(faults), 'fault')}: do not cut from this plan.")
            raise typer.Exit(2)
        used = len({place.hide for place in read.placements})
        typer.echo(
            f"Right: what is placed, {counted(len(read.placements), 'cut')} on {counted(used, 'hide')}, "
            "keeps every rule."
        )
        if read.unplaced:
            typer.echo(f"Without a place: {sum(missing.count for missing in read.unplaced)}.")

    @app.command(short_help="Copy out the demo, an invented pageant, and plan it.")
    def demo(
        folder: Path = typer.Argument(Path("quillmere_demo"), help="Folder to copy the demo's files to."),
        seconds: float = typer.Option(6.0, "--seconds", min=0.0, help="How long to look for a better plan."),
    ) -> None:
        """Copy out the demo (an invented village pageant) and plan it."""
        from nestplan.cli.arguments import need_folder
        from nestplan.model.files import read_hides, read_job
        from nestplan.resources import demo_folder

        need_folder(folder, what="a folder, such as: nestplan demo my_demo")
        _copy_demo(demo_folder(), folder)
        job, hides = folder / "quillmere.job.json", sorted(folder.glob("*.hide.json"))
        read, leather = read_job(job), read_hides(hides)
        out = folder / "plan"
        made = _search(
            read, leather, goal=COMPLETE.name, seconds=seconds, passes=None, seed=0, keep=(), workers=None
        )
        made = _with_sources(made, job, hides, out, stamped=True)
        _deliver(made, read, leather, out, as_json=False)


def _one_of(names: Sequence[str]) -> str:
    """Names as a choice: `a, b or c`."""
    return " or ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _copy_demo(source: Path, folder: Path) -> None:
    """Copy the demo's files into `folder`. Errors: InputError where one is there already and was changed."""
    from nestplan.errors import InputError

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


def _spare_begun(path: Path, keep: Path | None) -> None:
    """Refuse to write over a plan that was worked on by hand, unless it is the one that is kept from."""
    from nestplan.errors import InputError
    from nestplan.model.files import read_plan

    if not path.is_file() or (keep is not None and keep.samefile(path)):
        return
    try:
        begun = any(place.locked or place.done for place in read_plan(path).placements)
    except InputError:
        return
    if begun:
        raise InputError(
            "The plan there has pieces that are locked or already cut.",
            file=str(path),
            mend=f"Keep them with --keep {path}, or choose another folder with --out.",
        )


def open_plan(
    path: Path, *, job: Path | None = None, hides: Sequence[Path] = ()
) -> tuple[Plan, Job, tuple[Hide, ...]]:
    """A plan with the job and hides it was made from, found beside it unless given; hashes are compared.

    Errors: InputError when one is missing or is not the one the plan was made from.
    """
    from nestplan.errors import InputError
    from nestplan.model.files import content_hash, read_hide, read_job, read_plan

    plan = read_plan(path)
    job_path = job or path.parent / plan.job.file
    found_job = read_job(job_path)
    given = {hide.name: (hide, where) for hide, where in ((read_hide(where), where) for where in hides)}
    found = []
    for source in plan.hides:
        hide, where = given.get(source.name) or _hide_beside(path, source.file)
        found.append(hide)
        if source.hash and content_hash(hide) != source.hash:
            raise InputError(
                f"The hide '{source.name}' has changed since the plan was made.",
                file=str(where),
                mend="Plan again, or give the old file with --hide.",
            )
    if plan.job.hash and content_hash(found_job) != plan.job.hash:
        raise InputError(
            "The job has changed since the plan was made.",
            file=str(job_path),
            mend="Plan again, or give the old file with --job.",
        )
    return plan, found_job, tuple(found)


def _hide_beside(plan: Path, file: str) -> tuple[Hide, Path]:
    from nestplan.model.files import read_hide

    where = plan.parent / file
    return read_hide(where), where


def _search(
    job: Job,
    hides: tuple[Hide, ...],
    *,
    goal: str,
    seconds: float,
    passes: int | None,
    seed: int,
    keep: tuple[Placement, ...],
    workers: int | None,
    toward: HideEdge | None = None,
) -> Plan:
    from nestplan.nesting.budget import Cancel
    from nestplan.nesting.nest import nest
    from nestplan.nesting.precompile import is_prepared, prepare
    from nestplan.yields import with_measured_offcuts

    if not is_prepared():
        typer.echo("Preparing the engine for this machine: once, up to a minute.", err=True)
        prepare()
    cancel = Cancel()
    with _stop_on_interrupt(cancel), _progress_line() as observer:
        found = nest(
            job,
            hides,
            goal=goal,
            seconds=None if passes is not None else seconds,
            passes=passes,
            seed=seed,
            keep=keep,
            stop=cancel,
            observer=observer,
            workers=workers,
            toward=toward,
        )
    return with_measured_offcuts(found, job, hides)


@contextmanager
def _stop_on_interrupt(cancel: Any) -> Iterator[None]:
    """While inside, the first Ctrl-C asks for the best plan so far, the second one leaves at once."""

    def ask(_signal: int, _frame: object) -> None:
        if cancel.cancelled:
            raise KeyboardInterrupt
        cancel.cancel()
        typer.echo("\nStopping; the best plan so far is kept.", err=True)

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _progress_line() -> Iterator[Any]:
    """An observer that keeps one live line on standard error: placed, yield, time left."""
    from nestplan.nesting.progress import Observer, Progress

    if not sys.stderr.isatty():
        yield Observer()
        return
    from rich.console import Console

    with Console(stderr=True).status("reading the hides") as status:

        class Line(Observer):
            def on_progress(self, progress: Progress) -> None:
                left = "" if progress.left is None else f", {progress.left:.0f} s left"
                status.update(
                    f"{progress.stage}: {progress.placed} of {progress.asked} placed, "
                    f"{progress.sets} of {progress.sets_asked} sets, cut yield {progress.cut_yield:.1%}{left}"
                )

            on_start = on_stage = on_best = on_progress

        yield Line()


def _with_sources(plan: Plan, job: Path, hides: Sequence[Path], out: Path, *, stamped: bool) -> Plan:
    """The plan with its sources as paths from its own folder, and stamped with the time if the clock bounds it."""
    import datetime
    import os

    import msgspec

    def beside(path: Path) -> str:
        try:
            return Path(os.path.relpath(path.resolve(), out.resolve())).as_posix()
        except ValueError:
            return path.resolve().as_posix()

    sources = tuple(
        msgspec.structs.replace(source, file=beside(path))
        for source, path in zip(plan.hides, hides, strict=True)
    )
    made = datetime.datetime.now().astimezone().isoformat(timespec="seconds") if stamped else ""
    return msgspec.structs.replace(
        plan, job=msgspec.structs.replace(plan.job, file=beside(job)), hides=sources, made=made
    )


def _write(plan: Plan, job: Job, hides: tuple[Hide, ...], out: Path) -> None:
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import write_svg
    from nestplan.errors import InputError
    from nestplan.model.files import write_plan
    from nestplan.sheets import plan_picture, write_cut_sheet

    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"The folder cannot be made: {error.strerror}.",
            file=str(out),
            mend="Choose another folder with --out.",
        ) from error
    write_plan(out / "plan.json", plan)
    picture = plan_picture(plan, job, hides, units=job.units)
    write_svg(picture, out / "plan.svg", title=plan.name)
    write_png(picture, out / "plan.png")
    write_cut_sheet(plan, job, hides, out / "cut-sheet.pdf", units=job.units)


def _deliver(plan: Plan, job: Job, hides: tuple[Hide, ...], out: Path, *, as_json: bool) -> None:
    """The figures at once, then the files; leaves with 3 if something has no place."""
    _tell(plan, job, as_json=as_json)
    sys.stdout.flush()
    _write(plan, job, hides, out)
    typer.echo(f"Written: plan.json, plan.svg, plan.png and cut-sheet.pdf in {out}", err=as_json)
    if plan.unplaced:
        raise typer.Exit(3)


def _tell(plan: Plan, job: Job, *, as_json: bool) -> None:
    """The figures, in words or as JSON on standard output, and what to look at again."""
    from nestplan.cli.wording import figures_in_words, unplaced_in_words

    if as_json:
        import msgspec

        typer.echo(msgspec.json.format(msgspec.json.encode(plan.figures), indent=2).decode())
    else:
        for line in figures_in_words(plan, job):
            typer.echo(line)
    for line in unplaced_in_words(plan):
        typer.echo(line, err=as_json)
    for piece in (piece for article in job.articles for piece in article.pieces):
        for warning in piece.warnings():
            typer.echo(f"Look at it again: {warning}", err=as_json)
