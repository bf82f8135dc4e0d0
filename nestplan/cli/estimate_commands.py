"""Which hide, how many, how much to buy, on the command line: `compare`, `count`, `buy`."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from nestplan.cli import fit_commands
from nestplan.cli.terminal import say, say_repair

if TYPE_CHECKING:
    from nestplan.estimate.planner import EnginePlanner
    from nestplan.model import Job

__all__ = ["register"]

_PASSES = typer.Option(
    0, "--passes", min=0, help="Search passes for each plan: the same seed, the same answer."
)
_SECONDS = typer.Option(None, "--seconds", min=0.0, help="Bound each plan by the clock instead.")
_SEED = typer.Option(0, "--seed", min=0, help="Where chance starts.")
_WORKERS = typer.Option(None, "--workers", min=1, help="Local processes; one for each core by default.")
_SCHEDULER = typer.Option(
    None, "--scheduler", help="Address of a Dask scheduler to work on: tcp://host:8786."
)
_JSON = typer.Option(False, "--json", help="Print the answer as JSON.")


def register(app: typer.Typer) -> None:
    """Add `compare`, `count`, `buy`, and with them `fit …` and `supplies`."""
    app.command(short_help="What each hide gives of a job, ranked.")(compare)
    app.command(short_help="How many sets, belts or straps the hides give.")(count)
    app.command(short_help="How much leather to buy before seeing it.")(buy)
    fit_commands.register(app)


def compare(
    job: Path = typer.Argument(..., help="The job file (.job.json)."),
    hides: list[Path] = typer.Argument(..., help="Hide files, or folders of them (the rack)."),
    *,
    by: str = typer.Option("sets", "--by", help="Rank by sets, cost, yield, offcut or area."),
    cheapest: bool = typer.Option(
        False, "--cheapest", help="Also the cheapest hides that together do the job."
    ),
    tries: int = typer.Option(60, "--tries", min=1, help="Combinations planned at most for --cheapest."),
    out: Path | None = typer.Option(
        None, "--out", help="Folder for compare.csv, compare.json, compare.pdf and compare.png."
    ),
    passes: int = _PASSES,
    seconds: float | None = _SECONDS,
    seed: int = _SEED,
    workers: int | None = _WORKERS,
    scheduler: str | None = _SCHEDULER,
    as_json: bool = _JSON,
    as_csv: bool = typer.Option(False, "--csv", help="Print the table as CSV."),
) -> None:
    """What each hide gives of a job by itself, ranked; and which hides together do it most cheaply."""
    from nestplan.cli.estimate_words import comparison_lines
    from nestplan.cli.option_values import make_folder, one_of, require_folder
    from nestplan.estimate.combine import cheapest as cheapest_hides
    from nestplan.estimate.compare import RANKINGS
    from nestplan.estimate.compare import compare as compare_hides
    from nestplan.estimate.comparison_report import comparison_csv, comparison_json
    from nestplan.model.files import read_job
    from nestplan.tasks.estimating import open_crew, write_comparison
    from nestplan.tasks.opening import read_hides_of

    one_of(by, RANKINGS, "--by")
    if out is not None:
        require_folder(out)
    read, leather, planner = (
        read_job(job),
        read_hides_of(hides, on_repair=say_repair),
        _planner(passes, seconds, seed),
    )
    together = None
    _say_trust(scheduler)
    with open_crew(len(leather), processes=workers, scheduler=scheduler) as crew:
        with _progress("hides compared", len(leather)) as done:
            answers = compare_hides(read, leather, by=by, planner=planner, workers=crew, on_done=done)  # type: ignore[arg-type]
        if cheapest:
            with _progress("combinations planned", None) as done:
                together = cheapest_hides(
                    read, leather, planner=planner, most_tries=tries, workers=crew, on_done=done
                )
    if as_json:
        say(comparison_json(answers, together), lines=True)
    elif as_csv:
        say(comparison_csv(answers), nl=False, lines=True)
    else:
        for line in comparison_lines(answers, together, read.units):
            say(line)
    if out is not None:
        make_folder(out)
        write_comparison(out, read, leather, answers, together, by=by, units=read.units)
        say(f"Written: compare.csv, compare.json, compare.pdf and compare.png in {out}", err=True)


def count(
    files: list[Path] = typer.Argument(
        ..., help="The job file and then the hides; with --strap, the hides alone. Hides may be folders."
    ),
    *,
    ratio: str | None = typer.Option(
        None, "--ratio", help="Mixed sizes, an article's share each: 3:5:2. The job's own sets by default."
    ),
    strap: str | None = typer.Option(
        None, "--strap", help="Count straps of this length × width instead of a job: '44 in x 1 1/2 in'."
    ),
    joins: int = typer.Option(0, "--joins", min=0, help="With --strap: joins that a strap may have."),
    any_way: bool = typer.Option(False, "--any-way", help="With --strap: not only along the backbone."),
    off: list[str] | None = typer.Option(
        None, "--off", help="With --strap: a region to stay off, the belly by default; may be repeated."
    ),
    anywhere: bool = typer.Option(False, "--anywhere", help="With --strap: on every region, the belly too."),
    firmness: int = typer.Option(
        1,
        "--firmness",
        help="With --strap: only where the leather is at least so firm, 1 to 5.",
    ),
    together: bool = typer.Option(True, "--together/--no-together", help="Also on all hides at once."),
    passes: int = _PASSES,
    seconds: float | None = _SECONDS,
    seed: int = _SEED,
    workers: int | None = _WORKERS,
    scheduler: str | None = _SCHEDULER,
    as_json: bool = _JSON,
) -> None:
    """How many sets, belts or straps each hide gives: surely, by a plan that was checked, and at most."""
    from nestplan.cli.estimate_words import count_lines, strap_places_words
    from nestplan.errors import InputError
    from nestplan.estimate.count import count as count_sets
    from nestplan.estimate.job_variants import STRAPS_OFF, read_ratio
    from nestplan.model.files import read_job
    from nestplan.tasks.estimating import count_tasks, counts_json, open_crew
    from nestplan.tasks.opening import read_hides_of

    if strap is not None:
        regions = () if anywhere else tuple(off or STRAPS_OFF)
        read, paths = _strap_job(strap, joins, any_way, regions, firmness), files
    else:
        if len(files) < 2:
            raise InputError(
                "A count needs a job and a hide.", mend="Name the job file and then the hide files."
            )
        read, paths = read_job(files[0]), files[1:]
    try:
        shares = None if ratio is None else read_ratio(ratio, read)
    except InputError as error:
        raise error.within("--ratio") from None
    leather = read_hides_of(paths, on_repair=say_repair)
    tasks = count_tasks(leather, together)
    _say_trust(scheduler)
    with (
        open_crew(tasks, processes=workers, scheduler=scheduler) as crew,
        _progress("counted", tasks) as done,
    ):
        counts = count_sets(
            read,
            leather,
            ratio=shares,
            together=together,
            planner=_planner(passes, seconds, seed),
            workers=crew,
            on_done=done,
        )
    if as_json:
        say(counts_json(counts), lines=True)
        return
    for line in count_lines(counts):
        say(line)
    if strap is not None:
        say(strap_places_words(regions, firmness))


def buy(
    job: Path = typer.Argument(..., help="The job file (.job.json)."),
    *,
    kind: str = typer.Option(..., "--kind", help="Kind of hide: cow-side, double-shoulder, sheep …"),
    sets: int | None = typer.Option(
        None, "--sets", min=1, help="Sets wanted in all, shared out as the job's own are; those by default."
    ),
    layer: str | None = typer.Option(None, "--layer", help="The layer to buy for, where that is not clear."),
    area: str | None = typer.Option(None, "--area", help="Usual area of a hide: 22 ft2, 210 dm2."),
    length: str | None = typer.Option(
        None, "--length", help="Instead of the area, the usual length along the backbone: 900 mm, 36 in."
    ),
    price: float | None = typer.Option(
        None, "--price", min=0.0, help="Money for a square foot of marked area."
    ),
    currency: str = typer.Option("", "--currency", help="Name of the money."),
    like: list[Path] | None = typer.Option(
        None,
        "--like",
        help="Hide files or folders of the workshop to measure the kind from; may be repeated.",
    ),
    change: list[str] | None = typer.Option(
        None, "--set", help="Change a figure: area_spread=0.12, grain.per_m2=3; may be repeated."
    ),
    enough: float = typer.Option(
        90.0, "--enough", min=1.0, max=99.9, help="Advise what is enough in so many of 100 purchases."
    ),
    trials: int = typer.Option(100, "--trials", min=10, help="Purchases simulated: more are surer."),
    draws: int | None = typer.Option(None, "--draws", hidden=True),
    out: Path | None = typer.Option(None, "--out", help="Folder for buy.json, buy.svg and buy.png."),
    passes: int = _PASSES,
    seconds: float | None = _SECONDS,
    seed: int = _SEED,
    workers: int | None = _WORKERS,
    scheduler: str | None = _SCHEDULER,
    as_json: bool = _JSON,
) -> None:
    """How much leather to buy for a job before seeing it, from simulated hides of a kind."""
    from nestplan.cli.estimate_words import buy_lines, buy_notes, mark_words
    from nestplan.cli.option_values import make_folder, require_folder
    from nestplan.errors import InputError
    from nestplan.estimate.buy import buy as buy_hides
    from nestplan.model.files import read_job
    from nestplan.tasks.estimating import open_crew, purchase_json, purchase_plot, write_purchase
    from nestplan.tasks.hide_kinds import hide_kind
    from nestplan.tasks.opening import read_hides_of

    if draws is not None:
        raise InputError(
            "'--draws' is called '--trials' now.", mend=f"Say --trials {draws}.", place="--draws"
        )
    if out is not None:
        require_folder(out)
    read = read_job(job)
    chosen = hide_kind(
        kind,
        area=area,
        length=length,
        price=price,
        currency=currency,
        like=read_hides_of(like, on_repair=say_repair) if like else (),
        changes=change or (),
    )
    _say_trust(scheduler)
    with (
        open_crew(trials, processes=workers, scheduler=scheduler) as crew,
        _progress("trials", trials) as done,
    ):
        estimate = buy_hides(
            read,
            chosen,
            sets=sets,
            layer=layer,
            trials=trials,
            share=enough / 100.0,
            seed=seed,
            planner=_planner(passes, seconds, seed),
            workers=crew,
            on_done=done,
        )
    if as_json:
        say(purchase_json(estimate), lines=True)
    else:
        for line in buy_lines(estimate, read.units):
            say(line)
    if out is not None:
        plot = purchase_plot(
            estimate,
            units=read.units,
            mark_words=lambda figure: mark_words(figure, read.units),
            notes=buy_notes(estimate, read.units),
        )
        make_folder(out)
        write_purchase(out, estimate, plot)
        say(f"Written: buy.json, buy.svg and buy.png in {out}", err=True)


def _say_trust(scheduler: str | None) -> None:
    """Tell whom the user trusts with this machine by giving a scheduler's address."""
    if scheduler is not None:
        how = "is encrypted" if scheduler.startswith("tls:") else "is not encrypted (tls:// is)"
        say(
            f"Whoever runs the cluster at {scheduler} gets your job and hides and can act as you here; "
            f"the way to it {how}.",
            err=True,
        )


def _planner(passes: int, seconds: float | None, seed: int) -> EnginePlanner:
    from nestplan.estimate.planner import EnginePlanner

    return EnginePlanner(passes=passes, seconds=seconds, seed=seed)


def _strap_job(text: str, joins: int, any_way: bool, off: tuple[str, ...], firmness: int) -> Job:
    from nestplan.errors import InputError
    from nestplan.estimate.job_variants import strap_job
    from nestplan.geometry.units import read_length

    parts = [part.strip() for part in text.replace("×", "x").split("x")]
    if len(parts) != 2:
        raise InputError(
            f"'{text}' is no strap.", place="--strap", mend="Give length x width, such as '44 in x 1 1/2 in'."
        )
    unit = re.search(r"[a-z\"″”'′’]+\.?$", parts[1], re.IGNORECASE)
    if unit and not re.search(r"[a-z\"″”'′’]", parts[0], re.IGNORECASE):
        # '44 x 1 1/2 in': both figures are inches.
        parts[0] += f" {unit.group()}"
    length, width = (read_length(part) for part in parts)
    return strap_job(length, width, joins=joins, along_backbone=not any_way, off=off, least_firmness=firmness)


@contextmanager
def _progress(what: str, total: int | None) -> Iterator[Callable[[int, Any], None]]:
    """Told of every finished task, keeps one live line on standard error; silent where that is no terminal."""
    finished = 0
    if not sys.stderr.isatty():
        yield lambda number, answer: None
        return
    from rich.console import Console

    with Console(stderr=True).status(f"{what}: 0") as status:

        def done(number: int, answer: Any) -> None:
            nonlocal finished
            finished += 1
            status.update(f"{what}: {finished}" + (f" of {total}" if total else ""))

        yield done
