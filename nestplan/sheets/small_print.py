"""What the words and figures on a sheet mean: the definitions that stand in its small print.

The figures themselves come with the plan (`yields` computes them); nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = [
    "FIGURES",
    "TAPE",
    "definition_lines",
]

FIGURES: Sequence[tuple[str, str]] = (
    ("leather used (gross)", "area of the outlines of the hides that something is cut from, less their openings."),
    ("marked area", "what the seller's mark says; kept apart from the measured area and never used in a yield."),
    ("usable", "the part of the gross area where the job's pieces may lie at all: flaws, their margins and closed "
     "regions taken off."),
    ("net", "finished pieces, less their openings, and strips."),
    ("cut", "cut shapes: the pieces grown by the overcut each one got, and strips."),
    ("net yield, cut yield", "net and cut as shares of the gross area of the leather used."),
    ("lost to flaws, overcut, gaps", "shares of the gross area: spoiled and not cut over; cut away after gluing; "
     "left for the knife between shapes."),
    ("too small to keep", "what is left but narrower than the job's useful width, as a share of the gross area."),
    ("offcut to keep", "a connected part of what is left after everything narrower than the useful width is taken "
     "off; its largest rectangle and disc lie wholly inside it."),
    ("metres of lace", "area of the offcut divided by the lace's width: geometry only, without stretch."),
    ("at most", "an upper bound on whole sets that no plan on this leather can pass."),
    ("cost", "price of the hides that something is cut from; a set's share is that sum divided by the whole sets."),
)  # fmt: skip

TAPE: Sequence[tuple[str, str]] = (
    ("A and B", "two points to mark on the hide first: A at the tail end and B at the neck end of the backbone; on a "
     "hide without a drawn backbone, the two points of its edge that lie farthest apart."),
    ("rear edge", "a straight line square to A–B against the hide’s rearmost point: lay a rule there."),
    ("from rear, from line", "the place of P, measured along A–B from the rear edge and square to it from the line "
     "A–B; L and R are left and right of the line when looking from A to B, grain side up."),
    ("P–A, P–B, Q–A, Q–B", "straight distances by tape: with two tapes, or two arcs, they place P and Q without a "
     "square."),
    ("P and Q", "the two corners of the finished outline that lie farthest apart; they are marked on the full-size "
     "sheet. Of strips: the ends of the first long edge. Of a disc: its centre and a point of its edge."),
    ("turn", "direction from P to Q against the direction from A to B, degrees counter-clockwise, grain side up."),
    ("template", "“as drawn” or “turned over”, always laid on the grain side."),
    ("overcut", "how much wider than the finished piece it is cut here, all round; trimmed off after gluing."),
)  # fmt: skip


def definition_lines(terms: Sequence[tuple[str, str]]) -> list[str]:
    """Each term with its meaning, one text a term."""
    return [f"{term}: {meaning}" for term, meaning in terms]
