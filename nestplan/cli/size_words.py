"""Texts about sizes as values: a size and its changes, who takes part in a measure, edges that meet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import cast, get_args

from nestplan.cli.option_values import length_in
from nestplan.errors import InputError
from nestplan.geometry.sides import SIDE_NAMES
from nestplan.model.job import Article, Job
from nestplan.model.sizes import Edge, Growth, Measure, RowsKeep, Seam, Size, Sizes, Where, measure_named

__all__ = ["SizeWords", "share_of"]

_COMMA = re.compile(r",(?!\d)")
"""A comma that parts; one before a digit parts decimals."""
_FROM_TO = re.compile(
    r"(?P<piece>.+?)\s*\(\s*(?P<ax>[^,()]+),\s*(?P<ay>[^,()]+?)\s+to\s+(?P<bx>[^,()]+),\s*(?P<by>[^,()]+)\)"
)
"""A part of an outline: a piece, and in brackets from where to where, counter-clockwise."""
_TAKER = re.compile(r"(?P<name>[^=(]+?)\s*(?:\((?P<where>[^)]*)\))?\s*(?:=\s*(?P<share>[-+\d./]+))?")


class SizeWords:
    """Reads texts about the sizes of one article: its pieces may be called without the size they are drawn in, and
    bare numbers are in the job's unit."""

    def __init__(self, job: Job, article: Article) -> None:
        self.article = article
        self._unit = job.units
        self._names = [thing.name for thing in article.pieces] + [thing.name for thing in article.strips]

    def sizes(self, texts: Sequence[str]) -> tuple[tuple[Size, ...], dict[str, int]]:
        """The sizes that texts such as `L: waist +40, sets 3` say, and how many sets of which.

        Raises InputError for one that cannot be read.
        """
        sizes, sets = [], {}
        for text in texts:
            name, rest = _parted(text, ":", "--size", 'Give such as "L: waist +40 mm, length +10 mm".')
            changes = {}
            for part in filter(None, (part.strip() for part in _COMMA.split(rest))):
                found = re.fullmatch(r"(.+?)\s*([-+−]?\s*[\d.,½¼¾⅛⅜⅝⅞].*)", part)
                if found is None:
                    raise InputError(
                        f"'{part}' is no change of a measure.",
                        place="--size",
                        mend='Give such as "waist +40 mm".',
                    )
                if found[1].strip() == "sets":
                    sets[name] = _whole_number(found[2])
                else:
                    changes[found[1].strip()] = self._length(found[2])
            sizes.append(Size(name=name, changes=changes))
        return tuple(sizes), sets

    def measures(self, takes: Sequence[str], lengthwise: Sequence[str]) -> tuple[Measure, ...]:
        """The measures that `--takes` and `--lengthwise` speak of. Raises InputError for a text that cannot be read."""
        found: dict[str, Measure] = {}
        for text in takes:
            name, rest = _parted(text, ":", "--takes", 'Give such as "waist: front, side".')
            usual = measure_named(name)
            growths = tuple(self._growth(part) for part in filter(None, (p.strip() for p in rest.split(","))))
            found[name] = Measure(name=name, along=usual.along, pieces=growths)
        for name in lengthwise:
            pieces = found[name].pieces if name in found else ()
            found[name] = Measure(name=name, along="length", pieces=pieces)
        return tuple(found.values())

    def record(self, asked: tuple[Size, ...], measures: tuple[Measure, ...], rows: str | None) -> Sizes:
        """The record of sizes the article has, with those asked put in place of others of the same name.

        Raises InputError where none would be left, or rows are to keep what they cannot.
        """
        if rows is not None and rows not in get_args(RowsKeep):
            raise InputError(
                f"Rows cannot keep '{rows}'.",
                place="--rows",
                mend=f"Take one of: {', '.join(get_args(RowsKeep))}.",
            )
        old = self.article.sizes
        sizes = {size.name: size for size in (*(old.others if old else ()), *asked)}
        if not sizes:
            raise InputError(
                "No size is asked for.",
                place="--size",
                mend='Give such as --size "L: waist +40 mm, length +10 mm".',
            )
        known = {measure.name: measure for measure in (*(old.measures if old else ()), *measures)}
        kept = cast("RowsKeep", rows or (old.rows if old else "as drawn"))
        return Sizes(others=tuple(sizes.values()), measures=tuple(known.values()), rows=kept)

    def fits(self, texts: Sequence[str]) -> dict[str, tuple[float, float]]:
        """What `waist: 700 mm to 760 mm` says. Raises InputError for a text that cannot be read."""
        found = {}
        for text in texts:
            mend = 'Give such as "waist: 700 mm to 760 mm".'
            name, rest = _parted(text, ":", "--fits", mend)
            ends = [self._length(part) for part in re.split(r"\s+to\s+", rest.strip())]
            if len(ends) > 2:
                raise InputError(f"'{text}' is no range.", place="--fits", mend=mend)
            found[name] = (ends[0], ends[-1])
        return found

    def seam(self, text: str) -> Seam:
        """What `front right = side left` says. Raises InputError for a text that cannot be read."""
        first, second = _parted(text, "=", "--seam", 'Give such as "front right = side left".')
        return Seam(first=self._edges(first), second=self._edges(second))

    def _edges(self, text: str) -> tuple[Edge, ...]:
        return tuple(self._edge(part.strip()) for part in text.split("+"))

    def _edge(self, text: str) -> Edge:
        by_points = _FROM_TO.fullmatch(text)
        if by_points is not None:
            name = self._thing(by_points["piece"].strip(), "--seam")
            start, end = (
                (float(self._length(by_points[f"{which}x"])), float(self._length(by_points[f"{which}y"])))
                for which in ("a", "b")
            )
            return Edge(piece=name, start=start, end=end)
        piece, _, side = text.rpartition(" ")
        if side not in SIDE_NAMES:
            raise InputError(
                f"'{text}' names no edge.",
                place="--seam",
                mend=f"Give a piece and one of its edges ({', '.join(SIDE_NAMES)}), or two points: front (0,0 to 0,9).",
            )
        return Edge(piece=self._thing(piece.strip(), "--seam"), side=side)

    def _growth(self, text: str) -> Growth:
        found = _TAKER.fullmatch(text)
        where = (found["where"] or "both sides").strip() if found else ""
        lines: tuple[float, ...] = ()
        if where[:1].isdigit() or where[:1] == ".":
            lines, where = tuple(share_of(each) for each in where.split()), "both sides"
        if found is None or where not in get_args(Where):
            raise InputError(
                f"'{text}' does not say who takes part.",
                place="--takes",
                mend=f"Give a piece, where it is spread in brackets ({', '.join(get_args(Where))}), its share after =.",
            )
        return Growth(
            name=self._thing(found["name"].strip(), "--takes"),
            share=None if found["share"] is None else share_of(found["share"]),
            where=cast("Where", where),
            lines=lines,
        )

    def _thing(self, name: str, place: str) -> str:
        for known in (name, f"{name} {self.article.size}"):
            if known in self._names:
                return known
        raise InputError(
            f"'{self.article.name}' has no piece called '{name}'.",
            place=place,
            mend=f"Use one of: {', '.join(self._names)}.",
        )

    def _length(self, text: str) -> float:
        return length_in(text, self._unit)


def _parted(text: str, sign: str, place: str, mend: str) -> tuple[str, str]:
    first, found, second = text.partition(sign)
    if not found or not first.strip():
        raise InputError(f"'{text}' cannot be read.", place=place, mend=mend)
    return first.strip(), second.strip()


def share_of(text: str, place: str = "--takes") -> float:
    """The share that a text such as 1, 0.5 or 1/4 says. Raises InputError if it says none."""
    from fractions import Fraction

    try:
        return float(Fraction(text.strip()))
    except (ValueError, ZeroDivisionError):
        raise InputError(f"'{text}' is no share.", place=place, mend="Give such as 1, 0.5 or 1/4.") from None


def _whole_number(text: str) -> int:
    if not text.strip().isdigit() or not int(text):
        raise InputError(f"'{text}' is no number of sets.", place="--size", mend="Give such as sets 3.")
    return int(text)
