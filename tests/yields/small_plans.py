"""Small plans laid by hand: one hide of 1000 x 600 mm, panels of 100 x 100 mm, straps, lace. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import disc_ring, offset_outward
from nestplan.model import Article, Disc, Flaw, Hide, Job, Layer, Piece, Placement, Plan, Source, Strip
from nestplan.model.piece import LayerCut, Overcut

SIDE = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 600.0), (0.0, 600.0))
SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
HAND = ((0.0, 0.0), (100.0, 0.0), (0.0, 50.0))


def hide(
    name: str = "side", *, flaws: Sequence[Flaw] = (), price: float | None = 60.0, **more: object
) -> Hide:
    """A plain rectangle of 60 dm², for 60 crowns."""
    return Hide(
        name=name, leather="cow side", outline=SIDE, flaws=tuple(flaws), price=price, currency="CRO", **more
    )


def hole_at(x: float, y: float, diameter: float = 40.0, margin: float = 0.0) -> Flaw:
    """A hole right through the leather."""
    return Flaw(spoils="through", disc=Disc(at=(x, y), diameter=diameter), margin=margin)


def panel(name: str = "panel", *, overcut: float = 0.0, **more: object) -> Piece:
    """A square panel."""
    wide = Overcut(least=overcut, wished=overcut) if overcut else None
    return Piece(name=name, outline=SQUARE, cuts=(LayerCut(overcut=wide),), **more)


def job_of(
    *pieces: Piece,
    strips: Sequence[Strip] = (),
    sets: int = 4,
    layers: Sequence[Layer] = (Layer(name="leather"),),
    **more: object,
) -> Job:
    """A job of one article."""
    article = Article(name="case", sets=sets, pieces=tuple(pieces), strips=tuple(strips))
    return Job(name="small job", articles=(article,), layers=tuple(layers), **more)


@dataclass(frozen=True)
class Laid:
    """Where a piece is laid: its lower left as drawn, and its hand."""

    piece: Piece
    x: float
    y: float
    angle: float = 0.0
    mirrored: bool = False
    hide: str = "side"


def plan_of(job: Job, laid: Sequence[Laid], more: Sequence[Placement] = ()) -> Plan:
    """A plan of the pieces as laid, and further placements."""
    placements = []
    for number, each in enumerate(laid):
        pose = Pose(each.x, each.y, each.angle, each.mirrored)
        finished = pose.apply_ring(each.piece.ring)
        overcut = each.piece.cuts[0].overcut
        wide = overcut.least if overcut else 0.0
        placements.append(
            Placement(
                hide=each.hide,
                piece=each.piece.name,
                copy=number + 1,
                x=each.x,
                y=each.y,
                angle=each.angle,
                mirrored=each.mirrored,
                finished=points(finished),
                cut=points(offset_outward(finished, wide)),
                overcut=wide,
            )
        )
    return Plan(name="small plan", job=Source(name=job.name), hides=(), placements=(*placements, *more))


def strap_at(
    strip: Strip, x: float, y: float, *, copy: int = 1, part: int = 0, length: float | None = None
) -> Placement:
    """A strap laid along x."""
    long = strip.length if length is None else length
    ring = ((x, y), (x + long, y), (x + long, y + strip.width), (x, y + strip.width))
    return Placement(
        hide="side", strip=strip.name, copy=copy, part=part, x=x, y=y, finished=ring, cut=ring, length=length
    )


def spiral_at(strip: Strip, x: float, y: float, diameter: float) -> Placement:
    """A lace cut from a disc."""
    ring = points(disc_ring((x, y), diameter / 2, 0.001))
    return Placement(
        hide="side", strip=strip.name, x=x, y=y, finished=ring, cut=ring, length=strip.length, spiral=True
    )


def points(ring: np.ndarray) -> tuple[tuple[float, float], ...]:
    """A ring as the model writes it."""
    return tuple((float(x), float(y)) for x, y in ring)
