"""A job changed or costed: a piece graded in it, and what it needs besides leather."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.errors import InputError
from nestplan.model.files import read_job, read_plan, write_job
from nestplan.model.job import Job
from nestplan.tasks.job_edits import with_piece

if TYPE_CHECKING:
    from nestplan.estimate.grading import SizeChange
    from nestplan.estimate.supplies import CostPerSet, ShoppingList
    from nestplan.model.plan import Figures

__all__ = ["JobNeeds", "grade_job_file", "needs_of_job"]


@dataclass(frozen=True)
class JobNeeds:
    """What a job needs; with a plan also its figures, and what a set of each article costs, in `currency`."""

    job: Job
    supplies: ShoppingList
    costs: tuple[CostPerSet, ...] = ()
    currency: str = ""
    figures: Figures | None = None


def needs_of_job(job: Path, *, plan: Path | None = None) -> JobNeeds:
    """What the job in a file needs, and what its sets cost on the leather of a `plan` of it.

    Raises InputError if a file cannot be read, or the plan places what the job does not have.
    """
    from nestplan.estimate.supplies import cost_per_set, leather_shares, shopping_list

    read = read_job(job)
    supplies = shopping_list(read)
    if plan is None:
        return JobNeeds(read, supplies)
    made = read_plan(plan)
    known = {piece.name for article in read.articles for piece in article.pieces}
    known |= {strip.name for article in read.articles for strip in article.strips}
    strange = next((placed.name for placed in made.placements if placed.name not in known), None)
    if strange is not None:
        raise InputError(
            f"The plan places '{strange}', which the job does not have.",
            file=str(plan),
            mend="Give the plan of this job, or plan the job again.",
        )
    currency = made.figures.currency if made.figures is not None else ""
    costs = cost_per_set(read, made.figures, leather_shares(read, made))
    return JobNeeds(read, supplies, costs, currency, made.figures)


def grade_job_file(file: Path, out: Path, *, piece: str, stretch: SizeChange) -> Job:
    """Write the job in `file` to `out`, with one piece made larger or smaller.

    Raises InputError if the job has no such piece or a file cannot be read or written.
    """
    from nestplan.estimate.grading import grade_piece

    job = read_job(file)
    names = [each.name for article in job.articles for each in article.pieces]
    if piece not in names:
        raise InputError(
            f"No piece is called '{piece}'.",
            file=str(file),
            mend="Take one of: " + ", ".join(f"'{name}'" for name in names) + ".",
        )
    graded = with_piece(job, piece, grade_piece(job.piece(piece), [stretch]))
    write_job(out, graded)
    return graded
