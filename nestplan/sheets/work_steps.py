"""The order of work of a job, step by step, with the reason of each: only the steps that this job needs.

Common workshop practice in our own words; sources of single rules stand beside them. What is cut where, and in
which order on the hide, is `cutting_order`'s.
"""

from __future__ import annotations

from dataclasses import dataclass

from nestplan.model import Job
from nestplan.sheets import cautions

__all__ = ["WorkStep", "work_steps"]


@dataclass(frozen=True)
class WorkStep:
    """One step: a short name, what to do, why it is done so and now, and what to take care of."""

    name: str
    what: str
    why: str
    care: tuple[str, ...] = ()


def work_steps(job: Job) -> tuple[WorkStep, ...]:
    """The steps from looking at the leather to putting the offcuts away, in order."""
    pieces = [piece for article in job.articles for piece in article.pieces]
    strips = [strip for article in job.articles for strip in article.strips]
    lined = any(len(piece.cuts) > 1 for piece in pieces)
    overcut = any(cut.overcut is not None for piece in pieces for cut in piece.cuts)
    marks = [mark for piece in pieces for mark in piece.marks]
    laces = any(strip.use == "lace" for strip in strips)
    sewn = lined or any(piece.seams for piece in pieces)
    steps = [
        WorkStep(
            "Look at the leather",
            "Both faces in good light; bend it, feel for loose and thin places; check thickness at several places.",
            # Cracks a third of the thickness deep were invisible from the front (salukifeathers.com).
            "Some faults show on one face only, and one found after cutting costs the piece.",
        ),
        WorkStep(
            "Mark out",
            "Lay the hide flat, grain side up; mark A, B and the rear edge; set out the pieces by the table.",
            "All measures start from the same two points, so that an error in one piece does not push the next.",
        ),
    ]
    if strips:
        steps.append(
            WorkStep(
                "Straight edge and strips",
                "Strike the straight edge with a long rule, cut it, then cut straps"
                + (" and lace." if laces else "."),
                "A strip cutter follows the edge: what is crooked there is crooked in every strip.",
                cautions.CUTTING[2:3],
            )
        )
    if pieces:
        steps.append(
            WorkStep(
                "Cut the pieces",
                "In the order of the cut sheet, along the solid cut line; tick each off and keep pairs together.",
                "Firm leather and large pieces first, while there is still another place for them.",
                cautions.CUTTING[:2],
            )
        )
    if lined:
        steps.append(
            WorkStep(
                "Glue the layers",
                "Coat both faces, wait as the label says, join from one edge to the other and rub down.",
                "Both faces carry glue so that it holds in the leather and not only on it; air shut in stays in.",
                cautions.GLUING,
            )
        )
    if overcut:
        steps.append(
            WorkStep(
                "Trim to the finished line",
                "When the joint has set, cut all layers together along the dashed finished line, with the exact layer "
                "as the guide.",
                "One cut through all layers gives one clean edge; that is what the overcut was left for.",
                cautions.CUTTING[:1],
            )
        )
    if any(mark.kind.cuts for mark in marks):
        steps.append(
            WorkStep(
                "Holes and slits",
                "Mark them through from the full-size sheet; punch and slit on a sound board"
                + (", after gluing and trimming." if overcut else "."),
                "Holes cannot be taken back: they are made once everything that could still move is fast.",
                cautions.PUNCHING,
            )
        )
    if any(mark.kind.symbol == "circle" and mark.what for mark in marks):
        steps.append(
            WorkStep(
                "Set the hardware",
                "Try one on a scrap of the same thickness first; check the size on the packet against the hole.",
                "Barrels come in lengths: too short does not clinch, too long folds over.",
                cautions.PUNCHING,
            )
        )
    if sewn:
        steps.append(
            WorkStep(
                "Sew",
                "Try the stitch length on a scrap of the same stack; keep even distance from the edge.",
                "Needle holes stay; stitches too close together cut like a perforation.",
            )
        )
    steps.append(
        WorkStep(
            "Edges",
            "Bevel, damp and rub, or paint; let every coat dry.",
            "A closed edge keeps water and dirt out of the layers.",
            cautions.DUST,
        )
    )
    if laces:
        steps.append(
            WorkStep(
                "Lace",
                "Pull the lace gently to even it out, then lace up from the middle of its length; work with lengths "
                "you can handle and join them.",
                # Pulling stretches and narrows it (leatherworker.net, making lace).
                "Every pull through a hole wears the lace, stretches it and makes it narrower.",
            )
        )
    steps.append(
        WorkStep(
            "Put away",
            "Count and check every set against the list; label the offcuts to keep and enter them in the stock.",
            "An offcut whose shape is known can be planned with; one in the heap is lost.",
        )
    )
    return tuple(steps)
