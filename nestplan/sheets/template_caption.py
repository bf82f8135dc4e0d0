"""The words under a full-size template: what it is, how many are cut from which leather, what its letters mean."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from nestplan.model import Job, Mark, Opening
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.model.piece import LayerCut
from nestplan.sheets.piece_layers import PieceLayers, PlannedOvercuts
from nestplan.sheets.size_words import fits_words
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["MarkGroup", "letters_for", "mark_groups", "template_caption", "template_groups"]

MarkGroup = tuple[str, float, str]
"""What marks have in common: what is done there, its size in mm, and what it is for."""
_LETTERS = "abcdefghijklmnopqrstuvwxyz"


def template_caption(
    job: Job, subject: PieceLayers, formatter: UnitFormatter, planned: PlannedOvercuts
) -> list[tuple[str, bool]]:
    """What stands by a template: (words, bold) line by line; wrapped by whoever sets it."""
    piece, article = subject.piece, subject.article
    fits = fits_words(article, formatter)
    size = piece.ring.max(axis=0) - piece.ring.min(axis=0)
    lines = [
        (f"{subject.title}: {formatter.size(float(size[0]), float(size[1]))} finished", True),
        (
            ", ".join(
                filter(
                    None,
                    (f"for {article.name}", fits, "1 set" if article.sets == 1 else f"{article.sets} sets"),
                )
            ),
            False,
        ),
    ]
    lines += [(_cut_words(job, subject, cut, formatter, planned), False) for cut in subject.cuts]
    if piece.turn_over:
        lines.append(("may be laid either side up", False))
    lines += [(words, False) for words in (*_opening_words(subject), *_mark_words(subject, formatter))]
    for cut in subject.cuts:
        if cut.stretch is not None and cut.stretch.tolerance < 90.0:
            lines.append((
                f"{cut.layer}: the stretch arrow lies along the way the leather gives most, within "
                f"{cut.stretch.tolerance:g}°",
                False,
            ))  # fmt: skip
    if piece.note:
        lines.append((piece.note, False))
    return lines


def _cut_words(
    job: Job, subject: PieceLayers, cut: LayerCut, formatter: UnitFormatter, planned: PlannedOvercuts
) -> str:
    """How many are cut from one layer's leather, which way round, and how far outside the finished line."""
    piece = subject.piece
    many = piece.count * subject.article.sets
    if piece.pair:
        drawn, over = ("right", "left") if cut.reversed else ("left", "right")
        how = f"{many} as drawn ({drawn}), {many} turned over ({over})"
    else:
        how = f"{many} turned over" if cut.reversed else f"{many} as drawn"
    over_words = "; on the finished line" if any(other.overcut is not None for other in piece.cuts) else ""
    if cut.overcut is not None and cut.overcut.wished > 0.0:
        least, wished = cut.overcut.least, cut.overcut.wished
        over_words = f"; outside the finished line by at least {formatter.length(least)}"
        widest = planned.get((piece.name, cut.layer), wished)
        if widest > least + 1e-6:
            over_words += f", up to {formatter.length(widest)} as the cut sheet says"
    thick = job.layer(cut.layer).thickness
    leather = f"{cut.layer}, {formatter.thickness(*thick)}" if thick else cut.layer
    return f"cut from {leather}: {how}{over_words}"


def _opening_words(subject: PieceLayers) -> Iterator[str]:
    """What is cut out, and when."""
    for openings, when in (
        (subject.at_table.openings, "now"),
        (subject.for_later.openings, "after gluing and trimming"),
    ):
        if openings:
            count = "1 opening" if len(openings) == 1 else f"{len(openings)} openings"
            yield f"cut out {count}{_what(openings)}: {when}"


def _what(openings: Iterable[Opening]) -> str:
    named = list(dict.fromkeys(opening.what for opening in openings if opening.what))
    return f" ({', '.join(named)})" if named else ""


def _mark_words(subject: PieceLayers, formatter: UnitFormatter) -> Iterator[str]:
    """What is done at each letter, and when, where it is not done at the table."""
    groups = template_groups(subject)
    for letter, (later, (do, amount, what), marks) in zip(letters_for(len(groups)), groups, strict=True):
        done = MARK_KINDS[do].template_words.format(size=formatter.length(amount))
        times = f", {len(marks)} times" if len(marks) > 1 else ""
        when = "; mark it now, do it after gluing and trimming" if later else ""
        yield f"{letter}: {done}{f' ({what})' if what else ''}{times}{when}"


def template_groups(subject: PieceLayers) -> list[tuple[bool, MarkGroup, list[Mark]]]:
    """The marks on a template that have a letter in common: whether they are for later, what they are, the marks."""
    return [
        (later, group, marks)
        for later, work in ((False, subject.at_table), (True, subject.for_later))
        for group, marks in mark_groups(work.marks).items()
    ]


def mark_groups(marks: Iterable[Mark]) -> dict[MarkGroup, list[Mark]]:
    """Marks by what is done at them: what, size in mm, and what it is for."""
    groups: dict[MarkGroup, list[Mark]] = {}
    for mark in marks:
        groups.setdefault((mark.do, round(mark.size or 0.0, 2), mark.what), []).append(mark)
    return groups


def letters_for(count: int) -> Sequence[str]:
    """So many letters, going on with two letters after z."""
    return [*_LETTERS, *(f"{first}{second}" for first in _LETTERS for second in _LETTERS)][:count]
