"""What the words and figures on a sheet mean: the definitions that stand in its small print.

The figures themselves come with the plan (`yields` computes them); nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = [
    "FIGURE_DEFINITIONS",
    "TAPE_DEFINITIONS",
    "definition_lines",
]

FIGURE_DEFINITIONS: Sequence[tuple[str, str]] = (
    ("whole hide", "area of the hides that something is cut from: outlines less their openings."),
    ("seller’s", "what the seller’s mark says; kept apart from the measured area and never used in a share."),
    ("usable", "where a finished piece or strip that the hide may serve can lie at all: flaws with their margins, "
     "closed regions and stretch taken off."),
    ("finished", "finished pieces less their openings, and strips; of a spiral lace its length times its width."),
    ("cut shapes", "cut shapes, each with the overcut it got, and strips, with what runs off the edge."),
    ("in pieces, in shapes", "finished pieces, and cut shapes, as shares of the whole hide."),
    ("flaws", "on the leather and spoiled for some piece or strip that the hide may serve, margins included, and "
     "not cut over."),
    ("overcut", "cut away later: cut shapes less finished pieces, so bands, openings and the middles of lace discs."),
    ("gaps", "of the rest, what lies within half the knife gap of a cut shape."),
    ("too small", "the rest of the rest: narrower than the job’s useful width. In the line “together” the last four "
     "are shares of the whole; with finished pieces and the offcuts to keep they make up the whole."),
    ("offcut to keep", "a connected part of what is left after everything narrower than the useful width is taken "
     "off; its largest rectangle and disc lie wholly inside it."),
    ("lace", "what the offcut gives in lace as wide as the job’s narrowest, or 1/4 in: geometry, without stretch."),
    ("at most", "an upper bound on whole sets of that article by itself that no plan on these hides can pass."),
    ("hide bought", "the price of the whole hide; a set’s share is the sum over all whole sets. A dash: not known."),
    ("leather used", "the hide’s price less the share of it in offcuts to keep, which go back to the rack at that "
     "price: what is cut, with the waste between and round it."),
)  # fmt: skip

TAPE_DEFINITIONS: Sequence[tuple[str, str]] = (
    ("A and B", "two points to mark on the hide first: A at the tail end and B at the neck end of the backbone; on a "
     "hide without a drawn backbone, the ends of its longest straight edge, or its two points farthest apart."),
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
    ("mate, apart", "the number of the other one of the pair, and how far from it that lies, edge to edge."),
)  # fmt: skip


def definition_lines(terms: Sequence[tuple[str, str]]) -> list[str]:
    """Each term with its meaning, one text a term."""
    return [f"{term}: {meaning}" for term, meaning in terms]
