"""How far the left and right of pairs lie apart, in sentences: what a plan comes to, and what to look at again."""

from __future__ import annotations

from collections.abc import Sequence

from nestplan.model import Job, Plan
from nestplan.sheets.unit_formatting import UnitFormatter
from nestplan.yields.mates import MatePair, far_mates, mate_pairs

__all__ = ["far_mate_warnings", "mates_sentence"]


def mates_sentence(plan: Plan, job: Job, formatter: UnitFormatter) -> str:
    """How far apart the pairs of a plan lie; nothing where it has none."""
    pairs = mate_pairs(plan, job)
    if not pairs:
        return ""
    counted = f"{len(pairs)} {'pair' if len(pairs) == 1 else 'pairs'}"
    apart = sorted(pair.apart for pair in pairs if pair.apart is not None)
    other = len(pairs) - len(apart)
    told = []
    if len(apart) == 1:
        told.append(f"{formatter.length(apart[0])} apart")
    elif apart:
        told.append(
            f"half of them within {formatter.length(apart[(len(apart) - 1) // 2])} of each other, the farthest "
            f"{formatter.length(apart[-1])} apart"
        )
    if other:
        told.append(f"{other} on two hides")
    return f"Left and right: {counted}, {', '.join(told)}."


def far_mate_warnings(plan: Plan, job: Job, formatter: UnitFormatter) -> list[str]:
    """What asks for its mate near and does not have it near, a line for each piece and layer."""
    found: dict[tuple[str, str], list[MatePair]] = {}
    for pair in far_mates(plan, job):
        placed = plan.placements[pair.left]
        found.setdefault((placed.piece, placed.layer), []).append(pair)
    limit = formatter.length(job.mates_limit)
    return [
        f"{_name(job, piece, layer)}: left and right are to lie near each other (within {limit}); "
        f"{_where(plan, pairs, formatter)}."
        for (piece, layer), pairs in found.items()
    ]


def _name(job: Job, piece: str, layer: str) -> str:
    return f"{piece}, {layer}" if len(job.piece(piece).cuts) > 1 else piece


def _where(plan: Plan, pairs: Sequence[MatePair], formatter: UnitFormatter) -> str:
    """`set 3: 1829 mm apart; set 5: on two hides`."""
    return "; ".join(
        f"set {plan.placements[pair.left].set}: "
        + ("on two hides" if pair.apart is None else f"{formatter.length(pair.apart)} apart")
        for pair in pairs
    )
