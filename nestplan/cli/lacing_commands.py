"""Rows of holes and laced joins of a job on the command line: `row` and `lacing`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from nestplan.cli.terminal import say

if TYPE_CHECKING:
    from nestplan.model import Article, Job, Piece
    from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["register"]

_OUT = typer.Option(
    None, "--out", help="Write the changed job here; it is written to its own file otherwise."
)
_REPLACE = typer.Option(False, "--replace", help="Write over a file that is there.")


def register(app: typer.Typer) -> None:
    """Add `row` and `lacing`."""
    app.command(short_help="Rows of holes, slits or spots on a piece: list, add, change.")(row)
    app.command(short_help="Laced joins and edges of a job: list, add, change; how much lace.")(lacing)


def row(
    job: Path = typer.Argument(..., help="The job file (.job.json)."),
    piece: str | None = typer.Argument(None, help="The piece; left out, the rows of all are listed."),
    name: str | None = typer.Argument(None, help="The row; left out, the piece's rows are listed."),
    *,
    start: str | None = typer.Option(
        None, "--from", help="Where it starts: x,y on the piece, or 'lower right', 'upper middle', 'left' …"
    ),
    end: str | None = typer.Option(
        None, "--to", help="Where it ends; along the edge it goes the shorter way, unless it is said which."
    ),
    whole: bool = typer.Option(False, "--round", help="All the way round, from --from on."),
    clockwise: bool | None = typer.Option(
        None, "--clockwise/--counter-clockwise", help="Which way along the edge, if not the shorter."
    ),
    line: bool | None = typer.Option(
        None, "--line/--edge", help="Straight from --from to --to, or along the edge."
    ),
    inset: str | None = typer.Option(None, "--inset", help="From the edge to the middle of each mark."),
    pitch: str | None = typer.Option(None, "--pitch", help="From mark to mark: 18 mm, 11/16 in."),
    number: int | None = typer.Option(None, "--number", help="How many, instead of a pitch."),
    ends: str | None = typer.Option(None, "--ends", help="Kept free at each end at least."),
    kind: str | None = typer.Option(None, "--kind", help="punch, slit or mark."),
    size: str | None = typer.Option(None, "--size", help="Diameter of a hole, length of a slit."),
    angle: float | None = typer.Option(None, "--angle", help="Of a slit: 0 along the row, 90 across."),
    what: str | None = typer.Option(None, "--for", help="What goes there: eyelet 5 mm."),
    layer: list[str] | None = typer.Option(None, "--layer", help="Only this layer; may be repeated."),
    when: str | None = typer.Option(None, "--when", help="before gluing or after trimming."),
    remove: bool = typer.Option(False, "--remove", help="Remove the row."),
    out: Path | None = _OUT,
    replace: bool = _REPLACE,
) -> None:
    """Rows of holes, slits or spots on a piece: list them, add one along the edge, change or remove it as one thing.

    Bare numbers are in the job's unit.
    """
    from nestplan.cli.option_values import require_new_file, told_in
    from nestplan.model.files import read_job
    from nestplan.tasks.laced_work import put_row, remove_row

    if piece is None or name is None:
        _need_name(remove or start or end or pitch or number or size, "PIECE NAME", "front eyelets")
        _list_rows(job, piece)
        return
    if out is not None:
        require_new_file(out, replace)
    before = read_job(job)
    if remove:
        remove_row(job, piece, name, out=out)
        _tell_sizes(before, out or job)
        say(f"Taken away: {name} of {piece}. Written: {out or job}")
        return
    given: dict[str, Any] = {
        "clockwise": clockwise,
        "along": None if line is None else ("line" if line else "edge"),
        "inset": _length(inset, before),
        "pitch": _length(pitch, before),
        "number": number,
        "ends": _length(ends, before),
        "angle": angle,
        "what": what,
        "layers": tuple(layer) if layer else None,
        "when": when,
    }
    given |= _spots(before, piece, start, end) | _kind(before, piece, name, kind, _length(size, before))
    fields = {key: value for key, value in given.items() if value is not None}
    if whole:
        fields["end"] = None
    elif clockwise is None:
        fields |= _shorter_way(before, piece, name, fields)
    with told_in(before.units):
        changed = put_row(job, piece, name, fields, out=out)
    formatter = _formatter(changed.job)
    say(_row_in_words(changed.piece, name, formatter))
    for other, which in changed.followed:
        say(f"laced to it, and so with as many holes now: {which} of {other}")
    for warning in changed.piece.warnings(changed.job.units):
        say(f"look at it again: {warning}")
    _tell_sizes(before, out or job)
    say(f"Written: {out or job}")


def lacing(
    job: Path = typer.Argument(..., help="The job file (.job.json)."),
    name: str | None = typer.Argument(None, help="The laced join or edge; left out, all are listed."),
    *,
    rows: list[str] | None = typer.Option(
        None, "--row", help="PIECE:ROW; twice, or once for a pair laced to its mate, or for an edge."
    ),
    skip: list[str] | None = typer.Option(None, "--skip", help="Holes left out of each --row in turn: 3,5."),
    edge: bool = typer.Option(False, "--edge", help="A laced edge instead of a join."),
    path: str | None = typer.Option(None, "--path", help="criss-cross, straight bar, ladder or spiral."),
    stitch: str | None = typer.Option(None, "--stitch", help="Of an edge: running, whip, single loop …"),
    gap: str | None = typer.Option(None, "--gap", help="Between the edges as worn."),
    closed: str | None = typer.Option(None, "--closed", help="Between the edges at the least."),
    widest: str | None = typer.Option(None, "--widest", help="Between the edges at the most."),
    spread: str | None = typer.Option(None, "--spread", help="How much wider at the last pair."),
    finish: str | None = typer.Option(None, "--finish", help="bow or hidden: how the ends are made fast."),
    tail: str | None = typer.Option(None, "--tail", help="Left at each end."),
    count: int | None = typer.Option(None, "--count", help="How many times in a set."),
    lace: str | None = typer.Option(None, "--lace", help="Cut the lace from the job's leather, this wide."),
    lace_layer: str = typer.Option("", "--lace-layer", help="The layer whose leather it is cut from."),
    around: list[str] | None = typer.Option(
        None, "--around", help="A piece that goes round the wearer, by its width at half height; repeat."
    ),
    remove: bool = typer.Option(False, "--remove", help="Remove it; its lace keeps the length."),
    out: Path | None = _OUT,
    replace: bool = _REPLACE,
) -> None:
    """Laced joins and edges of a job: list, add, change; how much lace each takes, and what the wearer may measure.

    Bare numbers are in the job's unit.
    """
    from nestplan.cli.option_values import require_new_file, told_in
    from nestplan.model.files import read_job
    from nestplan.tasks.laced_work import LaceWish, put_around, put_laced, remove_laced

    if out is not None and (name is not None or around):
        require_new_file(out, replace)
    if name is None:
        _need_name(remove or rows or edge or path or gap or lace, "NAME", "front")
        read = put_around(job, around, out=out) if around else read_job(job)
        _tell_lacing(
            read, [article for article in read.articles if article.laced_joins or article.laced_edges]
        )
        return
    before = read_job(job)
    if remove:
        remove_laced(job, name, around=around or (), out=out)
        _tell_sizes(before, out or job)
        say(f"Taken away: {name}. Written: {out or job}")
        return
    given = _laced_rows(rows, skip or [], edge)
    options = {
        "path": path,
        "stitch": stitch,
        "gap": _length(gap, before),
        "closed": _length(closed, before),
        "widest": _length(widest, before),
        "spread": _length(spread, before),
        "finish": _finish(finish),
        "tail": _length(tail, before),
        "count": count,
    }
    given |= {key: value for key, value in options.items() if value is not None}
    wish = None if lace is None else LaceWish(_length(lace, before) or 0.0, lace_layer)
    with told_in(before.units):
        changed, article = put_laced(job, name, given, edge=edge, lace=wish, around=around or (), out=out)
    _tell_lacing(changed, [article])
    _tell_sizes(before, out or job)
    say(f"Written: {out or job}")


def _tell_sizes(before: Job, file: Path) -> None:
    """What the change did to sizes that are made from a drawn one."""
    from nestplan.model.files import read_job
    from nestplan.tasks.article_sizes import sizes_let_go

    for each in sizes_let_go(before, read_job(file)):
        say(f"look at it again: {each}")


def _need_name(asked: object, what: str, example: str) -> None:
    """Refuse to list where something was to be changed, but it was not said what."""
    from nestplan.errors import InputError

    if asked:
        raise InputError(
            "It is not said what it is called.", place=what, mend=f"Name it, such as: {example}."
        )


def _list_rows(file: Path, piece: str | None) -> None:
    from nestplan.model.files import read_job
    from nestplan.tasks.job_edits import article_of_piece

    job = read_job(file)
    if piece is not None:
        article_of_piece(job, piece)
    names = [each.name for article in job.articles for each in article.pieces] if piece is None else [piece]
    formatter = _formatter(job)
    told = [
        _row_in_words(job.piece(each), one.name, formatter) for each in names for one in job.piece(each).rows
    ]
    for words in told or ["No rows yet."]:
        say(words)


def _tell_lacing(job: Job, articles: list[Article]) -> None:
    from nestplan.sheets.lacing_blocks import edge_words, join_words, range_words

    formatter = _formatter(job)
    if not articles:
        say("Nothing is laced yet.")
    for article in articles:
        told = range_words(article, formatter)
        say(f"{article.name}{': ' + told if told else ''}")
        laced = [join_words(article, join, formatter) for join in job.worked_joins(article)]
        laced += [edge_words(article, edge, formatter) for edge in job.worked_edges(article)]
        for lines in laced:
            for line in lines:
                say(f"  {line}")


def _row_in_words(piece: Piece, name: str, formatter: UnitFormatter) -> str:
    """A row in a line: what, how many, how far apart, where."""
    import math

    number = [each.name for each in piece.rows].index(name)
    found, marks = piece.rows[number], piece.marks_of_rows[number]
    size = "" if found.size is None else f" of {formatter.length(found.size)}"
    apart = formatter.length(math.dist(marks[0].at, marks[1].at))
    where = "on a line" if found.along == "line" else f"{formatter.length(found.inset)} from the edge"
    start, end = (
        f"({', '.join(formatter.length(each) for each in mark.at)})" for mark in (marks[0], marks[-1])
    )
    return (
        f"{piece.name}, {name}: {len(marks)} × {found.kind.choice}{size}, {apart} apart, {where}, "
        f"from {start} to {end}"
    )


def _spots(job: Job, piece: str, start: str | None, end: str | None) -> dict[str, tuple[float, float] | None]:
    """Start and end of a row as points of the piece."""
    from nestplan.cli.option_values import length_in
    from nestplan.tasks.job_edits import article_of_piece
    from nestplan.tasks.laced_work import SPOTS, spot_on_edge

    found: dict[str, tuple[float, float] | None] = {}
    for key, text in (("start", start), ("end", end)):
        if text is None:
            continue
        parts = text.split(",")
        if text not in SPOTS and len(parts) == 2:
            x, y = (float(length_in(part, job.units)) for part in parts)
            found[key] = (x, y)
            continue
        article_of_piece(job, piece)
        found[key] = spot_on_edge(job.piece(piece), text)
    return found


def _shorter_way(job: Job, piece: str, name: str, fields: dict[str, Any]) -> dict[str, Any]:
    """That a row along the edge between two given spots goes the shorter way; nothing where not both are given."""
    from nestplan.geometry.edge_line import shorter_is_clockwise
    from nestplan.tasks.job_edits import article_of_piece

    start, end = fields.get("start"), fields.get("end")
    article_of_piece(job, piece)
    old = next((row for row in job.piece(piece).rows if row.name == name), None)
    along = fields.get("along") or (old.along if old is not None else "edge")
    if start is None or end is None or along == "line":
        return {}
    return {"clockwise": shorter_is_clockwise(job.piece(piece).ring, start, end)}


def _kind(job: Job, piece: str, name: str, kind: str | None, size: float | None) -> dict[str, Any]:
    """The kind of the marks, and their size in the field that this kind is measured by."""
    from nestplan.cli.option_values import one_of
    from nestplan.model.mark_kinds import MARK_KINDS
    from nestplan.tasks.job_edits import article_of_piece

    if kind is not None:
        one_of(kind, MARK_KINDS.names, "--kind")
    if size is None:
        return {} if kind is None else {"do": kind}
    article_of_piece(job, piece)
    old = next((each for each in job.piece(piece).rows if each.name == name), None)
    do = kind or (old.do if old is not None else "punch")
    measure = MARK_KINDS[do].measure
    return {"do": do} if measure is None else {"do": do, measure: size}


def _laced_rows(rows: list[str] | None, skip: list[str], edge: bool) -> dict[str, Any]:
    """The rows that are laced, as fields of a join or of an edge."""
    from nestplan.errors import InputError
    from nestplan.model.laced_joins import LacedRow

    found = []
    for number, text in enumerate(rows or ()):
        piece, colon, name = text.partition(":")
        if not colon or not piece or not name:
            raise InputError(
                f"'{text}' is no row.", place="--row", mend="Give PIECE:ROW, such as front:eyelets."
            )
        left_out = skip[number] if number < len(skip) else ""
        found.append(LacedRow(piece=piece, row=name, skip=_numbers(left_out)))
    if not found:
        return {}
    return {"piece": found[0].piece, "row": found[0].row} if edge else {"rows": tuple(found)}


def _numbers(text: str) -> tuple[int, ...]:
    from nestplan.errors import InputError

    try:
        return tuple(int(part) for part in text.split(",") if part.strip())
    except ValueError:
        raise InputError(f"'{text}' are no holes.", place="--skip", mend="Give their numbers: 3,5.") from None


def _finish(text: str | None) -> str | None:
    from nestplan.cli.option_values import one_of

    if text is not None:
        one_of(text, ("bow", "hidden"), "--finish")
    return text


def _length(text: str | None, job: Job) -> float | None:
    """The length that a text says, mm; a bare number is in the job's unit."""
    from nestplan.cli.option_values import length_in

    return None if text is None else length_in(text, job.units)


def _formatter(job: Job) -> UnitFormatter:
    from nestplan.sheets.unit_formatting import UnitFormatter

    return UnitFormatter(job.units)
