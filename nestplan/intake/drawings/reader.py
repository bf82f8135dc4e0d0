"""Drawing files in: DXF, SVG, CSV and JSON rings as closed shapes, marks and lines in mm, with every repair
listed.

Drawings are untrusted: size, number of things, nesting and time are bounded. Reading is strict; what would
change a shape by more than the joining tolerance is refused with its place unless repairs are allowed. A file
format has a file of its own beside this one. What becomes of shapes as hides and pieces is told in `to_model`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.ring import area
from nestplan.intake.drawings.apparel import PieceTexts, arranged, is_apparel_pattern
from nestplan.intake.drawings.joining import Shape, clean_rings, close_polylines, nest_rings
from nestplan.intake.drawings.layers import (
    FRAME_LAYER,
    NO_LAYER,
    LayerTable,
    check_table,
    is_left_out_unasked,
    layer_roles,
    role_of,
)
from nestplan.intake.drawings.polylines import (
    DrawnText,
    FrameError,
    Points,
    Polyline,
    RawDrawing,
    Repair,
    place_words,
)
from nestplan.intake.drawings.read_limits import ReadCounter, ReadLimits
from nestplan.intake.drawings.units import unit_scale
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.mark_kinds import LARGEST_PUNCH

__all__ = ["DRAWING_SUFFIXES", "Drawing", "DrawnLine", "DrawnMark", "Shape", "layers_of", "read_drawing"]

DRAWING_SUFFIXES = (".dxf", ".svg", ".csv", ".json", ".geojson")

_LINES = {"mark", "slit", "backbone", "stretch"}
"""Roles, beside those of flaws, whose lines may stay open; all others must close."""
_MOST_TOLD = 30


@dataclass(frozen=True)
class DrawnMark:
    """Something marked: a `hole` or `place_words` at a point, a `slit` or `line` along points (n, 2), mm."""

    kind: str
    points: Points
    diameter: float | None = None
    closed: bool = False
    layer: str = ""
    name: str = ""


@dataclass(frozen=True)
class DrawnLine:
    """An open line (n, 2), mm, with a role: backbone, stretch, or a flaw that is a scratch."""

    role: str
    points: Points
    layer: str = ""
    name: str = ""


@dataclass(frozen=True)
class Drawing:
    """What a drawing holds, in mm with y upward.

    `shapes` are the closed rings that are no holes, each with its role and its holes; `outlines` those of
    them that are outlines. `skipped` counts what was left unread, `layers` the lines on each layer.
    `units` is the unit the drawing was read in. `piece_texts`: what is written of each piece of a pattern by the
    apparel standard, by its group.
    """

    file: str
    units: str
    shapes: tuple[Shape, ...]
    marks: tuple[DrawnMark, ...] = ()
    lines: tuple[DrawnLine, ...] = ()
    texts: tuple[DrawnText, ...] = ()
    repairs: tuple[Repair, ...] = ()
    skipped: tuple[str, ...] = ()
    layers: tuple[tuple[str, int], ...] = ()
    tolerance: float = 0.05
    piece_texts: Mapping[str, PieceTexts] = field(default_factory=dict)

    @property
    def outlines(self) -> tuple[Shape, ...]:
        return tuple(shape for shape in self.shapes if shape.role == "outline")


def read_drawing(
    path: str | Path,
    *,
    units: str | None = None,
    layers: LayerTable | None = None,
    tolerance: float = 0.05,
    join: float = 0.1,
    repair: bool = False,
    limits: ReadLimits | None = None,
) -> Drawing:
    """The closed shapes, marks and lines of a drawing file.

    `units` names the drawing's unit where the file does not say it (and overrules it where it does). `layers`
    maps layer names to roles (see `layers`). Curves are flattened so that no chord strays from them
    by more than `tolerance` mm; ends within `join` mm are joined. With `repair`, larger mends are made too,
    and all are listed in the result.
    Raises InputError, UnitError or ShapeError with the file, the place and the mend.
    """
    path = Path(path)
    _check_figures(tolerance, join)
    check_table(layers or {})
    if units is not None:
        unit_scale(units)
        units = units.strip().lower()
    try:
        with _overflow_unheard():
            raw = _read_file(path, units, tolerance, repair, limits or ReadLimits())
            texts: dict[str, PieceTexts] = {}
            counted = _count_layers(raw.polylines)
            if is_apparel_pattern(raw) and all(role == "ignore" for role in (layers or {}).values()):
                raw.polylines = [each for each in raw.polylines if role_of(each.layer, layers) != "ignore"]
                raw, texts = arranged(raw, join)
            drawing = _assemble(path, raw, layers, tolerance, join, repair)
            return replace(drawing, piece_texts=texts, layers=counted) if texts else drawing
    except InputError as error:
        raise error.within(file=str(path)) from error.__cause__


def layers_of(path: str | Path, *, units: str | None = None) -> tuple[tuple[str, int], ...]:
    """The layers of a drawing and how many lines each holds, whether or not the drawing can be used.

    Raises InputError if the file cannot be read.
    """
    path = Path(path)
    try:
        with _overflow_unheard():
            return _count_layers(_read_file(path, units or "mm", 0.5, True, ReadLimits()).polylines)
    except InputError as error:
        raise error.within(file=str(path)) from error.__cause__


def _overflow_unheard() -> AbstractContextManager[None]:
    """Figures too large to reckon with come out as nowhere, and points that lie nowhere are refused; numpy need not
    warn of it besides."""
    return np.errstate(all="ignore")


def _check_figures(tolerance: float, join: float) -> None:
    for name, value, low, high in (("tolerance", tolerance, 0.001, 5.0), ("join", join, 0.0, 10.0)):
        if not low <= value <= high:
            raise InputError(
                f"The {name} of {value:g} mm is out of range.",
                mend=f"Choose from {low:g} to {high:g} mm.",
                place=name,
            )


def _read_file(
    path: Path, units: str | None, tolerance: float, repair: bool, limits: ReadLimits
) -> RawDrawing:
    suffix = path.suffix.lower()
    if suffix not in DRAWING_SUFFIXES:
        raise InputError(
            f"'{suffix or path.name}' is no drawing we read.",
            mend=f"Give one of {', '.join(DRAWING_SUFFIXES)}.",
        )
    counter = ReadCounter(limits)
    try:
        if not path.is_file():
            raise InputError("There is no such file.", mend="Check the name and the folder.")
        counter.check_size(path.stat().st_size)
        if suffix == ".dxf":
            from nestplan.intake.drawings.dxf import read_dxf

            return read_dxf(path, units=units, tolerance=tolerance, counter=counter, repair=repair)
        if suffix == ".svg":
            from nestplan.intake.drawings.svg import read_svg

            return read_svg(path, units=units, tolerance=tolerance, counter=counter)
        from nestplan.intake.drawings.coordinate_files import read_csv_rings, read_json_rings

        if suffix == ".csv":
            return read_csv_rings(path, units=units, counter=counter)
        return read_json_rings(path, units=units, counter=counter)
    except OSError as error:
        raise InputError(
            f"The file cannot be read ({error.strerror}).", mend="Check the name and your rights to it."
        ) from error


def _assemble(
    path: Path, raw: RawDrawing, layers: LayerTable | None, tolerance: float, join: float, repair: bool
) -> Drawing:
    """Lines grouped by layer and role, closed, cleaned and nested."""
    if not raw.polylines:
        unread = f" ({'; '.join(_counted_words(raw.skipped))})" if raw.skipped else ""
        raise InputError(
            f"The drawing holds no lines that we read{unread}.",
            mend="Save it with its outlines as plain lines.",
        )
    groups: dict[tuple[str, str], list[Polyline]] = {}
    skipped = Counter(raw.skipped)
    for polyline in raw.polylines:
        role = polyline.role or role_of(polyline.layer, layers) or _role_in_name(polyline.name)
        if role not in layer_roles() and role != "":
            raise InputError(
                f"'{role}' is no role.",
                mend=f"Take one of: {', '.join(layer_roles())}.",
                place=polyline.place,
            )
        if role != "ignore":
            groups.setdefault((polyline.layer, role), []).append(replace(polyline, role=role))
        elif not polyline.role and is_left_out_unasked(polyline.layer, layers):
            skipped[
                f"lines on the layer {polyline.layer}, taken for none of the pieces "
                "(a table of layers can say otherwise)"
            ] += 1
    repairs = list(raw.repairs)
    closed: list[Polyline] = []
    marks: list[DrawnMark] = []
    lines: list[DrawnLine] = []
    for (_, role), polylines in groups.items():
        drawn = [polyline for polyline in polylines if len(polyline.points) > 1]
        single_points = [polyline for polyline in polylines if len(polyline.points) == 1]
        _marks_from_points(single_points, role, marks, skipped)
        if role in ("mark", "slit"):
            marks += _marks(drawn, role, repairs)
            continue
        rings, loose, mends = close_polylines(drawn, join=join, repair=repair)
        repairs += mends
        closed += rings
        if role in _LINES or role in _flaw_roles():
            lines += [DrawnLine(role, each.points, each.layer, each.name) for each in loose]
        elif loose:
            repairs += _open_line_repairs(loose, join, repair)
    shapes, mends = clean_rings(closed, repair=repair)
    repairs += mends
    edges = [shape for shape in shapes if shape.role in ("", "outline", "hole")]
    edges = _without_frames(edges, layers, skipped)
    _refuse_frame(edges)
    others = [shape for shape in shapes if shape.role not in ("", "outline", "hole")]
    nested = nest_rings(edges)
    _refuse_outline_in_opening(nested, all(shape.role for shape in edges))
    return Drawing(
        file=path.name,
        units=raw.units,
        shapes=(*nested, *others),
        marks=tuple(marks),
        lines=tuple(lines),
        # Words that lie nowhere name nothing.
        texts=tuple(text for text in raw.texts if np.isfinite(text.point).all()),
        repairs=tuple(repairs),
        skipped=_counted_words(skipped),
        layers=_count_layers(raw.polylines),
        tolerance=tolerance,
    )


def _without_frames(edges: list[Shape], layers: LayerTable | None, skipped: Counter[str]) -> list[Shape]:
    """The rings without the rectangles round all others, where the table of layers leaves frames out."""
    if (layers or {}).get(FRAME_LAYER) != "ignore":
        return edges
    kept = sorted(edges, key=lambda shape: -area(shape.ring))
    while len(kept) > 1 and _goes_round(kept[0], kept[1:]):
        skipped[f"frames (on the layer {kept[0].layer or NO_LAYER})"] += 1
        kept = kept[1:]
    return kept


def _goes_round(shape: Shape, others: Sequence[Shape]) -> bool:
    """Whether a ring is an upright rectangle round all the others."""
    low, high = shape.ring.min(axis=0), shape.ring.max(axis=0)
    return bool(
        len(shape.ring) == 4
        and np.isclose(area(shape.ring), float(np.prod(high - low)), rtol=1e-3)
        and not any((each.ring < low - 1e-6).any() or (each.ring > high + 1e-6).any() for each in others)
    )


def _refuse_frame(edges: list[Shape]) -> None:
    """Raise FrameError if a rectangle on a layer of its own goes round all other rings: no piece with holes."""
    largest = max(edges, key=lambda shape: area(shape.ring), default=None)
    if largest is None or largest.role:
        return
    others = [shape for shape in edges if shape is not largest]
    if len(others) < 2 or any(shape.layer == largest.layer for shape in others):
        return
    if all(shape.circle is not None and shape.circle[2] <= LARGEST_PUNCH for shape in others):
        return
    if not _goes_round(largest, others):
        return
    raise FrameError(
        f"The rectangle on the layer '{largest.layer}' goes round everything else: it looks like a frame.",
        mend=f"Leave out the layer '{largest.layer}', or give its layer the role outline if it is a piece.",
        place=largest.place,
        layer=largest.layer,
    )


def _refuse_outline_in_opening(outlines: Sequence[Shape], said: bool) -> None:
    """Raise FrameError if an outline lies in an opening of another one, unless what is which was `said` by layers.

    The outer one is a frame, or sizes are drawn over each other.
    """
    if said:
        return
    owners = [(outline, hole) for outline in outlines for hole in outline.holes]
    holes = shapely.STRtree([shapely.Polygon(hole.ring) for _, hole in owners])
    for inner in outlines:
        found = holes.query(shapely.Point(inner.ring[0]), predicate="within")
        outer = max((owners[k][0] for k in found), key=lambda each: area(each.ring), default=None)
        if outer is None:
            continue
        if _goes_round(outer, [shape for shape in outlines if shape is not outer]):
            frame = outer.layer if outer.layer and outer.layer != inner.layer else FRAME_LAYER
            raise FrameError(
                "A rectangle goes round everything else, and outlines lie in openings of it: it looks like a frame, or "
                "like sizes drawn over each other.",
                mend=f"Leave out the layer '{frame}', or give its layer the role outline if it is a piece.",
                place=outer.place,
                layer=frame,
            )
        raise FrameError(
            "An outline lies in an opening of another one, as of sizes drawn over each other.",
            mend="Draw sizes and pieces beside each other, or, if all is as it should be, give its layer the role "
            "outline.",
            place=f"{outer.place}; {inner.place}",
        )


def _count_layers(polylines: Iterable[Polyline]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(Counter(polyline.layer for polyline in polylines).items()))


def _counted_words(skipped: Counter[str]) -> tuple[str, ...]:
    lines = [f"{count} × {what}" for what, count in sorted(skipped.items())]
    more = len(lines) - _MOST_TOLD
    return tuple(lines if more <= 0 else [*lines[:_MOST_TOLD], f"{more} other kinds of things"])


def _flaw_roles() -> frozenset[str]:
    return frozenset(kind.layer for kind in FLAW_KINDS)


def _role_in_name(name: str) -> str:
    match = re.fullmatch(rf"({'|'.join(layer_roles())})[-_ ]?\d*", name.strip(), re.IGNORECASE)
    return match[1].lower() if match else ""


def _marks_from_points(
    single_points: list[Polyline], role: str, marks: list[DrawnMark], skipped: Counter[str]
) -> None:
    """Single points are spots to mark; where a shape is wanted they say nothing."""
    for dot in single_points:
        if role in _flaw_roles():
            raise ShapeError(
                "A flaw is drawn as a point, so its size is not known.",
                mend="Draw it as a circle or an outline.",
                place=place_words(dot.points[0]),
            )
        if role in ("", "mark", "hole", "slit"):
            marks.append(DrawnMark("spot", dot.points, None, False, dot.layer, dot.name))
        else:
            skipped[f"points on the layer {dot.layer}"] += 1


def _marks(polylines: list[Polyline], role: str, repairs: list[Repair]) -> list[DrawnMark]:
    found = []
    for polyline in polylines:
        if polyline.circle is not None:
            x, y, diameter = polyline.circle
            kind = "hole" if role == "slit" else "spot"
            found.append(DrawnMark(kind, np.array([[x, y]]), diameter, False, polyline.layer, polyline.name))
        elif float(np.hypot(*np.ptp(polyline.points, axis=0))) < 1e-6:
            repairs.append(
                Repair(
                    "a mark without length",
                    "left out",
                    float(polyline.points[0][0]),
                    float(polyline.points[0][1]),
                )
            )
        else:
            kind = "slit" if role == "slit" else "line"
            found.append(
                DrawnMark(kind, polyline.points, None, polyline.closed, polyline.layer, polyline.name)
            )
    return found


def _open_line_repairs(loose: list[Polyline], join: float, repair: bool) -> list[Repair]:
    """Refuse lines that close to nothing, or, with repairs allowed, leave them out."""
    worst = loose[0]
    first, last = worst.points[0], worst.points[-1]
    if repair:
        return [
            Repair(
                "a line that belongs to no closed outline",
                "left out",
                float(each.points[0][0]),
                float(each.points[0][1]),
                0.0,
                slight=False,
            )
            for each in loose
        ]
    gap = _gap_at(loose, worst)
    layer = f" on the layer '{worst.layer}'" if worst.layer else ""
    more = f" ({len(loose)} open lines in all)" if len(loose) > 1 else ""
    raise FrameError(
        f"An outline{layer} is open: its end is {gap:.3g} mm from the nearest other end{more}.",
        mend=f"Close it in the drawing, join ends further apart than {join:g} mm, "
        + (f"leave out the layer '{worst.layer}', " if worst.layer else "")
        + "give its layer the role mark, or allow repairs.",
        place=f"{place_words(last)} (begins at {place_words(first)})",
        layer=worst.layer,
    )


def _gap_at(loose: list[Polyline], worst: Polyline) -> float:
    ends = np.array(
        [worst.points[0], *(each.points[k] for each in loose if each is not worst for k in (0, -1))]
    )
    return float(np.hypot(*(ends - worst.points[-1]).T).min())
