"""The main job on the command line: `plan`, `check` and `demo`."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from nestplan.cli.terminal import say, say_json, say_repair
from nestplan.model.goals import COMPLETE, GOALS, HIDE_EDGES, HideEdge, find_goal

if TYPE_CHECKING:
    from nestplan.model import Job, Plan
    from nestplan.nesting.budget import StopRule
    from nestplan.tasks.planning import PlanInputs, SearchRequest

__all__ = ["register"]

_GOAL_OPTION = typer.Option(COMPLETE.name, "--goal")


def register(app: typer.Typer) -> None:
    """Add `plan`, `check` and `demo`, with the goals there are now."""
    _GOAL_OPTION.help = f"{_as_choice(GOALS.names)}."
    app.command(short_help="Lay a job on hides: what is cut where, and what is left.")(plan)
    app.command(short_help="Check a plan a second time, independently.")(check)
    app.command(short_help="Copy out the demo, an invented pageant, and plan it.")(demo)


def plan(
    job: Path = typer.Argument(..., help="The job file (.job.json)."),
    hides: list[Path] = typer.Argument(..., help="Hide files (.hide.json), or folders of them (the rack)."),
    *,
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
    goal: str = _GOAL_OPTION,
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
    from nestplan.cli.option_values import require_folder
    from nestplan.tasks.planning import SearchRequest, read_inputs

    edge = _edge_for(goal, toward)
    inputs = read_inputs(job, hides, keep=keep, on_repair=say_repair)
    require_folder(out)
    _spare_work_by_hand(out / "plan.json", keep)
    request = SearchRequest(
        goal=goal, seconds=seconds, passes=passes, seed=seed, keep=inputs.keep, toward=edge, workers=workers
    )
    _plan_into(inputs, request, out, as_json=as_json)


def check(
    plan: Path = typer.Argument(..., help="The plan file (plan.json)."),
    *,
    job: Path | None = typer.Option(None, "--job", help="The job file, if it has moved."),
    hide: list[Path] | None = typer.Option(
        None, "--hide", help="A hide file, if it has moved; may be repeated."
    ),
) -> None:
    """Judge a plan from its own polygons, independently of how it was made."""
    from nestplan.cli.plan_words import counted
    from nestplan.tasks.checking import check_plan_file

    checked = check_plan_file(plan, job=job, hides=hide or (), on_repair=say_repair)
    for fault in checked.faults:
        say(f"{plan}: {fault}")
    if checked.faults:
        say(f"{counted(len(checked.faults), 'fault')}: do not cut from this plan.")
        raise typer.Exit(2)
    placements = checked.plan.placements
    used = len({placement.hide for placement in placements})
    say(
        f"Right: what is placed, {counted(len(placements), 'cut')} on {counted(used, 'hide')}, keeps every rule."
    )
    if checked.plan.unplaced:
        say(f"Without a place: {sum(missing.count for missing in checked.plan.unplaced)}.")


def demo(
    folder: Path = typer.Argument(Path("quillmere_demo"), help="Folder to copy the demo's files to."),
    *,
    seconds: float = typer.Option(10.0, "--seconds", min=0.0, help="How long to look for a better plan."),
) -> None:
    """Copy out the demo (an invented village pageant) and plan it."""
    from nestplan.cli.option_values import require_folder
    from nestplan.tasks.planning import SearchRequest, copy_demo, read_inputs

    require_folder(folder, instead="a folder, such as: nestplan demo my_demo")
    inputs = read_inputs(*copy_demo(folder))
    _plan_into(inputs, SearchRequest(seconds=seconds), folder / "plan", as_json=False)


def _edge_for(goal: str, toward: str | None) -> HideEdge | None:
    """The edge of the hide that pieces are drawn toward.

    Raises InputError if there is no such goal or edge, or the goal takes none.
    """
    from nestplan.errors import InputError

    chosen = find_goal(goal, place="--goal")
    edge = next((edge for edge in HIDE_EDGES if edge == toward), None)
    if toward is not None and (edge is None or not chosen.takes_edge):
        drawing = _as_choice([each.name for each in GOALS if each.takes_edge])
        raise InputError(
            f"Pieces cannot be drawn toward '{toward}' here.",
            place="--toward",
            mend=f"Use --goal {drawing} with one of {', '.join(HIDE_EDGES)}.",
        )
    return edge


def _as_choice(names: Sequence[str]) -> str:
    """Names as a choice: `a, b or c`."""
    return " or ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _spare_work_by_hand(path: Path, keep: Path | None) -> None:
    """Refuse to write over a plan that was worked on by hand, unless it is the one that is kept from."""
    from nestplan.errors import InputError
    from nestplan.tasks.planning import has_work_by_hand

    if keep is not None and path.is_file() and keep.samefile(path):
        return
    if has_work_by_hand(path):
        raise InputError(
            "The plan there has pieces that are locked or already cut.",
            file=str(path),
            mend=f"Keep them with --keep {path}, or choose another folder with --out.",
        )


def _plan_into(inputs: PlanInputs, request: SearchRequest, out: Path, *, as_json: bool) -> None:
    """Search, print the figures at once, write the files; leaves with 3 if something has no place."""
    from nestplan.cli.progress_line import progress_line
    from nestplan.tasks.planning import prepare_engine, search_plan, with_sources, write_plan_folder

    prepare_engine(lambda: say("Preparing the engine for this machine: once, a minute or two.", err=True))
    with _stop_on_interrupt() as stop, progress_line() as observer:
        found = search_plan(inputs.job, inputs.hides, request, stop=stop, observer=observer)
    made = with_sources(found, inputs, out, stamped=request.passes is None)
    _tell(made, inputs.job, as_json=as_json)
    say(observer.ending_in_words, err=True)
    sys.stdout.flush()
    write_plan_folder(made, inputs.job, inputs.hides, out)
    say(f"Written: plan.json, plan.svg, plan.png and cut-sheet.pdf in {out}", err=as_json)
    if made.unplaced:
        raise typer.Exit(3)


@contextmanager
def _stop_on_interrupt() -> Iterator[StopRule]:
    """A rule that stops when Ctrl-C is pressed: once for the best plan so far, twice to leave at once."""
    from nestplan.nesting.budget import Cancel

    cancel = Cancel()

    def ask(_signal: int, _frame: object) -> None:
        if cancel.cancelled:
            raise KeyboardInterrupt
        cancel.cancel()
        say("", err=True)
        say("Stopping; the best plan so far is kept.", err=True)

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield cancel
    finally:
        signal.signal(signal.SIGINT, before)


def _tell(plan: Plan, job: Job, *, as_json: bool) -> None:
    """The figures, in words or as JSON on standard output, and what to look at again."""
    from nestplan.cli.plan_words import figures_in_words, unplaced_in_words
    from nestplan.sheets.mate_words import far_mate_warnings, mates_sentence
    from nestplan.sheets.unit_formatting import UnitFormatter
    from nestplan.tasks.article_sizes import sizes_astray

    formatter = UnitFormatter(job.units)
    if as_json:
        say_json(plan.figures)
    else:
        for line in (*figures_in_words(plan, job), mates_sentence(plan, job, formatter)):
            if line:
                say(line)
    for line in unplaced_in_words(plan, job):
        say(line, err=as_json)
    for piece in (piece for article in job.articles for piece in article.pieces):
        for warning in piece.warnings(job.units):
            say(f"Look at it again: {warning}", err=as_json)
    for warning in far_mate_warnings(plan, job, formatter):
        say(f"Look at it again: {warning}", err=as_json)
    for astray in sizes_astray(job):
        say(f"Look at it again: {astray}", err=as_json)
