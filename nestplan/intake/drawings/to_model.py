"""From a drawing to the model: a hide with its flaws and regions, or the pieces of a job with holes and
marks.

How the drawing's shapes are read from a file is told in `reader`.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal

import numpy as np
import shapely

from nestplan.errors import InputError, NestplanError, ShapeError
from nestplan.geometry.ring import area
from nestplan.intake.drawings.apparel import PieceTexts
from nestplan.intake.drawings.layers import LayerTable
from nestplan.intake.drawings.polylines import Points, place_words
from nestplan.intake.drawings.read_limits import ReadLimits
from nestplan.intake.drawings.reader import Drawing, DrawnLine, DrawnMark, Shape, read_drawing
from nestplan.model.anatomy import REGION_FIRMNESS
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.hide import Disc, Flaw, Hide, Line, Origin, Region
from nestplan.model.layer_work import read_drawing_layer
from nestplan.model.mark_kinds import LARGEST_PUNCH
from nestplan.model.piece import LayerCut, Mark, Opening, Part, Piece, StretchRule
from nestplan.model.values import as_points

__all__ = [
    "hide_from_drawing",
    "pieces_from_drawing",
    "read_hide_drawing",
    "read_piece_drawing",
]

SCRATCH_WIDTH = 2.0
"""Width in mm that a flaw drawn as a mere line is given (ours; no source)."""

# Other words for parts whose firmness `anatomy` gives.
_FIRMNESS = {
    **REGION_FIRMNESS,
    "butt": REGION_FIRMNESS["bend"],
    "flank": REGION_FIRMNESS["belly"],
    "shank": REGION_FIRMNESS["belly"],
}
_MOST_MARKS = 2_000
_MOST_PIECES = 2_000


def read_hide_drawing(
    path: str | Path,
    *,
    leather: str = "leather",
    name: str = "",
    units: str | None = None,
    layers: LayerTable | None = None,
    tolerance: float = 0.05,
    join: float = 0.1,
    repair: bool = False,
    limits: ReadLimits | None = None,
) -> Hide:
    """The hide drawn in a file: one outline with its holes, flaws, regions, backbone and stretch.

    The options are those of `read_drawing`. Raises InputError or ShapeError with file, place and mend.
    """
    drawing = read_drawing(
        path, units=units, layers=layers, tolerance=tolerance, join=join, repair=repair, limits=limits
    )
    try:
        return hide_from_drawing(drawing, leather=leather, name=name or _stem(path))
    except NestplanError as error:
        raise error.within(file=str(path)) from error.__cause__


def read_piece_drawing(
    path: str | Path,
    *,
    units: str | None = None,
    layers: LayerTable | None = None,
    tolerance: float = 0.05,
    join: float = 0.1,
    repair: bool = False,
    limits: ReadLimits | None = None,
    cut_from: Sequence[str] = (),
) -> tuple[Piece, ...]:
    """The pieces drawn in a file, one for each outline, with their inner holes, marks and stretch.

    Each is moved so that the lower left corner of its bounds is the origin. `cut_from` is as in `pieces_from_drawing`,
    the other options are those of `read_drawing`. Raises InputError or ShapeError with file, place and mend.
    """
    drawing = read_drawing(
        path, units=units, layers=layers, tolerance=tolerance, join=join, repair=repair, limits=limits
    )
    try:
        return pieces_from_drawing(drawing, stem=_stem(path), repair=repair, cut_from=cut_from)
    except NestplanError as error:
        raise error.within(file=str(path)) from error.__cause__


def hide_from_drawing(drawing: Drawing, *, leather: str, name: str) -> Hide:
    """The hide of a drawing that holds exactly one outline; coordinates stay as drawn."""
    outlines = drawing.outlines
    if len(outlines) != 1:
        places = "; ".join(place_words(shape.ring[0]) for shape in outlines[:5])
        raise InputError(
            f"The drawing holds {len(outlines) or 'no'} outlines; a hide has one"
            + (f" (they begin at {places})." if places else "."),
            mend="Put other shapes on layers of their own and say what each layer is.",
        )
    outline = outlines[0]
    spoils = {kind.layer: kind.name for kind in FLAW_KINDS}
    flaws = [_flaw(shape, spoils[shape.role]) for shape in drawing.shapes if shape.role in spoils]
    flaws += [
        Flaw(
            spoils=spoils[line.role],
            name=line.name,
            line=Line(points=as_points(line.points), width=SCRATCH_WIDTH),
        )
        for line in drawing.lines
        if line.role in spoils
    ]
    backbone = _only_line(drawing.lines, "backbone")
    stretch = _only_line(drawing.lines, "stretch")
    mends = len(drawing.repairs)
    return Hide(
        name=name,
        leather=leather,
        outline=as_points(outline.ring),
        holes=tuple(as_points(hole.ring) for hole in outline.holes),
        flaws=tuple(flaws),
        regions=_regions([shape for shape in drawing.shapes if shape.role == "region"], drawing),
        backbone=None if backbone is None else as_points(backbone.points),
        stretch=None if stretch is None else _axis(stretch.points),
        origin=Origin(
            how="drawing",
            file=drawing.file,
            tolerance=drawing.tolerance,
            note=f"unit {drawing.units}" + (f", {mends} repairs" if mends else ""),
        ),
    )


def pieces_from_drawing(
    drawing: Drawing, *, stem: str = "piece", repair: bool = False, cut_from: Sequence[str] = ()
) -> tuple[Piece, ...]:
    """The pieces of a drawing, in reading order (top row first, then from the left).

    A piece is called what its shape or layer-wide text says, else `stem` and a number. With `repair`, marks
    that lie on no piece are left out instead of refused. Each piece is cut from the layers `cut_from` (none: from one
    called leather): the first is seen, the others line it, mirrored and hidden; a drawing's layer such as
    `hole (outer) before gluing` says what is done to which of them, and when.
    """
    outlines = sorted(drawing.outlines, key=lambda shape: _reading_order(shape.ring))
    if not outlines:
        raise InputError("The drawing holds no closed outline.", mend="Draw the pieces as closed lines.")
    if len(outlines) > _MOST_PIECES:
        raise InputError(
            f"The drawing holds {len(outlines)} outlines; {_MOST_PIECES} pieces are the most.",
            mend="Keep each different piece once; how many are wanted is said in the job.",
        )
    locator = _PieceLocator(outlines)
    names = _piece_names(outlines, locator, drawing, stem)
    marks = _marks_of_pieces(drawing, outlines, names, locator, repair=repair, cut_from=cut_from)
    parts: dict[int | None, list[Shape]] = {}
    for shape in drawing.shapes:
        if shape.role == "part":
            parts.setdefault(locator.piece_at(shapely.Point(shape.ring[0])), []).append(shape)
    stretches: dict[int | None, DrawnLine] = {}
    for line in drawing.lines:
        if line.role == "stretch":
            stretches.setdefault(locator.piece_at(_middle(line.points)), line)
    return tuple(
        _piece(
            shape,
            names[k],
            marks[k],
            parts.get(k, []),
            stretches.get(k),
            cut_from,
            drawing.piece_texts.get(shape.group, PieceTexts(names[k])),
        )
        for k, shape in enumerate(outlines)
    )


def _marks_of_pieces(
    drawing: Drawing,
    outlines: Sequence[Shape],
    names: Sequence[str],
    locator: _PieceLocator,
    *,
    repair: bool,
    cut_from: Sequence[str],
) -> list[list[Mark]]:
    """The marks of each piece, from its lower left corner: its punched holes, then what is drawn on it."""
    marks: list[list[Mark]] = [_punched(shape, cut_from) for shape in outlines]
    for mark in drawing.marks:
        owner = locator.piece_at(_middle(mark.points))
        if owner is None:
            if repair:
                continue
            raise ShapeError(
                "A mark lies on no piece.",
                mend="Move it onto its piece, or give its layer the role ignore.",
                place=place_words(mark.points[0]),
            )
        marks[owner] += _marks(mark, outlines[owner].ring.min(axis=0), cut_from)
        if len(marks[owner]) > _MOST_MARKS:
            raise InputError(
                f"The piece '{names[owner]}' has more than {_MOST_MARKS} marks.",
                mend="Give layers that are no marks the role ignore.",
            )
    return marks


class _PieceLocator:
    """Says which outline, its holes left out, lies under a point."""

    def __init__(self, outlines: Sequence[Shape]) -> None:
        self._tree = shapely.STRtree(
            [shapely.Polygon(shape.ring, [hole.ring for hole in shape.holes]) for shape in outlines]
        )

    def piece_at(self, point: shapely.Point) -> int | None:
        found = self._tree.query(point, predicate="dwithin", distance=1e-6)
        return int(found.min()) if len(found) else None


def _middle(points: Points) -> shapely.Point:
    """The middle of a line, or the point itself."""
    if len(points) == 1:
        return shapely.Point(points[0])
    return shapely.line_interpolate_point(shapely.linestrings(points), 0.5, normalized=True)


def _piece(
    shape: Shape,
    name: str,
    marks: Sequence[Mark],
    parts: Sequence[Shape],
    stretch: DrawnLine | None,
    cut_from: Sequence[str],
    texts: PieceTexts,
) -> Piece:
    corner = shape.ring.min(axis=0)
    rule = None if stretch is None else StretchRule(axis=_axis(stretch.points))
    outer, *lining = cut_from or ("leather",)
    return Piece(
        name=name,
        outline=as_points(shape.ring - corner),
        holes=tuple(_opening(hole, corner, cut_from) for hole in shape.holes if not _is_punch(hole)),
        marks=tuple(marks),
        parts=tuple(Part(outline=as_points(part.ring - corner), name=part.name) for part in parts),
        cuts=(
            LayerCut(layer=outer, stretch=rule),
            *(LayerCut(layer=layer, shows="hidden", reversed=True) for layer in lining),
        ),
        count=texts.count,
        pair=texts.pair,
        note=texts.note,
    )


def _opening(
    hole: Shape, corner: Points, cut_from: Sequence[str]
) -> tuple[tuple[float, float], ...] | Opening:
    """An opening, as an outline alone where its drawing's layer says nothing of layers and time."""
    outline = as_points(hole.ring - corner)
    layers, when = read_drawing_layer(hole.layer, cut_from)
    return Opening(outline=outline, layers=layers, when=when) if layers or when else outline


def _is_punch(hole: Shape) -> bool:
    return hole.circle is not None and hole.circle[2] <= LARGEST_PUNCH


def _punched(shape: Shape, cut_from: Sequence[str]) -> list[Mark]:
    x, y = shape.ring.min(axis=0).tolist()
    return [
        Mark(
            at=(hole.circle[0] - x, hole.circle[1] - y),
            do="punch",
            diameter=hole.circle[2],
            what=hole.name,
            layers=layers,
            when=when,
        )
        for hole in shape.holes
        for layers, when in (read_drawing_layer(hole.layer, cut_from),)
        if hole.circle is not None and _is_punch(hole)
    ]


def _marks(mark: DrawnMark, corner: Points, cut_from: Sequence[str]) -> list[Mark]:
    """A drawn mark as marks of a piece; a bent line becomes one mark for each of its straight parts."""
    layers, when = read_drawing_layer(mark.layer, cut_from)
    if mark.kind in ("hole", "spot"):
        at = (float(mark.points[0, 0] - corner[0]), float(mark.points[0, 1] - corner[1]))
        do: Literal["punch", "mark"] = "punch" if mark.kind == "hole" else "mark"
        return [Mark(at=at, do=do, diameter=mark.diameter, what=mark.name, layers=layers, when=when)]
    points = np.vstack([mark.points, mark.points[:1]]) if mark.closed else mark.points
    line = shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), 0.1)) - corner
    kind: Literal["slit", "mark"] = "slit" if mark.kind == "slit" else "mark"
    found = []
    for start, end in itertools.pairwise(line):
        middle, along = (start + end) / 2.0, end - start
        found.append(
            Mark(
                at=(float(middle[0]), float(middle[1])),
                do=kind,
                length=float(np.hypot(*along)),
                angle=_axis(np.array([start, end])),
                what=mark.name,
                layers=layers,
                when=when,
            )
        )
    return found


def _piece_names(outlines: Sequence[Shape], locator: _PieceLocator, drawing: Drawing, stem: str) -> list[str]:
    names: list[str] = []
    used: set[str] = set()
    written: dict[int | None, str] = {}
    for label in drawing.texts:
        if label.text:
            written.setdefault(locator.piece_at(shapely.Point(label.point)), label.text)
    for number, shape in enumerate(outlines, start=1):
        wanted = " ".join((shape.name or written.get(number - 1, "")).split())[:100]
        if not wanted:
            wanted = stem if len(outlines) == 1 else f"{stem} {number}"
        name, again = wanted, 2
        while name in used:
            name, again = f"{wanted} {again}", again + 1
        used.add(name)
        names.append(name)
    return names


def _reading_order(ring: Points) -> tuple[float, float]:
    return (-round(float(ring[:, 1].max())), float(ring[:, 0].min()))


def _flaw(shape: Shape, spoils: str) -> Flaw:
    if shape.circle is not None:
        x, y, diameter = shape.circle
        return Flaw(spoils=spoils, name=shape.name, disc=Disc(at=(x, y), diameter=diameter))
    return Flaw(spoils=spoils, name=shape.name, outline=as_points(shape.ring))


def _regions(shapes: Iterable[Shape], drawing: Drawing) -> tuple[Region, ...]:
    """Regions, the largest first, since a later one lies on top of an earlier."""
    regions: list[Region] = []
    for shape in sorted(shapes, key=lambda each: -area(each.ring)):
        name = _region_name(shape, drawing) or f"region {len(regions) + 1}"
        if any(region.name == name for region in regions):
            raise InputError(
                f"Two regions are called '{name}'.",
                mend="Give each a name of its own (a text in it, or its own layer), or draw one ring round "
                "both and what lies between them on top.",
                place=place_words(shape.ring[0]),
            )
        firmness = next((value for word, value in _FIRMNESS.items() if word in name.lower()), 3)
        regions.append(Region(name=name, outline=as_points(shape.ring), firmness=firmness))
    return tuple(regions)


def _region_name(shape: Shape, drawing: Drawing) -> str:
    if shape.name and not re.fullmatch(r"region[-_ ]?\d*", shape.name, re.IGNORECASE):
        return shape.name
    layer = re.sub(r"^regions?[-_ :]*", "", shape.layer, flags=re.IGNORECASE).strip()
    if layer:
        return layer
    ring = shapely.Polygon(shape.ring)
    return next((label.text for label in drawing.texts if ring.covers(shapely.Point(label.point))), "")


def _only_line(lines: Sequence[DrawnLine], role: str) -> DrawnLine | None:
    found = [line for line in lines if line.role == role]
    if len(found) > 1:
        raise InputError(
            f"The drawing holds {len(found)} lines for the {role}; a hide has one.",
            mend="Join them to one line, or leave all but one out.",
            place=place_words(found[1].points[0]),
        )
    return found[0] if found else None


def _axis(points: Points) -> float:
    """Direction of a line from its first to its last point as an axis, degrees in [0, 180)."""
    along = points[-1] - points[0]
    return round(float(np.degrees(np.arctan2(along[1], along[0]))) % 180.0, 4) % 180.0


def _stem(path: str | Path) -> str:
    return Path(path).name.split(".")[0] or "drawing"
