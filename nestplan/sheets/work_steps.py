"""The order of work of a job, step by step, with the reason of each: only the steps that this job needs.

Common workshop practice in our own words, no source but where one stands beside a line; bench and maker decide.
What is cut where on the hide, and in which order, is said by `cutting_order`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from nestplan.model import Job, Mark, Piece, Strip
from nestplan.model.layer_work import work_after_trimming, work_at_table
from nestplan.sheets import cautions
from nestplan.sheets.unit_formatting import UnitFormatter
from nestplan.sheets.work_words import through_lines, work_of_single_layers

__all__ = ["Tool", "WorkStep", "work_steps"]


@dataclass(frozen=True)
class Tool:
    """A tool, and how many people at one bench can share one of it."""

    name: str
    shared_by: int = 1


@dataclass(frozen=True)
class WorkStep:
    """One step: a short name, what to do, why it is done so and now, and what to take care of.

    `details` are what this job needs done in it, a line each; `tools` what it is done with; `wrong` what goes wrong
    in it, and how that is seen.
    """

    name: str
    what: str
    why: str
    care: tuple[str, ...] = ()
    details: tuple[str, ...] = ()
    tools: tuple[Tool, ...] = ()
    wrong: str = ""


_KNIFE, _RULE, _BOARD = Tool("sharp knife"), Tool("steel rule", 2), Tool("cutting board")
_AWL, _MALLET = Tool("scratch awl or silver pen"), Tool("mallet and punching board", 2)


def work_steps(job: Job, formatter: UnitFormatter | None = None) -> tuple[WorkStep, ...]:
    """The steps from looking at the leather to putting the offcuts away, in order."""
    given = _JobWork(job, formatter or UnitFormatter(job.units))
    steps = (
        _look(),
        _mark_out(given),
        _cut_strips(given),
        _cut_pieces(given),
        _work_single_layers(given),
        _finish(given),
        _glue(given),
        _join(given),
        _trim(given),
        _edges(),
        _punch(given),
        _sew(given),
        _set_hardware(given),
        _lace(given),
        _put_away(),
    )
    return tuple(step for step in steps if step is not None)


@dataclass(frozen=True)
class _JobWork:
    """What of a job decides which steps it needs."""

    job: Job
    formatter: UnitFormatter

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple(piece for article in self.job.articles for piece in article.pieces)

    @cached_property
    def strips(self) -> tuple[Strip, ...]:
        return tuple(strip for article in self.job.articles for strip in article.strips)

    @property
    def laces(self) -> bool:
        joined = any(article.laced_joins or article.laced_edges for article in self.job.articles)
        return joined or any(strip.use == "lace" for strip in self.strips)

    @property
    def lined(self) -> tuple[Piece, ...]:
        """The pieces of several layers."""
        return tuple(piece for piece in self.pieces if len(piece.cuts) > 1)

    @property
    def trimmed(self) -> tuple[Piece, ...]:
        """The pieces with an overcut on a layer."""
        return tuple(piece for piece in self.pieces if any(cut.overcut is not None for cut in piece.cuts))

    def late_marks(self) -> Iterator[Mark]:
        """The marks that are done to glued and trimmed pieces, and to those of one layer."""
        for piece in self.pieces:
            yield from work_after_trimming(piece).marks if len(piece.cuts) > 1 else piece.all_marks

    def early_marks(self) -> Iterator[Mark]:
        """The marks that are done to single layers before they are glued."""
        for piece in self.lined:
            for cut in piece.cuts:
                yield from work_at_table(piece, cut.layer).marks


def _look() -> WorkStep:
    return WorkStep(
        "Look at the leather",
        "Both faces in good light; bend it, feel for loose and thin places; check thickness at several places.",
        # Cracks a third of the thickness deep were invisible from the front (salukifeathers.com).
        "Some faults show on one face only, and one found after cutting costs the piece.",
        tools=(Tool("good lamp", 4), Tool("thickness gauge", 8)),
        wrong="A fault missed shows when the piece is bent round a finger: cracks, loose grain, a thin place.",
    )


def _mark_out(given: _JobWork) -> WorkStep:
    what = "Lay the hide flat, grain side up; mark A, B and the rear edge; set out the pieces by the table."
    if given.lined:
        what += (
            " Mark the finished line, holes, slits, spots, centre and mates on the outer, where they will not show if "
            "that can be; the lining gets no marks but its own cut line."
        )
    return WorkStep(
        "Mark out",
        what,
        "All measures start from the same two points, so that an error in one piece does not push the next.",
        tools=(Tool("templates", 2), _AWL, Tool("two tapes", 2), _RULE),
        wrong="A left where a right should be: lay the template of each pair twice, once turned over, before cutting.",
    )


def _cut_strips(given: _JobWork) -> WorkStep | None:
    if not given.strips:
        return None
    return WorkStep(
        "Straight edge and strips",
        "Strike the straight edge with a long rule, cut it, then cut straps"
        + (" and lace." if given.laces else "."),
        "A strip cutter follows the edge: what is crooked there is crooked in every strip.",
        cautions.CUTTING[2:3],
        tools=(Tool("long rule", 4), _KNIFE, Tool("strip cutter", 4)),
        wrong="A strip that grows narrower: the cutter was not held to the edge; measure both ends of the first one.",
    )


def _cut_pieces(given: _JobWork) -> WorkStep | None:
    if not given.pieces:
        return None
    return WorkStep(
        "Cut the pieces",
        "In the order of the cut sheet, along the solid cut line; tick each off and keep pairs together.",
        "Firm leather and large pieces first, while there is still another place for them.",
        cautions.CUTTING[:2],
        tools=(_KNIFE, _BOARD, _RULE),
        wrong="An edge that leans: the knife was tilted; lay the piece on its template and hold both to the light.",
    )


def _work_single_layers(given: _JobWork) -> WorkStep | None:
    details = work_of_single_layers(given.pieces, given.formatter)
    if not details:
        return None
    setters = _setters(given.early_marks())
    what = "Cut out the openings and make the slits and holes of a single layer; tool and decorate it."
    if setters:
        what += " Set the spots and rivets that the lining is to cover."
    return WorkStep(
        "Work on single layers",
        what,
        "What goes through one layer only cannot be reached once the layers are glued, and what the lining covers "
        "does not touch the wearer.",
        cautions.PUNCHING,
        tuple(details),
        (_KNIFE, _BOARD, *setters, _MALLET),
        "An opening made in the wrong layer: read the layer on the template before each cut.",
    )


def _finish(given: _JobWork) -> WorkStep | None:
    if not given.lined:
        return None
    return WorkStep(
        "Colour and finish",
        "Colour and finish now what the glue must not stain; keep the faces to be glued bare; let it dry as its maker "
        "says.",
        "Colour put on later stops at every trace of glue, and glue does not hold on a finish.",
        tools=(Tool("colour, cloths, gloves", 4),),
        wrong="Pale edges along the glued layers: finish ran into the band to be glued, or glue over the colour.",
    )


def _glue(given: _JobWork) -> WorkStep | None:
    if not given.lined:
        return None
    band = given.job.supplies.glue_band
    if band is None:
        where = "Coat both flesh sides all over"
    else:
        where = (
            f"Coat both flesh sides in a band that reaches {given.formatter.length(band)} inside the finished line, "
            "all round; the middle stays loose"
        )
    loose = [piece.name for piece in given.lined if piece.openings]
    if loose:
        where += f"; leave the openings bare ({', '.join(loose)})"
    return WorkStep(
        "Glue the layers",
        f"{where}. Mark what stays loose, such as turn-ins, pockets or a band to be sewn first, and leave it bare. "
        f"{_wait(given.job.supplies.minutes_before_joining, 'before joining')}",
        "Both faces carry glue so that it holds in the leather and not only on it.",
        cautions.GLUING,
        tools=(Tool("glue and brush", 2), Tool("masking tape", 4)),
        wrong="Shiny wet glue, joined too soon, slides and stays soft; dull and dry, it no longer grips.",
    )


def _join(given: _JobWork) -> WorkStep | None:
    if not given.lined:
        return None
    return WorkStep(
        "Join and press",
        "From the middle out, without pulling the layer that stretches more; roll or hammer it down towards the edges. "
        + _wait(given.job.supplies.minutes_before_trimming, "before trimming"),
        "A pull that is glued in comes out again as a curl; air that is shut in stays in.",
        tools=(Tool("roller or flat hammer", 2), Tool("flat board", 2)),
        wrong="A bubble or a wrinkle: lift that place at once and lay it again; once set it is there for good.",
    )


def _wait(minutes: float | None, what: str) -> str:
    if minutes is None:
        return f"Wait {what} as long as the label says."
    return f"Wait about {minutes:g} minutes {what}, as this job says; the label comes first."


def _trim(given: _JobWork) -> WorkStep | None:
    if not given.trimmed:
        return None
    single = [piece.name for piece in given.trimmed if len(piece.cuts) == 1]
    joined = [piece for piece in given.trimmed if len(piece.cuts) > 1]
    guided = [piece.name for piece in joined if any(cut.overcut is None for cut in piece.cuts)]
    lines = [piece.name for piece in joined if piece.name not in guided]
    words = []
    if guided:
        words.append("with the exact layer as the guide" + _only(guided, given))
    if lines:
        words.append(
            "along the finished line marked on the outside of the outer, the only guide where every layer is wider"
            + _only(lines, given)
        )
    if single:
        words.append("along the finished line" + _only(single, given))
    return WorkStep(
        "Trim to the finished line",
        "When the glue has set, cut all layers together " + "; ".join(words) + ".",
        "One cut through all layers gives one clean edge; that is what the overcut was left for.",
        cautions.CUTTING[:1],
        tools=(_KNIFE, _BOARD, _RULE),
        wrong="The lining peeps out or falls short: the knife leaned; hold it upright and look from both sides.",
    )


def _only(names: list[str], given: _JobWork) -> str:
    """The pieces that are meant, where they are not all that are trimmed."""
    return "" if len(names) == len(given.trimmed) else f" ({', '.join(names)})"


def _edges() -> WorkStep:
    return WorkStep(
        "Edges",
        "Bevel, damp and rub, or paint; let every coat dry.",
        "A closed edge keeps water and dirt out of the layers.",
        cautions.DUST,
        tools=(Tool("edge beveller", 4), Tool("sandpaper", 2), Tool("edge rubber or cloth", 2)),
        wrong="A furry edge: rubbed too dry; a dark one: too wet.",
    )


def _punch(given: _JobWork) -> WorkStep | None:
    pieces = [piece for piece in given.pieces if any(mark.kind.cuts for mark in _late(piece))]
    if not pieces:
        return None
    layers = ", through all layers at once" if given.lined else ""
    return WorkStep(
        "Holes and slits",
        f"Mark them through from the full-size sheet; punch and slit on a sound board{layers}"
        + (", after gluing and trimming." if given.trimmed else "."),
        "Holes cannot be taken back: they are made once everything that could still move is fast.",
        cautions.PUNCHING,
        tuple(through_lines(pieces, given.formatter)),
        (*_punches(given), _MALLET, _KNIFE),
        "A torn hole at the back: a blunt punch or a soft board; try it on a scrap of the same stack first.",
    )


def _late(piece: Piece) -> tuple[Mark, ...]:
    return work_after_trimming(piece).marks if len(piece.cuts) > 1 else piece.all_marks


def _punches(given: _JobWork) -> tuple[Tool, ...]:
    """A punch for each diameter."""
    sizes = sorted(
        {mark.diameter for mark in given.late_marks() if mark.kind.symbol == "circle" and mark.diameter}
    )
    return tuple(Tool(f"punch {given.formatter.length(size)}", 4) for size in sizes)


def _sew(given: _JobWork) -> WorkStep | None:
    if not given.lined and not any(piece.seams for piece in given.pieces):
        return None
    return WorkStep(
        "Sew",
        "Try the stitch length on a scrap of the same stack; keep even distance from the edge.",
        "Needle holes stay; stitches too close together cut like a perforation. It is done before hardware that the "
        "presser foot would strike.",
        tools=(Tool("needles and thread"), Tool("stitching awl or pricking iron", 2), Tool("clamp", 2)),
        wrong="A seam that runs off its line shows first at the corners: mark the line before the first stitch.",
    )


def _setters(marks: Iterable[Mark]) -> tuple[Tool, ...]:
    """A setter for each kind of hardware that is set in marks."""
    names = dict.fromkeys(mark.what for mark in marks if mark.what and mark.kind.takes_hardware)
    return tuple(Tool(f"setter for {name}", 4) for name in names)


def _set_hardware(given: _JobWork) -> WorkStep | None:
    setters = _setters(given.late_marks())
    if not setters:
        return None
    return WorkStep(
        "Set the hardware",
        "Try one on a scrap of the same thickness first; check the size on the packet against the hole.",
        "Barrels come in lengths: too short does not clinch, too long folds over.",
        cautions.PUNCHING,
        tools=(*setters, _MALLET),
        wrong="A split or tilted barrel: it turns under the finger; drill it out and set another.",
    )


def _lace(given: _JobWork) -> WorkStep | None:
    if not given.laces:
        return None
    return WorkStep(
        "Lace",
        "Pull the lace gently to even it out; where both ends are worked, lace up from the middle of its length. "
        "Work with lengths you can handle and join them.",
        # Pulling stretches and narrows it (leatherworker.net, making lace).
        "Every pull through a hole wears the lace, stretches it and makes it narrower.",
        details=tuple(_laced(given)),
        tools=(Tool("lacing needle"),),
        wrong="One side longer than the other: the lace was not started at its middle.",
    )


def _laced(given: _JobWork) -> Iterator[str]:
    """What is laced, a line for each join and edge; how is drawn under Lacing."""
    for article in given.job.articles:
        found = [
            (join.join.name, f"{join.join.path}, {join.pairs} pairs", join.cut_length)
            for join in given.job.worked_joins(article)
        ]
        found += [
            (edge.edge.name, f"{edge.edge.stitch}, {edge.holes} holes", edge.cut_length)
            for edge in given.job.worked_edges(article)
        ]
        for name, how, lace in found:
            yield f"{article.name}, {name}: {how}, lace {given.formatter.length(lace)}"


def _put_away() -> WorkStep:
    return WorkStep(
        "Put away",
        "Count and check every set against the list; label the offcuts to keep and enter them in the stock.",
        "An offcut whose shape is known can be planned with; one in the heap is lost.",
        tools=(Tool("labels and pen", 4),),
        wrong="A piece is missing: it is found today, not on the day it is needed.",
    )
