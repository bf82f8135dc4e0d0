"""What is done inside a piece, counted and in words: openings, holes, slits and spots, by layer and time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from nestplan.model import Piece
from nestplan.model.layer_work import LayerWork, work_after_trimming, work_at_table
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.sheets.template_caption import mark_groups
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["lines_of_work", "piece_work_lines", "through_lines", "work_of_single_layers"]


def lines_of_work(work: LayerWork, formatter: UnitFormatter) -> list[str]:
    """Openings and marks by what they are, such as `4 × punch 5 mm (eyelet 5 mm)`."""
    lines = []
    for what, number in Counter(opening.what for opening in work.openings).items():
        lines.append(f"{number} × opening" + (f" ({what})" if what else ""))
    for (do, amount, what), group in mark_groups(work.marks).items():
        words = MARK_KINDS[do].job_words.format(size=formatter.length(amount))
        lines.append(f"{len(group)} × {words}" + (f" ({what})" if what else ""))
    return lines


def piece_work_lines(piece: Piece, formatter: UnitFormatter) -> list[str]:
    """All that is done inside a piece; of a piece of several layers with the layer, or `through all`, before it."""
    if len(piece.cuts) == 1:
        return lines_of_work(LayerWork(piece.openings, piece.all_marks), formatter)
    lines = []
    for cut in piece.cuts:
        lines += [
            f"{cut.layer}: {line}" for line in lines_of_work(work_at_table(piece, cut.layer), formatter)
        ]
    return lines + [f"through all: {line}" for line in lines_of_work(work_after_trimming(piece), formatter)]


def work_of_single_layers(pieces: Iterable[Piece], formatter: UnitFormatter) -> list[str]:
    """What is done to one layer of pieces of several, before they are glued: a line for each piece and layer."""
    lines = []
    for piece in pieces:
        for cut in piece.cuts if len(piece.cuts) > 1 else ():
            done = lines_of_work(work_at_table(piece, cut.layer), formatter)
            if done:
                lines.append(f"{piece.name}, {cut.layer}: {', '.join(done)}")
    return lines


def through_lines(pieces: Iterable[Piece], formatter: UnitFormatter) -> list[str]:
    """What is done to pieces that are glued and trimmed, and to those of one layer: a line for each piece."""
    lines = []
    for piece in pieces:
        work = (
            work_after_trimming(piece) if len(piece.cuts) > 1 else LayerWork(piece.openings, piece.all_marks)
        )
        done = lines_of_work(work, formatter)
        if done:
            lines.append(f"{piece.name}: {', '.join(done)}")
    return lines
