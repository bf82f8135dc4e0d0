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
    LacedEdge,
    LacedJoin,
    LacedRow,
    Layer,
    LayerCut,
    Overcut,
    Piece,
    Placement,
    Plan,
    Region,
    Row,
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


def laced_job(*, gap: float = 30.0, closed: float = 10.0, sets: int = 1, **join: Any) -> Job:
    """A laced belt: two fronts of 140 × 90 mm laced together before, each laced to a back of 200 × 90 mm, whose upper
    edge is laced too; the fronts lined.

    Six holes of 5 mm, 12 from the front edge, stand 13.2 mm apart; five slits of 6 mm, 10 from the side edge, 17.5.
    """
    side = {"do": "slit", "length": 6.0, "number": 5, "inset": 10.0}
    front = Piece(
        name="front",
        outline=((0.0, 0.0), (140.0, 0.0), (140.0, 90.0), (0.0, 90.0)),
        cuts=(LayerCut(layer="outer"), LayerCut(layer="lining", reversed=True)),
        pair=True,
        rows=(
            Row(name="front edge", start=(140.0, 0.0), end=(140.0, 90.0), inset=12.0, number=6, diameter=5.0),
            Row(name="side edge", start=(0.0, 0.0), end=(0.0, 90.0), clockwise=True, **side),
        ),
        around=((0.0, 45.0), (140.0, 45.0)),
    )
    back = Piece(
        name="back",
        outline=((0.0, 0.0), (200.0, 0.0), (200.0, 90.0), (0.0, 90.0)),
        cuts=(LayerCut(layer="outer"),),
        rows=(
            Row(name="left edge", start=(0.0, 0.0), end=(0.0, 90.0), clockwise=True, **side),
            Row(name="upper edge", start=(200.0, 90.0), end=(0.0, 90.0), inset=4.0, pitch=8.0, diameter=2.0),
        ),
        around=((0.0, 45.0), (200.0, 45.0)),
    )
    rows = (LacedRow(piece="front", row="front edge"),)
    joins = (
        LacedJoin(
            name="before",
            **({"rows": rows, "gap": gap, "closed": closed, "tail": 100.0} | join),
        ),
        LacedJoin(
            name="beside",
            rows=(LacedRow(piece="front", row="side edge"), LacedRow(piece="back", row="left edge")),
            path="spiral",
            finish="hidden",
            count=2,
        ),
    )
    laces = [Strip(name=name, width=5.0, layer="outer", laces=join) for name, join in LACES.items()]
    belt = Article(
        name="belt",
        sets=sets,
        pieces=(front, back),
        strips=tuple(laces),
        laced_joins=joins,
        laced_edges=(LacedEdge(name="above", piece="back", row="upper edge"),),
    )
    layers = (Layer(name="outer", thickness=(2.0, 2.4)), Layer(name="lining", thickness=(0.8, 1.0)))
    return Job(name="laced belt", articles=(belt,), layers=layers)


LACES = {"lace": "before", "side lace": "beside", "edge lace": "above"}
"""Names of the laces of `laced_job`, and the joins and the edge they are for."""


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
