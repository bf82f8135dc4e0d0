"""A job narrowed to a question: what one hide can serve of it, other numbers of sets, sizes in a ratio.

The answers are ordinary jobs, so whatever plans a job plans these. Nothing here looks for places.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import msgspec

from nestplan.errors import InputError, RuleError
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.layer_work import layers_of
from nestplan.model.mark_rows import Row
from nestplan.model.marks import Mark, Opening
from nestplan.model.piece import Piece, Strip

__all__ = [
    "STRAPS_OFF",
    "apportion",
    "job_for_hides",
    "job_for_kind",
    "job_for_layers",
    "read_ratio",
    "strap_job",
    "with_sets",
]


STRAPS_OFF = ("belly",)
"""Regions that straps stay off unless told otherwise: belts are cut along the backbone, well off the belly
(nayscustomleather.blogspot.com, 2013)."""


def job_for_hides(job: Job, *hides: Hide) -> Job | None:
    """The part of a job that may be cut from `hides`: its pieces in the layers that take at least one of them.
    None if no layer does."""
    layers = [layer.name for layer in job.layers if any(layer.takes(hide) for hide in hides)]
    return (
        job_for_layers(job, layers) if any(_cut_from(article, layers) for article in job.articles) else None
    )


def job_for_layers(job: Job, layers: Collection[str]) -> Job:
    """The part of a job that is cut from the layers named. Raises RuleError if nothing is."""
    articles = tuple(_part_of(article, layers) for article in job.articles if _cut_from(article, layers))
    if not articles:
        raise RuleError(
            f"Nothing in the job is cut from {', '.join(sorted(layers)) or 'this leather'}.",
            mend="Look at the layers and the leather they take.",
        )
    return msgspec.structs.replace(
        job, articles=articles, layers=tuple(layer for layer in job.layers if layer.name in layers)
    )


def job_for_kind(job: Job, leather: str, layer: str | None = None) -> Job:
    """The part of a job that is to be cut from leather still to be bought, free of the hides at hand.

    The layer is the one named; else those whose `leather` names the kind; else the job's only layer. Raises
    InputError for an unknown layer, RuleError where it is not clear which layer is meant.
    """
    names = [each.name for each in job.layers]
    if layer is not None:
        if layer not in names:
            raise InputError(
                f"No layer is called '{layer}'.", mend=f"Take one of: {', '.join(names)}.", place="layer"
            )
        chosen = [layer]
    else:
        spoken = leather.replace("-", " ")
        chosen = [each.name for each in job.layers if leather in each.leather or spoken in each.leather]
        if not chosen and len(names) == 1:
            chosen = names
    if not chosen:
        raise RuleError(
            f"It is not clear which layer is to be cut from '{leather}'.",
            mend=f"Name the layer: {', '.join(names)}.",
        )
    narrowed = job_for_layers(job, chosen)
    # Only whether all lies is asked of such a job: how near mates lie is no matter, and takes time.
    return msgspec.structs.replace(
        narrowed, layers=tuple(Layer(name=each.name) for each in narrowed.layers), mates_price=0.0
    )


def with_sets(job: Job, sets: Mapping[str, int]) -> Job:
    """The same job asking for `sets` of each article; articles asked 0 times fall away.

    Raises InputError for an article that the job does not have.
    """
    names = {article.name for article in job.articles}
    for name in sets:
        if name not in names:
            raise InputError(
                f"No article is called '{name}'.", mend=f"Use {', '.join(sorted(names))}.", place="articles"
            )
    articles = tuple(
        msgspec.structs.replace(article, sets=sets[article.name])
        for article in job.articles
        if sets.get(article.name, 0) > 0
    )
    return msgspec.structs.replace(job, articles=articles)


def apportion(total: int, shares: Mapping[str, float]) -> dict[str, int]:
    """`total` sets shared out in the ratio of `shares`, whole and so that one more set never takes one away.

    Webster's divisor method (Balinski and Young, Fair Representation, 1982): the next set goes to the name
    with the greatest share / (2 * given + 1), the earlier name on a tie. Raises InputError unless all shares
    are above 0.
    """
    if not shares or not all(share > 0.0 for share in shares.values()) or total < 0:
        raise InputError("A ratio needs figures above 0.", mend="Give one for each article, such as 3:5:2.")
    given = dict.fromkeys(shares, 0)
    for _ in range(total):
        name = max(shares, key=lambda each: shares[each] / (2 * given[each] + 1))
        given[name] += 1
    return given


def read_ratio(text: str, job: Job) -> dict[str, float]:
    """The share of each article that a text such as `3:5:2` says, in the order of the job.

    Raises InputError where it is no ratio, or has not one figure above 0 for each article.
    """
    names = [article.name for article in job.articles]
    try:
        shares = [float(part) for part in text.split(":")]
    except ValueError:
        raise InputError(f"'{text}' is no ratio.", mend="Give such as 3:5:2.") from None
    if len(shares) != len(names):
        quoted = ", ".join(f"'{name}'" for name in names)
        raise InputError(
            f"The ratio '{text}' has not one figure for each article of the job ({len(names)}).",
            mend=f"Give one each for {quoted}.",
        )
    if not all(0.0 < share < float("inf") for share in shares):
        raise InputError(f"The ratio '{text}' needs figures above 0.", mend="Give such as 3:5:2.")
    return dict(zip(names, shares, strict=True))


def strap_job(
    length: float,
    width: float,
    *,
    joins: int = 0,
    sets: int = 1,
    along_backbone: bool = True,
    off: Sequence[str] = STRAPS_OFF,
    least_firmness: int = 1,
    useful_width: float = 50.0,
) -> Job:
    """A job of straps alone: `sets` of one strap, `length` x `width` mm, in one piece or with up to `joins` joins.

    They stay off the regions named and where the leather is less firm than that (1 to 5).
    """
    strap = Strip(
        name="strap",
        length=length,
        width=width,
        joins=joins,
        along="backbone" if along_backbone else "any",
        not_regions=tuple(off),
        least_firmness=least_firmness,
    )
    return Job(
        name="straps",
        articles=(Article(name="strap", sets=sets, strips=(strap,)),),
        useful_width=useful_width,
    )


def _part_of(article: Article, layers: Collection[str]) -> Article:
    """What of an article is cut from the layers named; its laces are as long as they are in the whole."""
    return msgspec.structs.replace(
        article,
        pieces=tuple(
            _piece_in(piece, layers)
            for piece in article.pieces
            if any(cut.layer in layers for cut in piece.cuts)
        ),
        strips=tuple(
            msgspec.structs.replace(strip, laces="") for strip in article.strips if strip.layer in layers
        ),
        laced_joins=(),
        laced_edges=(),
    )


def _piece_in(piece: Piece, layers: Collection[str]) -> Piece:
    """The piece as it is cut from the layers named, with what is done to them inside it."""

    def in_layers(item: Mark | Opening) -> tuple[str, ...]:
        return tuple(layer for layer in layers_of(piece, item) if layer in layers)

    alone: list[Mark | Opening] = [*piece.openings, *piece.marks]
    done: list[tuple[Mark | Opening | Row, tuple[str, ...]]] = [(each, in_layers(each)) for each in alone]
    done += [(row, in_layers(marks[0])) for row, marks in zip(piece.rows, piece.marks_of_rows, strict=True)]
    kept = [msgspec.structs.replace(each, layers=found) for each, found in done if found]
    return msgspec.structs.replace(
        piece,
        cuts=tuple(cut for cut in piece.cuts if cut.layer in layers),
        holes=tuple(each for each in kept if isinstance(each, Opening)),
        marks=tuple(each for each in kept if isinstance(each, Mark)),
        rows=tuple(each for each in kept if isinstance(each, Row)),
    )


def _cut_from(article: Article, layers: Collection[str]) -> bool:
    return any(cut.layer in layers for piece in article.pieces for cut in piece.cuts) or any(
        strip.layer in layers for strip in article.strips
    )
