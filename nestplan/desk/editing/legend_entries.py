"""What the key of the table has to explain in each step: what is there now, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import Qt

from nestplan.desk.table.legend import LegendEntry
from nestplan.desk.theme import current_theme, flaw_pattern
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.piece import Piece, Strip
from nestplan.model.plan import Placement, Plan

__all__ = ["hide_legend", "piece_legend", "plan_legend"]


def hide_legend(hide: Hide | None) -> Iterator[LegendEntry]:
    """What is drawn on a hide by itself."""
    if hide is None:
        return
    yield from _flaws(hide)
    theme, line = current_theme(), Qt.PenStyle
    if any(flaw.margin > 0 for flaw in hide.flaws):
        yield LegendEntry("how far pieces keep off", theme.flaw, line=line.DotLine)
    if hide.regions:
        yield LegendEntry("region", theme.region, line=line.DashDotLine)
    if hide.backbone is not None:
        yield LegendEntry("backbone", theme.edge, line=line.DashLine)
        yield LegendEntry("gives most this way", theme.stretch, line=line.SolidLine)


def _flaws(hide: Hide) -> Iterator[LegendEntry]:
    there = {flaw.kind.name for flaw in hide.flaws}
    for kind in FLAW_KINDS:
        if kind.name in there:
            yield LegendEntry(kind.words, current_theme().flaw, flaw_pattern(kind), letter=kind.letter)


def piece_legend(piece: Piece | Strip | None, layer: str) -> Iterator[LegendEntry]:
    """What is drawn of a piece by itself."""
    if not isinstance(piece, Piece):
        return
    theme, line = current_theme(), Qt.PenStyle
    cut = piece.find_cut(layer) or piece.cuts[0]
    if cut.overcut is not None:
        if cut.overcut.least > 0:
            yield LegendEntry("overcut, at least", theme.edge, line=line.DashLine)
        yield LegendEntry("overcut, wished", theme.edge, line=line.DotLine)
    if cut.stretch is not None:
        yield LegendEntry("lies the way leather gives", theme.stretch, line=line.SolidLine)


def plan_legend(hide: Hide | None, plan: Plan | None, job: Job | None) -> Iterator[LegendEntry]:
    """What is drawn of a plan on a hide: articles by their colours, signs, flaws, what is left."""
    if hide is None:
        return
    theme, line, brush = current_theme(), Qt.PenStyle, Qt.BrushStyle
    here = [placement for placement in plan.placements if placement.hide == hide.name] if plan else []
    names = {placement.name for placement in here}
    for number, article in enumerate(job.articles if job else ()):
        pieces = {piece.name for piece in article.pieces} | {strip.name for strip in article.strips}
        if names & pieces:
            yield LegendEntry(article.name, theme.tints[number % len(theme.tints)])
    yield from _signs(here)
    yield from _flaws(hide)
    if here:
        yield LegendEntry("left over, useful", theme.offcut, line=line.DashLine)
    if any(placement.done for placement in here):
        yield LegendEntry("cut already", theme.soft, brush.Dense6Pattern)


def _signs(here: list[Placement]) -> Iterator[LegendEntry]:
    if any(placement.overcut > 0 for placement in here):
        yield LegendEntry("cut line, with overcut", current_theme().edge, line=Qt.PenStyle.DashLine)
