"""A piece: the finished panel, its marks, and the shapes the knife follows. And strips: straps and lace."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.ring import area, joint_area, offset_outward
from nestplan.geometry.units import MM_PER_INCH, show_length
from nestplan.model.mark_rows import Row, marks_of_row
from nestplan.model.marks import Mark, Opening, When
from nestplan.model.values import (
    LEAST_LENGTH,
    MAX_POINTS,
    TOUCHING,
    Length,
    Name,
    Points,
    Record,
    as_ring,
    need,
    need_at_most,
    need_finite,
    need_near,
    need_range,
    need_unique,
)

if TYPE_CHECKING:
    import shapely
    from numpy.typing import NDArray

__all__ = [
    "FLATTENING",
    "LayerCut",
    "Mark",
    "Opening",
    "Overcut",
    "Part",
    "Piece",
    "Row",
    "Shows",
    "StretchRule",
    "Strip",
    "When",
    "cut_ring",
]

Shows = Literal["grain", "flesh", "both", "hidden"]

_MOST_MARKS = 5_000
_MOST_HOLES = 1_000
_MOST_ROWS = 200
_MOST_PARTS = 200
_MOST_CUTS = 50
_HIGHEST_VALUE = 1e9
"""Bounds on what a file may hold, beyond any real piece."""

FLATTENING = 0.05
"""Largest distance, mm, of a flattened arc from the true one; cut shapes are never inside the true offset."""


class Overcut(Record, frozen=True, kw_only=True):
    """How much wider than the finished piece the cut shape is, mm: the least that is right, and the wish."""

    least: Length
    wished: Length

    def __post_init__(self) -> None:
        need_finite("least", self.least, self.wished)
        need(self.least >= 0, "The least overcut may not be negative.", place="least", mend="Give 0 or more.")
        need(
            self.wished >= self.least,
            "The wished overcut is less than the least.",
            place="wished",
            mend="Raise it.",
        )
        need(
            self.wished >= LEAST_LENGTH,
            "An overcut of 0 to 0 is no overcut.",
            place="wished",
            mend="Raise it or leave overcut out.",
        )
        need(
            self.wished <= 100,
            "An overcut of more than 100 mm is not taken.",
            place="wished",
            mend="Lower it.",
        )


class StretchRule(Record, frozen=True, kw_only=True):
    """Which way a piece may stretch: `axis` (degrees, on the piece as drawn) is to lie along the direction in
    which the leather gives most, within `tolerance` (degrees, 0 to 90)."""

    axis: float = 90.0
    tolerance: float = 15.0

    def __post_init__(self) -> None:
        need_finite("axis", self.axis, self.tolerance)
        need_range("axis", self.axis, -360.0, 360.0, "degrees")
        need(
            0 <= self.tolerance <= 90,
            "The tolerance runs from 0 to 90 degrees.",
            place="tolerance",
            mend="Change it.",
        )


class Part(Record, frozen=True, kw_only=True):
    """A part of a piece that asks for more than the rest of it. `layers`: in which layers (none: in all)."""

    outline: Points
    name: str = ""
    shows: Shows | None = None
    regions: tuple[str, ...] = ()
    not_regions: tuple[str, ...] = ()
    least_firmness: int = 1
    layers: tuple[str, ...] = ()

    @cached_property
    def ring(self) -> NDArray[np.float64]:
        """Ring (n, 2), mm."""
        return as_ring(self.outline, "outline")

    def __post_init__(self) -> None:
        need(
            1 <= self.least_firmness <= 5,
            "Firmness runs from 1 to 5.",
            place="least_firmness",
            mend="Change it.",
        )
        _ = self.ring


class LayerCut(Record, frozen=True, kw_only=True):
    """How a piece is cut from one layer's leather.

    `reversed` cuts the mirror image, as a lining glued flesh to flesh needs. `regions` keeps the finished
    outline inside the named regions (none named: anywhere), `not_regions` outside those named.
    """

    layer: Name = "leather"
    shows: Shows = "grain"
    overcut: Overcut | None = None
    reversed: bool = False
    stretch: StretchRule | None = None
    regions: tuple[str, ...] = ()
    not_regions: tuple[str, ...] = ()
    least_firmness: int = 1

    def __post_init__(self) -> None:
        need(
            1 <= self.least_firmness <= 5,
            "Firmness runs from 1 to 5.",
            place="least_firmness",
            mend="Change it.",
        )


class Piece(Record, frozen=True, kw_only=True):
    """A finished panel. `outline` is what is seen when it is done; `cuts` says what is cut for it, layer by layer, the
    one that is seen first. `holes` are its openings, each as an outline alone or as an `Opening`; `rows` are marks that
    belong together, and `all_marks` has those of the rows too.

    `count` of it go into one set; with `pair`, `count` lefts and `count` rights (the mirror image). With
    `turn_over` it may be laid face down to fit better. `mates_near` asks that a pair lies close together.
    `value` weighs spare pieces against each other when whole sets are done. `around` is a line across the piece, from
    seam to seam, along which it goes round the wearer. Seams (`seams`, mm) are edges
    sewn or glued, for thread and glue; None: the whole edge.
    """

    name: Name
    outline: Points
    holes: tuple[Points | Opening, ...] = ()
    marks: tuple[Mark, ...] = ()
    rows: tuple[Row, ...] = ()
    parts: tuple[Part, ...] = ()
    cuts: tuple[LayerCut, ...] = (LayerCut(),)
    count: int = 1
    pair: bool = False
    turn_over: bool = False
    mates_near: bool = False
    value: float | None = None
    around: Points = ()
    seams: Length | None = None
    note: str = ""

    def __post_init__(self) -> None:
        need(1 <= self.count <= 1000, "Count runs from 1 to 1000.", place="count", mend="Change it.")
        need(
            len(self.cuts) > 0,
            "The piece is cut from no layer.",
            place="cuts",
            mend="Name at least one layer.",
        )
        need_unique((cut.layer for cut in self.cuts), "cuts")
        need_finite("value", self.value, self.seams)
        need_range("value", self.value, -_HIGHEST_VALUE, _HIGHEST_VALUE, "")
        need_range("seams", self.seams, 0.0, 1e6)
        for place, things, most in (
            ("marks", self.marks, _MOST_MARKS),
            ("holes", self.holes, _MOST_HOLES),
            ("rows", self.rows, _MOST_ROWS),
            ("parts", self.parts, _MOST_PARTS),
            ("cuts", self.cuts, _MOST_CUTS),
        ):
            need_at_most(place, things, most)
        need(
            len(self.around) != 1,
            "A line across the piece has two points or more.",
            place="around",
            mend="Give both its ends.",
        )
        need_at_most("around", self.around, MAX_POINTS)
        need_near("around", self.around)
        need_unique((row.name for row in self.rows), "rows")
        self._check_layers()
        need_at_most("rows", self.all_marks, _MOST_MARKS)
        self._check_places()

    def _check_layers(self) -> None:
        layers = [cut.layer for cut in self.cuts]
        named = [(f"holes[{number}]", opening.layers) for number, opening in enumerate(self.openings)]
        named += [(f"marks[{number}]", mark.layers) for number, mark in enumerate(self.marks)]
        named += [(f"rows[{number}]", row.layers) for number, row in enumerate(self.rows)]
        for place, names in named:
            for name in names:
                need(
                    name in layers,
                    f"The piece has no layer '{name}'.",
                    place=f"{place}.layers",
                    mend=f"Use one of: {', '.join(layers)}.",
                )

    def _check_places(self) -> None:
        from shapely.geometry import Point as ShapelyPoint
        from shapely.geometry import Polygon

        whole = Polygon(self.ring)
        inner = [(f"holes[{number}]", ring) for number, ring in enumerate(self.hole_rings)]
        inner += [(f"parts[{number}].outline", part.ring) for number, part in enumerate(self.parts)]
        for place, ring in inner:
            if not whole.buffer(0.01).contains(Polygon(ring)):
                raise ShapeError("It is not wholly inside the piece.", place=place, mend="Move it inside.")
        for number, mark in enumerate(self.marks):
            if whole.distance(ShapelyPoint(mark.at)) > TOUCHING:
                x, y = mark.at
                raise ShapeError(
                    f"The mark at ({x:.1f}, {y:.1f}) mm lies outside the piece.",
                    place=f"marks[{number}].at",
                    mend="Move it inside.",
                )
        self._check_rows(whole)

    def _check_rows(self, whole: shapely.Polygon) -> None:
        """Raise ShapeError for a row of which a mark lies outside the piece."""
        import shapely

        if not self.rows:
            return
        inside = whole.buffer(0.01)
        shapely.prepare(inside)
        for number, (row, marks) in enumerate(zip(self.rows, self.marks_of_rows, strict=True)):
            outside = ~shapely.intersects(inside, shapely.points([mark.at for mark in marks]))
            if outside.any():
                hole = int(outside.argmax())
                x, y = marks[hole].at
                raise ShapeError(
                    f"The row '{row.name}' leaves the piece: its mark {hole + 1} would be at ({x:.1f}, {y:.1f}) mm.",
                    place=f"rows[{number}]",
                    mend="Move its start or its end.",
                )

    @cached_property
    def ring(self) -> NDArray[np.float64]:
        """The finished outline as a ring (n, 2), mm."""
        return as_ring(self.outline, "outline")

    def find_cut(self, layer: str | None) -> LayerCut | None:
        """How it is cut from a layer; None where it is not cut from that."""
        return next((cut for cut in self.cuts if cut.layer == layer), None)

    def cut_in(self, layer: str) -> LayerCut:
        """How it is cut from a layer. Raises KeyError if it is not cut from that."""
        cut = self.find_cut(layer)
        if cut is None:
            raise KeyError(layer)
        return cut

    @cached_property
    def openings(self) -> tuple[Opening, ...]:
        """Its openings, those too that are given as outlines alone."""
        return tuple(hole if isinstance(hole, Opening) else Opening(outline=hole) for hole in self.holes)

    @cached_property
    def hole_rings(self) -> tuple[NDArray[np.float64], ...]:
        """Rings (n, 2), mm, of the openings in the finished piece, in any of its layers."""
        return tuple(
            as_ring(opening.outline, f"holes[{number}]") for number, opening in enumerate(self.openings)
        )

    @cached_property
    def marks_of_rows(self) -> tuple[tuple[Mark, ...], ...]:
        """The marks of each of its rows, in their order. Raises InputError for a row that has no place on it."""
        found = []
        for number, row in enumerate(self.rows):
            try:
                found.append(marks_of_row(row, self.ring))
            except InputError as error:
                raise error.within(f"rows[{number}]") from error
        return tuple(found)

    @cached_property
    def all_marks(self) -> tuple[Mark, ...]:
        """All its marks: those that stand by themselves, then those of its rows."""
        return tuple(mark for group in (self.marks, *self.marks_of_rows) for mark in group)

    def row(self, name: str) -> Row:
        """Its row of that name. Raises KeyError if there is none."""
        found = next((row for row in self.rows if row.name == name), None)
        if found is None:
            raise KeyError(name)
        return found

    @cached_property
    def net_area(self) -> float:
        """Area of the finished piece less its openings, mm²; `layer_work` has that of one of its layers."""
        return area(self.ring) - joint_area(self.hole_rings)

    @property
    def around_length(self) -> float:
        """How much of the measure round the wearer one of it makes up, mm; 0 where that is not said."""
        return sum(math.dist(one, other) for one, other in pairwise(self.around))

    @property
    def copies_in_set(self) -> int:
        """How many of it go into one set, both hands of a pair together; each is cut once from each of its layers."""
        return self.count * (2 if self.pair else 1)

    def parts_in(self, layer: str) -> tuple[Part, ...]:
        """The parts that ask for more in this layer."""
        return tuple(part for part in self.parts if not part.layers or layer in part.layers)

    def warnings(self, units: Literal["mm", "in"] = "mm") -> tuple[str, ...]:
        """What a maker should look at again, in mm or inches; nothing here is refused. What holds of several marks
        alike, or of a row, is told of once.

        A slit stays inside the edge. A punched hole has its centre at least 5/3 of its diameter from the
        edge: 5/8 in for a 3/8 in grommet hole. Between two holes of a row there is half a hole of leather or more.
        (Common practice, no source.)
        """
        from shapely.geometry import LinearRing

        edge = LinearRing(self.ring)
        alike: dict[tuple[str, float | None], list[Mark]] = {}
        for mark in self.marks:
            alike.setdefault((mark.do, mark.size), []).append(mark)
        found = [
            warning for marks in alike.values() for warning in _mark_warnings(self.name, marks, edge, units)
        ]
        for row, marks in zip(self.rows, self.marks_of_rows, strict=True):
            found += _row_warnings(self.name, row, marks, edge, units)
        return tuple(found)


def _mark_warnings(
    piece: str, marks: Sequence[Mark], edge: shapely.LinearRing, units: Literal["mm", "in"]
) -> list[str]:
    """What is to be looked at again of marks of one kind and size that stand by themselves."""
    found = []
    size = _size_shown(marks[0].size or 0.0, units)
    leaving = [mark for mark in marks if _leaves(mark, edge)]
    if leaving:
        many = f"{len(leaving)} slits of {size}, one of them" if len(leaving) > 1 else f"the slit of {size}"
        run = "run" if len(leaving) > 1 else "runs"
        found.append(
            f"{piece}: {many} at {_place(leaving[0], units)}{',' * (len(leaving) > 1)} {run} through the edge."
        )
    wanted = _usual_distance(marks[0])
    near = [mark for mark in marks if _centre_to_edge(mark, edge) < wanted - 1e-6]
    if near:
        nearest = min(near, key=lambda mark: _centre_to_edge(mark, edge))
        distance = _shown(_centre_to_edge(nearest, edge), units)
        usual = f"at least {_shown(wanted, units)} is usual"
        if len(near) == 1:
            told = f"the {size} hole at {_place(nearest, units)} has its centre {distance} from the edge; {usual}."
        else:
            told = (
                f"{len(near)} holes of {size} have their centre nearer to the edge than is usual, the nearest, at "
                f"{_place(nearest, units)}, {distance}; {usual}."
            )
        found.append(f"{piece}: {told}")
    return found


def _place(mark: Mark, units: Literal["mm", "in"]) -> str:
    """Where a mark is, in the unit of the job."""
    x, y = (_shown(value, units).rsplit(" ", 1)[0] for value in mark.at)
    return f"({x}, {y})"


def _shown(mm: float, units: Literal["mm", "in"]) -> str:
    """A small length with its unit: tenths of a millimetre, or hundredths of an inch."""
    return f"{mm / MM_PER_INCH:.2f} in" if units == "in" else f"{mm:.1f} mm"


def _size_shown(mm: float, units: Literal["mm", "in"]) -> str:
    """The size of a hole or slit: tenths of a millimetre, or the sixteenths of an inch that a punch has."""
    return show_length(mm, "in") if units == "in" else _shown(mm, units)


def _row_warnings(
    piece: str, row: Row, marks: tuple[Mark, ...], edge: shapely.LinearRing, units: Literal["mm", "in"]
) -> list[str]:
    """What is to be looked at again of a row, each thing once."""
    found = []
    size = _size_shown(row.size or 0.0, units)
    leaving = sum(_leaves(mark, edge) for mark in marks)
    if leaving:
        found.append(f"{leaving} of {len(marks)} slits of {size} run through the edge.")
    wanted = _usual_distance(marks[0])
    distances = [_centre_to_edge(mark, edge) for mark in marks] if wanted else []
    near = sum(distance < wanted - 1e-6 for distance in distances)
    if near:
        found.append(
            f"{near} of {len(marks)} holes of {size} have their centre nearer to the edge than is usual, "
            f"down to {_shown(min(distances), units)}; at least {_shown(wanted, units)} is usual."
        )
    between = _least_between(marks)
    if between <= 0.0:
        found.append(f"the {'slits' if row.kind.symbol == 'bar' else 'holes'} run into each other.")
    elif row.kind.symbol == "circle" and between < (row.size or 0.0) / 2.0 - 1e-6:
        found.append(
            f"only {_shown(between, units)} of leather is left between two holes of {size}; half a hole is usual at "
            "least."
        )
    return [f"{piece}, row '{row.name}': {each}" for each in found]


def _leaves(mark: Mark, edge: shapely.LinearRing) -> bool:
    """Whether it is a slit that runs through the edge."""
    return mark.kind.symbol == "bar" and _drawn(mark).intersects(edge)


def _centre_to_edge(mark: Mark, edge: shapely.LinearRing) -> float:
    from shapely.geometry import Point as ShapelyPoint

    return float(edge.distance(ShapelyPoint(mark.at)))


def _usual_distance(mark: Mark) -> float:
    """How far from the edge the centre of a hole is at least, mm; 0 for what is no hole."""
    round_hole = mark.kind.symbol == "circle" and mark.diameter is not None
    return (mark.diameter or 0.0) * 5.0 / 3.0 if round_hole else 0.0


def _least_between(marks: tuple[Mark, ...]) -> float:
    """The least leather between a mark of a row and the next, mm; 0 or less where they meet."""
    if marks[0].size is None:
        return math.inf
    cut_away = (marks[0].diameter or 0.0) if marks[0].kind.symbol == "circle" else 0.0
    shapes = [_drawn(mark) for mark in marks]
    return min(float(one.distance(other)) - cut_away for one, other in pairwise(shapes))


def _drawn(mark: Mark) -> shapely.Geometry:
    """A slit as a line, a hole or spot as its centre."""
    import shapely

    return shapely.LineString(mark.ends) if mark.kind.symbol == "bar" else shapely.Point(mark.at)


class Strip(Record, frozen=True, kw_only=True):
    """A strap or a lace: width × length, mm, cut side by side from a straight edge or spirally from a disc.

    A lace may say which laced join or laced edge of its article it `laces`: its length, use and count are then those
    of the join, worked out whenever the job is read or changed, whatever stands in the file.

    `count` go into one set. `along` the backbone by default (trade practice: nose to tail), within
    `tolerance` degrees; `any` lets it lie any way. With `joins`, a strip may be made up of that many parts
    more than one, each at least `least_part` long, lapping by `lap`. A strip avoids every flaw, since it
    breaks there, unless `over_flaws` allows the flaws that spoil no more than one face.
    """

    name: Name
    width: Length
    length: Length = 0.0
    laces: str = ""
    count: int = 1
    use: Literal["strap", "lace"] = "strap"
    layer: Name = "leather"
    source: Literal["edge", "disc", "either"] = "edge"
    along: Literal["backbone", "any"] = "backbone"
    tolerance: float = 5.0
    joins: int = 0
    lap: Length = 25.0
    least_part: Length = 300.0
    over_flaws: bool = False
    regions: tuple[str, ...] = ()
    not_regions: tuple[str, ...] = ()
    least_firmness: int = 1
    value: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        need_finite("width", self.width, self.length, self.lap, self.least_part, self.tolerance, self.value)
        need(
            0.5 <= self.width <= 1000,
            "The width must lie between 0.5 and 1000 mm.",
            place="width",
            mend="Change it.",
        )
        need(
            self.length >= self.width or (bool(self.laces) and self.length >= 0.0),
            "A strip is at least as long as wide.",
            place="length",
            mend="Change it; the lace of a laced join may name it instead (laces).",
        )
        need(
            self.length <= 1_000_000, "A strip of over 1 km is not taken.", place="length", mend="Change it."
        )
        need(1 <= self.count <= 10_000, "Count runs from 1 to 10,000.", place="count", mend="Change it.")
        need(0 <= self.joins <= 100, "Joins run from 0 to 100.", place="joins", mend="Change it.")
        need_range("value", self.value, -_HIGHEST_VALUE, _HIGHEST_VALUE, "")
        need_range("least_part", self.least_part, -math.inf, 1_000_000.0)
        need_range("lap", self.lap, -math.inf, 1_000_000.0)
        need(
            self.lap >= 0 and self.least_part >= LEAST_LENGTH,
            "Lap and least part may not be negative.",
            place="lap",
            mend="Change.",
        )
        need(
            0 <= self.tolerance <= 90,
            "The tolerance runs from 0 to 90 degrees.",
            place="tolerance",
            mend="Change it.",
        )
        need(
            1 <= self.least_firmness <= 5,
            "Firmness runs from 1 to 5.",
            place="least_firmness",
            mend="Change it.",
        )


def cut_ring(ring: NDArray[np.float64], overcut: float) -> NDArray[np.float64]:
    """The cut shape: `ring` grown outward by `overcut` mm, never inside the true offset, outside it by at most
    FLATTENING mm. Overcut 0 gives the ring itself."""
    return ring if math.isclose(overcut, 0.0) else offset_outward(ring, overcut, FLATTENING)
