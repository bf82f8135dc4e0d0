"""The leather a job is cut from, layer by layer, and the tools its marks, seams, glue and lace ask for.

Areas are what is cut, before any waste: how much to buy is asked in `buy`. Tools are named by the size that the job's
own marks have, in the job's unit; which of them the bench has already is not known here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from nestplan.geometry.ring import area
from nestplan.geometry.units import show_length
from nestplan.model.job import Article, Job
from nestplan.model.layer_work import layers_of, time_of
from nestplan.model.piece import Mark

__all__ = ["LeatherNeed", "ToolNeed", "leather_needs", "tool_needs"]


@dataclass(frozen=True)
class LeatherNeed:
    """What is cut for one layer of the whole job: areas in mm2, of finished pieces (`net`) and of cut shapes at their
    least overcut and strips (`cut`). `leather` and `thickness` (mm) are what the layer asks for; both may be empty."""

    layer: str
    leather: tuple[str, ...]
    thickness: tuple[float, float] | None
    net: float
    cut: float


@dataclass(frozen=True)
class ToolNeed:
    """A tool with its size in its name, how many of it one bench wants, and what it is for."""

    tool: str
    number: int
    what_for: str


def leather_needs(job: Job) -> tuple[LeatherNeed, ...]:
    """What is cut for each layer that anything is cut from, in the order of the job."""
    net = dict.fromkeys((layer.name for layer in job.layers), 0.0)
    cut = dict(net)
    for each in job.cut_pieces:
        number = job.articles[each.article].sets * each.piece.count
        net[each.cut.layer] += number * each.net_area
        cut[each.cut.layer] += number * area(each.shape)
    for wanted in job.wanted_strips:
        strip = wanted.strip
        size = job.articles[wanted.article].sets * strip.count * strip.width * strip.length
        net[strip.layer] += size
        cut[strip.layer] += size
    return tuple(
        LeatherNeed(layer.name, layer.leather, layer.thickness, net[layer.name], cut[layer.name])
        for layer in job.layers
        if cut[layer.name] > 0
    )


def tool_needs(job: Job) -> tuple[ToolNeed, ...]:
    """Punches and setters by size, what slits, sewing, gluing and lacing want; common practice, no source."""
    holes: Counter[float] = Counter()
    slits: Counter[float] = Counter()
    hardware: Counter[str] = Counter()
    for mark, number in _marks(job):
        if mark.kind.symbol == "circle" and mark.diameter:
            holes[mark.diameter] += number
        if mark.kind.symbol == "bar" and mark.length:
            slits[mark.length] += number
        if mark.what and mark.kind.takes_hardware:
            hardware[mark.what] += number
    found = [
        ToolNeed(f"punch {show_length(size, job.units)}", 1, _counted(number, "hole"))
        for size, number in sorted(holes.items())
    ]
    found += [
        ToolNeed(f"slit chisel {show_length(size, job.units)}, or a knife", 1, _counted(number, "slit"))
        for size, number in sorted(slits.items())
    ]
    found += [ToolNeed(f"setter for {name}", 1, f"{number} to set") for name, number in hardware.items()]
    return (*found, *_for_sewing_gluing_lacing(job))


def _for_sewing_gluing_lacing(job: Job) -> Iterator[ToolNeed]:
    pieces = [piece for article in job.articles for piece in article.pieces]
    if any(piece.seams if piece.seams is not None else len(piece.cuts) > 1 for piece in pieces):
        if job.supplies.stitch == "saddle":
            yield ToolNeed("blunt harness needle", 2, "saddle stitch, one at each end of the thread")
        else:
            yield ToolNeed(
                "leather-point machine needle, to suit thread and machine", 2, "one in use, one spare"
            )
    if any(len(piece.cuts) > 1 for piece in pieces):
        yield ToolNeed("glue brush or spreader", 1, "joints")
    if any(_is_laced(article) for article in job.articles):
        yield ToolNeed("lacing needle, to suit the lace", 1, "lacing")


def _is_laced(article: Article) -> bool:
    joined = bool(article.laced_joins or article.laced_edges)
    return joined or any(strip.use == "lace" for strip in article.strips)


def _marks(job: Job) -> Iterator[tuple[Mark, int]]:
    """Every mark of the pieces, with how often it is made in all: what is done to single layers, in each of them."""
    for article in job.articles:
        for piece in article.pieces:
            for mark in piece.all_marks:
                times = len(layers_of(piece, mark)) if time_of(piece, mark) == "before gluing" else 1
                yield mark, article.sets * piece.copies_in_set * times


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'s' * (number != 1)}"
