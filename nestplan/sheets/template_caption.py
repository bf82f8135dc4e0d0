"""The words under a full-size template: what it is, how many are cut from which leather, what its letters mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nestplan.model import Article, Job, Mark, Piece
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.model.piece import LayerCut
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["MarkGroup", "layers_by_overcut", "letters_for", "mark_groups", "template_caption"]

MarkGroup = tuple[str, float, str]
"""What marks have in common: what is done there, its size in mm, and what it is for."""
_LETTERS = "abcdefghijklmnopqrstuvwxyz"


def template_caption(
    job: Job, article: Article, piece: Piece, formatter: UnitFormatter
) -> list[tuple[str, bool]]:
    """What stands under a template: (words, bold) line by line; wrapped by whoever sets it."""
    size = piece.ring.max(axis=0) - piece.ring.min(axis=0)
    lines = [
        (f"{piece.name}: {formatter.size(float(size[0]), float(size[1]))} finished", True),
        (f"for {article.name}, {article.sets} sets", False),
    ]
    lines += [(_cut_words(job, article, piece, cut, formatter), False) for cut in piece.cuts]
    if piece.turn_over:
        lines.append(("may be laid either side up", False))
    lines += [(words, False) for words in _mark_words(piece, formatter)]
    for cut in piece.cuts:
        if cut.stretch is not None and cut.stretch.tolerance < 90.0:
            lines.append((
                f"{cut.layer}: the stretch arrow lies along the way the leather gives most, within "
                f"{cut.stretch.tolerance:g}°",
                False,
            ))  # fmt: skip
    if piece.note:
        lines.append((piece.note, False))
    return lines


def _cut_words(job: Job, article: Article, piece: Piece, cut: LayerCut, formatter: UnitFormatter) -> str:
    """How many are cut from one layer's leather, which way round, and how far outside the finished line."""
    many = piece.count * article.sets
    if piece.pair:
        drawn, over = ("right", "left") if cut.reversed else ("left", "right")
        how = f"{many} as drawn ({drawn}), {many} turned over ({over})"
    else:
        how = f"{many} turned over" if cut.reversed else f"{many} as drawn"
    over_words = "" if not layers_by_overcut(piece) else "; on the finished line"
    if cut.overcut is not None and cut.overcut.wished > 0.0:
        least, wished = cut.overcut.least, cut.overcut.wished
        over_words = f"; outside the finished line by at least {formatter.length(least)}"
        if wished > least:
            over_words += f", up to {formatter.length(wished)} as the cut sheet says"
    thick = job.layer(cut.layer).thickness
    leather = f"{cut.layer}, {formatter.thickness(*thick)}" if thick else cut.layer
    return f"cut from {leather}: {how}{over_words}"


def _mark_words(piece: Piece, formatter: UnitFormatter) -> Iterator[str]:
    """What is done at each letter."""
    groups = mark_groups(piece)
    for letter, ((do, amount, what), marks) in zip(letters_for(len(groups)), groups.items(), strict=True):
        done = MARK_KINDS[do].template_words.format(size=formatter.length(amount))
        times = f", {len(marks)} times" if len(marks) > 1 else ""
        yield f"{letter}: {done}{f' ({what})' if what else ''}{times}"


def mark_groups(piece: Piece) -> dict[MarkGroup, list[Mark]]:
    """The marks of a piece by what is done at them: what, size in mm, and what it is for."""
    groups: dict[MarkGroup, list[Mark]] = {}
    for mark in piece.marks:
        groups.setdefault((mark.do, round(mark.size or 0.0, 2), mark.what), []).append(mark)
    return groups


def layers_by_overcut(piece: Piece) -> dict[float, list[str]]:
    """The layers that have an overcut, by its least width in mm."""
    layers: dict[float, list[str]] = {}
    for cut in piece.cuts:
        if cut.overcut is not None and cut.overcut.least > 0.0:
            layers.setdefault(cut.overcut.least, []).append(cut.layer)
    return layers


def letters_for(count: int) -> Sequence[str]:
    """So many letters, going on with two letters after z."""
    return [*_LETTERS, *(f"{first}{second}" for first in _LETTERS for second in _LETTERS)][:count]
