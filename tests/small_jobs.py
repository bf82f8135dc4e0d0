"""Small hides, jobs and plans built by hand, by name; each is easy to check on paper.

`plain_hide` is 1000 × 800 mm with its backbone along the upper edge, neck at the right.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestplan.geometry.pose import Pose
from nestplan.model import (
    Article,
    Disc,
    Flaw,
    Hide,
    Job,
    Layer,
    LayerCut,
    Overcut,
    Piece,
    Placement,
    Plan,
    Region,
    Source,
    Strip,
)
from nestplan.model.files import content_hash

WIDE, HIGH = 1000.0, 800.0
RECTANGLE = ((0.0, 0.0), (WIDE, 0.0), (WIDE, HIGH), (0.0, HIGH))
#: 100 × 60 mm with one corner cut off, so that its mirror image is another shape.
HANDED = ((0.0, 0.0), (100.0, 0.0), (100.0, 30.0), (70.0, 60.0), (0.0, 60.0))
SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))


def plain_hide(name: str = "plain", **changes: Any) -> Hide:
    values: dict[str, Any] = {
        "name": name,
        "leather": "cow side",
        "outline": RECTANGLE,
        "backbone": ((WIDE, HIGH), (0.0, HIGH)),
        "price": 100.0,
        "currency": "EUR",
    }
    return Hide(**{**values, **changes})


def flawed_hide(spoils: str, *, margin: float = 0.0) -> Hide:
    """The plain hide with one round flaw of 40 mm at its middle."""
    return plain_hide(
        flaws=(Flaw(spoils=spoils, disc=Disc(at=(500.0, 400.0), diameter=40.0), margin=margin),)
    )


def two_region_hide() -> Hide:
    """Left half bend (firm 5, stretch 90°), right half belly (firm 1, stretches every way)."""
    return plain_hide(
        regions=(
            Region(name="bend", outline=((0, 0), (500, 0), (500, 800), (0, 800)), firmness=5, stretch=90.0),
            Region(
                name="belly",
                outline=((500, 0), (1000, 0), (1000, 800), (500, 800)),
                firmness=1,
                stretch="all",
            ),
        )
    )


def one_piece_job(piece: Piece | None = None, *, sets: int = 1, **changes: Any) -> Job:
    piece = piece or Piece(name="square", outline=SQUARE)
    layers = tuple(Layer(name=cut.layer) for cut in piece.cuts)
    values: dict[str, Any] = {
        "name": "small",
        "articles": (Article(name="thing", sets=sets, pieces=(piece,)),),
        "layers": layers,
    }
    return Job(**{**values, **changes})


def strap_job(*, width: float = 40.0, length: float = 900.0, sets: int = 3, **changes: Any) -> Job:
    strip = Strip(name="strap", width=width, length=length, **changes)
    return Job(name="straps", articles=(Article(name="belt", sets=sets, strips=(strip,)),))


def lined_piece(**changes: Any) -> Piece:
    """A handed piece, outer and reversed lining with an overcut of 6 to 12 mm."""
    cuts = (
        LayerCut(layer="outer"),
        LayerCut(layer="lining", shows="hidden", reversed=True, overcut=Overcut(least=6.0, wished=12.0)),
    )
    return Piece(name="panel", outline=HANDED, cuts=cuts, **changes)


def laid(
    job: Job, piece: Piece, pose: Pose, *, hide: str = "plain", layer: str = "leather", **changes: Any
) -> Placement:
    """A placement of `piece` at `pose`, at the least overcut unless `overcut` says otherwise."""
    part = next(cut for cut in job.cut_pieces if cut.piece is piece and cut.cut.layer == layer)
    overcut = changes.pop("overcut", part.least_overcut)
    cut = part.shape_at(overcut) if not part.mirrored else part.in_hand(part.shape_at(overcut))
    return Placement(
        hide=hide,
        piece=piece.name,
        layer=layer,
        mirrored=pose.mirrored,
        angle=pose.angle,
        x=pose.x,
        y=pose.y,
        overcut=overcut,
        finished=tuple(map(tuple, pose.apply(piece.ring).tolist())),
        cut=tuple(map(tuple, pose.apply(cut).tolist())),
        **changes,
    )


def plan_of(job: Job, hides: Sequence[Hide], placements: Sequence[Placement], **changes: Any) -> Plan:
    return Plan(
        name=job.name,
        job=Source(name=job.name, hash=content_hash(job)),
        hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in hides),
        placements=tuple(placements),
        **changes,
    )
