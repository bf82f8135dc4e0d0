"""Plans laid by hand, for the sheets to show: all invented, none of them clever.

`belt_plan` has one of everything: straps from an edge, lace from a disc, pairs, a lining with an overcut,
flaws of all four kinds, regions, an offcut, something already cut, something unplaced. `many_plan` is large.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from nestplan.geometry.pose import Pose
from nestplan.model import (
    Article,
    Disc,
    Figures,
    Flaw,
    Hide,
    Job,
    Layer,
    LayerCut,
    Line,
    Mark,
    Offcut,
    Opening,
    Overcut,
    Piece,
    Placement,
    Plan,
    Region,
    Row,
    Source,
    StretchRule,
    Strip,
    Unplaced,
)
from nestplan.model.piece import cut_ring
from nestplan.model.plan import HideFigures, SetFigures
from nestplan.model.tape_shape import hide_template


def points(ring: np.ndarray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in ring)


def side() -> Hide:
    """A cow side, backbone along the bottom, rear at the left, with one flaw of every kind."""
    shape = hide_template("cow-side", length=2000.0)
    regions = tuple(
        Region(name=zone.name, outline=points(zone.ring), firmness=zone.firmness, stretch=zone.stretch)
        for zone in shape.regions
    )
    return Hide(
        name="Cow side A",
        leather="veg-tan cow side",
        outline=points(shape.ring),
        backbone=shape.backbone,
        regions=regions,
        flaws=(
            Flaw(spoils="through", disc=Disc(at=(620.0, 640.0), diameter=30.0), margin=5.0, name="hole"),
            Flaw(
                spoils="grain",
                line=Line(points=((1300.0, 330.0), (1410.0, 380.0), (1460.0, 420.0)), width=14.0),
                name="barbed wire scratch",
            ),
            Flaw(spoils="flesh", disc=Disc(at=(1160.0, 620.0), diameter=60.0), name="flay cut"),
            Flaw(
                spoils="mark",
                outline=((1500.0, 450.0), (1600.0, 440.0), (1620.0, 520.0), (1520.0, 540.0)),
                name="vein marks",
            ),
        ),
        thickness=(2.0, 2.4),
        price=182.0,
        currency="EUR",
    )


def shoulder() -> Hide:
    """A double shoulder standing on end (neck up), without a drawn backbone."""
    shape = hide_template("double-shoulder")
    turned = Pose(0.0, 0.0, 90.0).apply(shape.ring)
    return Hide(name="Shoulder B", leather="veg-tan shoulder", outline=points(turned), thickness=(1.2, 1.6))


def front(width: float = 180.0, height: float = 120.0) -> Piece:
    """A belt's front panel with a scalloped lower edge, eyelets, a slit and a spot; left and right, lined."""
    x = np.linspace(0.0, width, 61)
    low = np.column_stack((x, 9.0 * np.abs(np.sin(math.pi * x / 45.0)) - 9.0))
    ring = np.vstack((low, ((width, height * 0.8), (0.35 * width, height), (0.0, height))))
    eyelets = tuple(
        Mark(at=(width - 14.0, 14.0 + 20.0 * n), do="punch", diameter=5.0, what="eyelet 5 mm")
        for n in range(4)
    )
    return Piece(
        name="front",
        outline=points(ring),
        marks=(
            *eyelets,
            Mark(at=(60.0, 80.0), do="slit", length=22.0, angle=90.0, what="strap slit"),
            Mark(at=(40.0, 30.0), do="mark", what="badge"),
        ),
        cuts=(
            LayerCut(
                layer="outer", shows="grain", stretch=StretchRule(axis=90.0, tolerance=20.0), least_firmness=3
            ),
            LayerCut(layer="lining", shows="grain", reversed=True, overcut=Overcut(least=6.0, wished=10.0)),
        ),
        pair=True,
        mates_near=True,
    )


def belt_job() -> Job:
    back = Piece(
        name="back",
        outline=((0.0, 0.0), (150.0, 0.0), (150.0, 95.0), (75.0, 110.0), (0.0, 95.0)),
        cuts=(LayerCut(layer="outer", least_firmness=4),),
    )
    keeper = Piece(
        name="keeper",
        outline=((0.0, 0.0), (70.0, 0.0), (70.0, 14.0), (0.0, 14.0)),
        cuts=(LayerCut(layer="outer"),),
        count=2,
        turn_over=True,
    )
    return Job(
        name="Harvest belts",
        articles=(
            Article(
                name="laced waist belt",
                sets=2,
                pieces=(front(), back, keeper),
                strips=(
                    Strip(name="waist strap", width=40.0, length=1100.0, layer="outer", count=2),
                    Strip(
                        name="lace",
                        width=6.0,
                        length=3000.0,
                        use="lace",
                        layer="outer",
                        source="disc",
                        along="any",
                    ),
                ),
            ),
        ),
        layers=(Layer(name="outer", thickness=(2.0, 2.4)), Layer(name="lining", thickness=(1.2, 1.6))),
    )


def lay(
    job: Job,
    hide: Hide,
    name: str,
    layer: str,
    pose: Pose,
    *,
    copy: int = 1,
    number: int = 1,
    done: bool = False,
) -> Placement:
    """One piece laid at a pose with its least overcut."""
    piece = job.piece(name)
    cut = next(cut for cut in piece.cuts if cut.layer == layer)
    overcut = cut.overcut.least if cut.overcut else 0.0
    finished = pose.apply_ring(piece.ring)
    return Placement(
        hide=hide.name, piece=name, layer=layer, copy=copy, set=number, mirrored=pose.mirrored, angle=pose.angle,
        x=pose.x, y=pose.y, finished=points(finished), cut=points(cut_ring(finished, overcut)), overcut=overcut,
        done=done,
    )  # fmt: skip


def strip_at(job: Job, hide: Hide, name: str, pose: Pose, *, copy: int = 1, number: int = 1) -> Placement:
    """One strip with its corner at the pose."""
    strip = job.strip(name)
    box = np.array(((0.0, 0.0), (strip.length, 0.0), (strip.length, strip.width), (0.0, strip.width)))
    ring = points(pose.apply(box))
    return Placement(
        hide=hide.name, strip=name, layer=strip.layer, copy=copy, set=number, angle=pose.angle, x=pose.x, y=pose.y,
        finished=ring, cut=ring, length=strip.length,
    )  # fmt: skip


def disc_at(job: Job, hide: Hide, name: str, x: float, y: float, *, copy: int = 1) -> Placement:
    """A lace as the disc it is cut from: length = area / width."""
    strip = job.strip(name)
    radius = 1.01 * math.sqrt(strip.length * strip.width / math.pi)
    angles = np.linspace(0.0, 2.0 * math.pi, 96, endpoint=False)
    ring = points(np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles))))
    return Placement(
        hide=hide.name, strip=name, layer=strip.layer, copy=copy, set=copy, x=x, y=y, finished=ring, cut=ring,
        length=strip.length, spiral=True,
    )  # fmt: skip


def belt_plan() -> tuple[Plan, Job, tuple[Hide, ...]]:
    """The belts of `belt_job` laid on `side` and `shoulder`; one lace has no place."""
    job, hides = belt_job(), (side(), shoulder())
    cow, small = hides
    placements = [
        strip_at(job, cow, "waist strap", Pose(400.0, 20.0 + 40.0 * n), copy=n + 1, number=n // 2 + 1)
        for n in range(4)
    ]
    for number in (1, 2):
        x = 420.0 + 420.0 * (number - 1)
        placements.append(lay(job, cow, "front", "outer", Pose(x, 205.0), copy=2 * number - 1, number=number))
        placements.append(
            lay(job, cow, "front", "outer", Pose(x + 375.0, 205.0, 0.0, True), copy=2 * number, number=number)
        )
        placements.append(
            lay(job, cow, "back", "outer", Pose(x, 345.0, 12.0), copy=number, number=number, done=number == 2)
        )
        for n in (0, 1):
            mirrored = n == 1
            placements.append(
                lay(
                    job,
                    cow,
                    "keeper",
                    "outer",
                    Pose(x + 170.0 + 90.0 * mirrored, 350.0 + 22.0 * n, 0.0, mirrored),
                    copy=2 * number + n - 1,
                    number=number,
                )
            )
        y = 60.0 + 190.0 * (number - 1)
        placements.append(
            lay(job, small, "front", "lining", Pose(-420.0, y, 0.0), copy=2 * number - 1, number=number)
        )
        placements.append(
            lay(job, small, "front", "lining", Pose(-20.0, y, 0.0, True), copy=2 * number, number=number)
        )
    placements.append(disc_at(job, cow, "lace", 700.0, 520.0))
    offcut = Offcut(
        hide=cow.name, outline=((1550.0, 30.0), (1960.0, 30.0), (1960.0, 300.0), (1550.0, 330.0)), area=116_850.0,
        rectangle=((1550.0, 30.0), (1960.0, 30.0), (1960.0, 300.0), (1550.0, 300.0)), rectangle_width=410.0,
        rectangle_height=270.0, disc=(1700.0, 170.0, 135.0), lace=19.4 * 1000.0,
    )  # fmt: skip
    gross = cow.gross_area + small.gross_area
    cut = sum(_area(p.cut) for p in placements)
    net = sum(_area(p.finished) for p in placements)
    figures = Figures(
        gross=gross, usable=0.9 * gross, net=net, cut=cut, net_yield=net / gross, cut_yield=cut / gross,
        lost_to_flaws=0.1, lost_to_overcut=(cut - net) / gross, lost_to_gaps=0.0, lost_to_small_offcuts=0.1,
        offcut_area=offcut.area, lace=19_400.0, placed=len(placements), asked=len(placements) + 1, hides_used=2,
        sets=(SetFigures(article="laced waist belt", asked=2, whole=1, bound=2),), cost=182.0, cost_per_set=182.0,
        currency="EUR", offcuts=(offcut,),
        hides=tuple(
            HideFigures(
                hide=hide.name, gross=hide.gross_area, usable=0.9 * hide.gross_area, net=mine[0], cut=mine[1],
                flaws=0.1 * hide.gross_area, overcut=mine[1] - mine[0], gaps=0.0, small_offcuts=0.0, offcuts=0.0,
                net_yield=mine[0] / hide.gross_area, cut_yield=mine[1] / hide.gross_area, pieces=9, strips=4,
            )
            for hide in hides
            for mine in [
                tuple(
                    sum(_area(ring) for p in placements if p.hide == hide.name for ring in [getattr(p, kind)])
                    for kind in ("finished", "cut")
                )
            ]
        ),
    )  # fmt: skip
    plan = Plan(
        name="Harvest belts",
        job=Source(name=job.name),
        hides=tuple(Source(name=hide.name) for hide in hides),
        seed=7,
        placements=tuple(placements),
        unplaced=(
            Unplaced(
                strip="lace", layer="outer", reason="no room",
                why="No clear area is left that holds a disc of 151 mm across.",
                change="An offcut of 2.4 dm² more would take it.",
            ),
        ),
        figures=figures,
    )  # fmt: skip
    return plan, job, hides


def layered_plan() -> tuple[Plan, Job, tuple[Hide, ...]]:
    """`belt_plan` whose front has work of every kind: an opening and a slit for the outer alone, a pocket's opening and
    a label's spot for the lining alone, eyelets and a badge as they come."""
    plan, job, hides = belt_plan()
    window = ((20.0, 45.0), (34.0, 45.0), (34.0, 62.0), (20.0, 62.0))
    pocket = ((90.0, 30.0), (120.0, 30.0), (120.0, 40.0), (90.0, 40.0))
    piece = front()
    marks = tuple(
        msgspec.structs.replace(mark, layers=("outer",)) if mark.do == "slit" else mark
        for mark in piece.marks
    )
    label = Mark(at=(100.0, 60.0), do="mark", layers=("lining",), what="label")
    layered = msgspec.structs.replace(
        piece, holes=(window, Opening(outline=pocket, layers=("lining",))), marks=(*marks, label)
    )
    article = job.articles[0]
    pieces = tuple(layered if each.name == "front" else each for each in article.pieces)
    changed = msgspec.structs.replace(article, pieces=pieces)
    return plan, msgspec.structs.replace(job, articles=(changed,)), hides


def many_plan(count: int = 500) -> tuple[Plan, Job, tuple[Hide, ...]]:
    """`count` fronts in a grid on as many plain rectangles as they need, 125 on each."""
    job = belt_job()
    per_hide = 125
    hides = tuple(
        Hide(
            name=f"Bend {n + 1}", leather="bend", backbone=((2700.0, 0.0), (0.0, 0.0)),
            outline=((0.0, 0.0), (2700.0, 0.0), (2700.0, 1300.0), (0.0, 1300.0)),
        )
        for n in range(math.ceil(count / per_hide))
    )  # fmt: skip
    placements = []
    for number in range(count):
        hide = hides[number // per_hide]
        column, row = number % per_hide % 14, number % per_hide // 14
        mirrored = number % 2 == 1
        pose = Pose(5.0 + 190.0 * column + 181.0 * mirrored, 12.0 + 133.0 * row, 0.0, mirrored)
        placements.append(lay(job, hide, "front", "outer", pose, copy=number + 1, number=number // 2 + 1))
    plan = Plan(
        name="Many fronts",
        job=Source(name=job.name),
        hides=tuple(Source(name=hide.name) for hide in hides),
        placements=tuple(placements),
    )
    return plan, job, hides


def _area(ring: tuple[tuple[float, float], ...]) -> float:
    x, y = np.array(ring).T
    return 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))


def rowed_plan() -> tuple[Plan, Job, tuple[Hide, ...]]:
    """`belt_plan` whose front has rows in place of single marks: eyelets along its right edge through both layers,
    slits round its upper corner and spots on a line for the outer alone, other spots for the lining alone."""
    plan, job, hides = belt_plan()
    edge = Row(
        name="eyelets",
        start=(180.0, 0.0),
        end=(180.0, 96.0),
        inset=14.0,
        number=4,
        diameter=5.0,
        what="eyelet 5 mm",
    )
    slits = Row(
        name="slits", start=(150.0, 101.0), end=(0.0, 40.0), inset=12.0, pitch=22.0, do="slit", length=8.0,
        layers=("outer",), what="thong slit",
    )  # fmt: skip
    studs = Row(
        name="studs", along="line", start=(40.0, 30.0), end=(140.0, 30.0), number=5, do="mark", what="stud"
    )
    label = Row(
        name="label", along="line", start=(60.0, 60.0), end=(100.0, 60.0), number=3, do="mark", what="label",
        layers=("lining",),
    )  # fmt: skip
    piece = msgspec.structs.replace(front(), marks=(), rows=(edge, slits, studs, label))
    article = job.articles[0]
    pieces = tuple(piece if each.name == "front" else each for each in article.pieces)
    return (
        plan,
        msgspec.structs.replace(job, articles=(msgspec.structs.replace(article, pieces=pieces),)),
        hides,
    )
