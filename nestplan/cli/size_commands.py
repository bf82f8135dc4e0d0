"""One drawn article in other sizes, on the command line: `sizes`."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from nestplan.cli.terminal import say

if TYPE_CHECKING:
    from nestplan.model.piece import Piece
    from nestplan.sheets.unit_formatting import UnitFormatter
    from nestplan.tasks.article_sizes import SizedJob

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command `sizes`."""

    @app.command(short_help="One drawn article in other sizes.")
    def sizes(
        *,
        job: Path = typer.Argument(..., help="The job file (.job.json)."),
        size: list[str] = typer.Option(
            [],
            "--size",
            help='A size by what it adds to the wearer\'s measures: "L: waist +40 mm, length +10 mm, sets 3". '
            "Bare numbers are in the job's unit. May be repeated.",
        ),
        article: str = typer.Option("", "--article", help="The drawn article, where the job has several."),
        drawn: str = typer.Option(
            "", "--drawn", help="What the drawn size is called; its pieces say it then: M."
        ),
        fits: list[str] = typer.Option(
            [], "--fits", help='What the drawn size fits: "waist: 700 mm to 760 mm". May be repeated.'
        ),
        takes: list[str] = typer.Option(
            [],
            "--takes",
            help='Which pieces follow a measure: "waist: front, side (right), back (0.2 0.8), band = 1". In brackets '
            "where it is spread, also as shares of the way across; after = how much of the change it takes.",
        ),
        lengthwise: list[str] = typer.Option(
            [], "--lengthwise", help="A measure that runs lengthwise, not round: torso. May be repeated."
        ),
        seam: list[str] = typer.Option(
            [],
            "--seam",
            help='Edges that meet and stay as long as each other: "front right = side left"; several on a side: "band '
            'bottom = front top + side top"; a part of an outline, counter-clockwise: "sleeve (0,80 to 60,95)".',
        ),
        round_at: str | None = typer.Option(
            None,
            "--round-at",
            help="Where the panels go round the wearer, as a share of their length from below: 1/2. For the range of a "
            "laced article.",
        ),
        rows: str | None = typer.Option(
            None, "--rows", help="What rows of holes keep: as drawn, pitch (their number changes), number."
        ),
        out: Path = typer.Option(..., "--out", help="Job file to write, with an article for each size."),
        replace: bool = typer.Option(False, "--replace", help="Write over a job file that is there."),
    ) -> None:
        """One drawn article in other sizes, each an article of its own.

        Spots and openings keep their size, holes their distances and their place beside the edge, straight edges stay
        straight, and edges that meet stay as long as each other. Sizes made before stay in the file and are made anew;
        without --size nothing is added to them. One piece alone, made larger between lines of your own, is
        'nestplan fit grade'.
        """
        from nestplan.cli.option_values import require_new_file, told_in
        from nestplan.cli.size_words import SizeWords, share_of
        from nestplan.model.files import read_job
        from nestplan.tasks.article_sizes import SizesWish, write_sizes
        from nestplan.tasks.job_edits import article_named

        require_new_file(out, replace)
        read = read_job(job)
        words = SizeWords(read, article_named(read, article))
        asked, sets = words.sizes(size)
        wish = SizesWish(
            article=words.article.name,
            sizes=words.record(asked, words.measures(takes, lengthwise), rows),
            drawn=drawn,
            sets=sets,
            fits=words.fits(fits) or None,
            seams=tuple(words.seam(each) for each in seam),
            round_at=None if round_at is None else share_of(round_at, "--round-at"),
        )
        with told_in(read.units):
            sized = write_sizes(job, out, wish)
        for line in _told(sized):
            say(line)
        say(f"written to {out}")


def _told(sized: SizedJob) -> Iterator[str]:
    """The drawn size and every other, what its pieces measure, and how well its seams meet."""
    from nestplan.cli.plan_words import counted
    from nestplan.estimate.article_sizes import meeting_edges
    from nestplan.sheets.size_words import changes_words, fits_words
    from nestplan.sheets.unit_formatting import UnitFormatter

    formatter = UnitFormatter(sized.job.units)
    sizes = {size.name: size for size in sized.drawn.sizes.others} if sized.drawn.sizes else {}
    for article in (sized.drawn, *(each.article for each in sized.made)):
        told = ["as drawn" if article is sized.drawn else changes_words(sizes[article.size], formatter)]
        told += filter(None, [fits_words(article, formatter)])
        yield f"{article.name}: {'; '.join(told)}; {counted(article.sets, 'set')}"
        yield "  " + ", ".join(_measured(piece, formatter) for piece in article.pieces)
    for name in sized.by_hand:
        yield f"{name}: changed by hand, so it stays as it is; to make it anew, take it out of the job first"
    gap = sized.widest_seam_gap
    if gap is None:
        yield "No seams are recorded, so no edges were compared; --seam says which meet."
    else:
        count = counted(len(meeting_edges(sized.drawn)), "seam")
        yield f"{count} compared in every size: the edges differ by at most {formatter.length(gap)}"


def _measured(piece: Piece, formatter: UnitFormatter) -> str:
    width, height = (piece.ring.max(axis=0) - piece.ring.min(axis=0)).tolist()
    return f"{piece.name} {formatter.size(width, height)}"
