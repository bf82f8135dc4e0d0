"""Rows of holes and laced joins of a job file: listed, added, changed and taken away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.reshape import nearest_spot
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.laced_joins import LacedEdge, LacedJoin, LacedRow
from nestplan.model.mark_rows import Row
from nestplan.model.piece import Piece, Strip
from nestplan.model.values import Points
from nestplan.tasks.article_sizes import followed
from nestplan.tasks.job_edits import article_of_piece, with_article, with_piece, with_row
from nestplan.tasks.output_paths import free_name

__all__ = [
    "SPOTS",
    "LaceWish",
    "RowChange",
    "facing_rows",
    "line_across",
    "put_around",
    "put_laced",
    "put_row",
    "remove_laced",
    "remove_row",
    "spot_on_edge",
    "with_laced",
    "without_laced",
]

SPOTS = {
    f"{high} {wide}".strip(): (x, y)
    for high, y in (("lower", 0.0), ("", 0.5), ("upper", 1.0))
    for wide, x in (("left", 0.0), ("middle", 0.5), ("right", 1.0))
    if high or wide != "middle"
}
"""Spots of a piece's edge by their names, as shares of its width and height: `lower left`, `right`, `upper middle` …"""

_USUAL_LACE = "lace"


@dataclass(frozen=True)
class RowChange:
    """A job after a row of it was put in: the piece as it is now, and the rows (piece, row) that were given as many
    holes because they are laced to it."""

    job: Job
    piece: Piece
    followed: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class LaceWish:
    """The strip that is cut for a join or an edge: its width, mm, and the layer whose leather it is cut from."""

    width: float
    layer: str = ""


def spot_on_edge(piece: Piece, name: str) -> tuple[float, float]:
    """The spot of a piece's edge that a name such as `lower right` means: the nearest to that place of the box round
    it. Raises InputError for another name."""
    if name not in SPOTS:
        raise InputError(
            f"'{name}' is no spot of a piece.",
            mend=f"Give x and y, such as 120,0, or one of: {', '.join(SPOTS)}.",
        )
    low, high = piece.ring.min(axis=0), piece.ring.max(axis=0)
    wanted = low + (high - low) * np.array(SPOTS[name])
    return nearest_spot(piece.ring, (float(wanted[0]), float(wanted[1])))[1]


def line_across(piece: Piece) -> Points:
    """A level line across a piece at half its height, from edge to edge, mm: how much of the measure round its wearer
    it makes up, where the piece stands upright as it is drawn."""
    import shapely

    low, high = piece.ring.min(axis=0), piece.ring.max(axis=0)
    y = float(low[1] + high[1]) / 2.0
    level = shapely.LineString(((low[0] - 1.0, y), (high[0] + 1.0, y)))
    left, _, right, _ = (float(each) for each in shapely.Polygon(piece.ring).intersection(level).bounds)
    return ((round(left, 2), round(y, 2)), (round(right, 2), round(y, 2)))


def facing_rows(article: Article, one: LacedRow, other: LacedRow) -> tuple[LacedRow, LacedRow]:
    """Two rows to be laced to each other, the second backward where it runs the other way on its drawing, so that
    what is drawn above is laced to what is drawn above. Rows that are not there are left as they are."""
    directions = []
    for laced in (one, other):
        piece = next((each for each in article.pieces if each.name == laced.piece), None)
        names = [row.name for row in piece.rows] if piece is not None else []
        if piece is None or laced.row not in names:
            return one, other
        marks = piece.marks_of_rows[names.index(laced.row)]
        directions.append(np.subtract(marks[-1].at, marks[0].at))
    against = float(directions[0] @ directions[1]) < 0.0
    return one, msgspec.structs.replace(other, backward=against != one.backward)


def put_around(file: Path, pieces: Sequence[str], *, out: Path | None = None) -> Job:
    """Let pieces of the job in `file` count to the measure round its wearer, each by its line across.

    Raises InputError for a piece that is not there, or if a file cannot be read or written.
    """
    job = read_job(file)
    return _written(out or file, job, _with_around(job, pieces))


def _with_around(job: Job, pieces: Sequence[str]) -> Job:
    changed = job
    for name in pieces:
        piece = _piece(job, name)
        changed = with_piece(changed, name, msgspec.structs.replace(piece, around=line_across(piece)))
    return changed


def put_row(
    file: Path, piece: str, name: str, given: Mapping[str, Any], *, out: Path | None = None
) -> RowChange:
    """Add a row to a piece of the job in `file`, or change the `given` fields of the row of that name, and write it to
    `out` (None: to the file itself).

    A pitch takes the place of a number and the other way round. Raises InputError where the job cannot be with it, or
    a file cannot be read or written.
    """
    job = read_job(file)
    old = next((row for row in _piece(job, piece).rows if row.name == name), None)
    fields = dict(given)
    for one, other in (("pitch", "number"), ("number", "pitch")):
        if one in fields and other not in fields:
            fields[other] = None
    if old is None and "start" not in fields:
        raise InputError(f"'{piece}' has no row '{name}' yet.", mend="Say where it starts, to add it.")
    row = Row(name=name, **fields) if old is None else msgspec.structs.replace(old, **fields)
    changed, same_number = with_row(job, piece, name, row)
    changed = _written(out or file, job, changed)
    return RowChange(changed, changed.piece(piece), same_number)


def remove_row(file: Path, piece: str, name: str, *, out: Path | None = None) -> Job:
    """Take a row off a piece of the job in `file`. Raises InputError if it is not there or is laced, or a file cannot
    be read or written."""
    job = read_job(file)
    _piece(job, piece)
    changed, _ = with_row(job, piece, name, None)
    return _written(out or file, job, changed)


def put_laced(
    file: Path,
    name: str,
    given: Mapping[str, Any],
    *,
    edge: bool = False,
    lace: LaceWish | None = None,
    around: Sequence[str] = (),
    out: Path | None = None,
) -> tuple[Job, Article]:
    """Add a laced join (or a laced `edge`) to the job in `file`, or change the `given` fields of the one of that name;
    with `lace` its strip too, and the pieces `around` as by `put_around`. Returns the job and the article that has it.

    Raises InputError where it cannot be, or a file cannot be read or written.
    """
    before = read_job(file)
    job = _with_around(before, around)
    article = _article_for(job, name, given)
    old = _laced(article, name)
    if not edge and len(given.get("rows", ())) == 2:
        given = dict(given) | {"rows": facing_rows(article, *given["rows"])}
    kind = type(old) if old is not None else (LacedEdge if edge else LacedJoin)
    _need_fields(name, kind, given)
    if old is None:
        _need_rows(name, given, edge)
    laced = kind(name=name, **given) if old is None else msgspec.structs.replace(old, **given)
    changed = _written(out or file, before, with_laced(job, article.name, name, laced, lace))
    return changed, next(each for each in changed.articles if each.name == article.name)


def _need_fields(name: str, kind: type[LacedJoin | LacedEdge], given: Mapping[str, Any]) -> None:
    """Raise InputError for the first field given that a laced join, or a laced edge, does not have."""
    foreign = next((field for field in given if field not in kind.__struct_fields__), None)
    if foreign is not None:
        what = "edge" if kind is LacedEdge else "join"
        raise InputError(f"'{name}' is a laced {what}, which has no {foreign}.", mend="Leave that out.")


def remove_laced(file: Path, name: str, *, around: Sequence[str] = (), out: Path | None = None) -> Job:
    """Take a laced join or edge out of the job in `file`; its lace keeps its length. Pieces `around` as `put_around`
    does. Raises InputError if it is not there, or a file cannot be read or written."""
    before = read_job(file)
    job = _with_around(before, around)
    article = next((each for each in job.articles if _laced(each, name) is not None), None)
    if article is None:
        raise InputError(f"Nothing laced is called '{name}'.", mend=_names_of(job))
    return _written(out or file, before, without_laced(job, article.name, name))


def with_laced(
    job: Job, article: str, name: str, laced: LacedJoin | LacedEdge, lace: LaceWish | None = None
) -> Job:
    """The job with a laced join or edge of an article added, or put in the place of the one of that name; its lace
    keeps to it. Raises InputError where it cannot be."""
    owner = next(each for each in job.articles if each.name == article)
    joins, edges = (
        _replaced(list(owner.laced_joins), name, laced, isinstance(laced, LacedJoin)),
        _replaced(list(owner.laced_edges), name, laced, isinstance(laced, LacedEdge)),
    )
    strips = [
        msgspec.structs.replace(strip, laces=laced.name) if strip.laces == name else strip
        for strip in owner.strips
    ]
    if lace is not None:
        strips = _with_lace(job, strips, laced.name, lace)
    changed = msgspec.structs.replace(
        owner, laced_joins=tuple(joins), laced_edges=tuple(edges), strips=tuple(strips)
    )
    return with_article(job, article, changed)


def without_laced(job: Job, article: str, name: str) -> Job:
    """The job without a laced join or edge of an article; its lace keeps the length it had."""
    owner = next(each for each in job.articles if each.name == article)
    changed = msgspec.structs.replace(
        owner,
        laced_joins=tuple(join for join in owner.laced_joins if join.name != name),
        laced_edges=tuple(edge for edge in owner.laced_edges if edge.name != name),
        strips=tuple(
            msgspec.structs.replace(strip, laces="") if strip.laces == name else strip
            for strip in owner.strips
        ),
    )
    return with_article(job, article, changed)


def _written(file: Path, before: Job, after: Job) -> Job:
    """The changed job, with the sizes of what changed made anew, once it is written."""
    settled = followed(before, after).job
    assert settled is not None
    write_job(file, settled)
    return settled


def _replaced(every: list[Any], name: str, laced: object, belongs: bool) -> list[Any]:
    """A list of joins or edges with `laced` in the place of the one of that name, or at the end."""
    if not belongs:
        return every
    if all(each.name != name for each in every):
        return [*every, laced]
    return [laced if each.name == name else each for each in every]


def _with_lace(job: Job, strips: Sequence[Strip], laces: str, lace: LaceWish) -> list[Strip]:
    """The strips with one that is cut for what is laced: the one there is, or a new one."""
    layer = lace.layer or job.layers[0].name
    if any(strip.laces == laces for strip in strips):
        return [
            msgspec.structs.replace(strip, width=lace.width, **({"layer": lace.layer} if lace.layer else {}))
            if strip.laces == laces
            else strip
            for strip in strips
        ]
    taken = [piece.name for each in job.articles for piece in each.pieces]
    taken += [strip.name for each in job.articles for strip in each.strips]
    name = free_name(f"{_USUAL_LACE} {laces}", taken)
    return [*strips, Strip(name=name, width=lace.width, laces=laces, use="lace", layer=layer, along="any")]


def _article_for(job: Job, name: str, given: Mapping[str, Any]) -> Article:
    """The article that has what is laced of that name, or the one whose pieces are to be laced."""
    found = next((each for each in job.articles if _laced(each, name) is not None), None)
    if found is not None:
        return found
    rows: Sequence[LacedRow] = given.get("rows", ())
    piece = rows[0].piece if rows else given.get("piece", "")
    if not piece:
        raise InputError(
            f"Nothing laced is called '{name}'.", mend=f"Say its rows to add it. {_names_of(job)}"
        )
    return article_of_piece(job, piece)


def _need_rows(name: str, given: Mapping[str, Any], edge: bool) -> None:
    if ("piece" if edge else "rows") not in given:
        raise InputError(f"'{name}' has no row yet.", mend="Say the row, to add it.")


def _laced(article: Article, name: str) -> LacedJoin | LacedEdge | None:
    for join in article.laced_joins:
        if join.name == name:
            return join
    return next((edge for edge in article.laced_edges if edge.name == name), None)


def _names_of(job: Job) -> str:
    names = [f"'{join.name}'" for article in job.articles for join in article.laced_joins]
    names += [f"'{edge.name}'" for article in job.articles for edge in article.laced_edges]
    return f"The job has: {', '.join(names)}." if names else "The job has no laced joins yet."


def _piece(job: Job, name: str) -> Piece:
    article_of_piece(job, name)
    return job.piece(name)
