"""Pattern drawings by the open apparel standard: DXF whose layers are numbers and whose pieces are blocks with texts.

ASTM D6673, "Standard Practice for Sewn Products Pattern Data Interchange", from memory: each piece is a block; layer 1
holds its boundary (the cut line) and its texts, 2 turn points, 3 curve points, 4 notches, 5 grade reference, 6 a mirror
line for a piece drawn half, 7 the grain line, 8 internal lines, 9 and 10 stripe and plaid reference, 11 internal
cutouts, 13 drill holes, 14 sew lines, 15 annotation; 80 to 83 are other forms of notches, 84 to 87 repeat lines to
check them. A notch is a point on the boundary, its depth the point's height or thickness. Texts say `PIECE NAME: …`,
`SIZE: …`, `QUANTITY: …`, `MATERIAL: …`, `ANNOTATION: …` of a piece and `UNITS: METRIC` (mm) or `ENGLISH` (inches) of
the whole file.

Blocks of such files lie on top of each other; here they are laid out side by side first.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from nestplan.errors import ShapeError
from nestplan.intake.drawings.joining import close_polylines
from nestplan.intake.drawings.polylines import Points, Polyline, RawDrawing, Repair, place_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["PieceTexts", "arranged", "is_apparel_pattern", "units_of_texts"]

_BOUNDARY, _MIRROR, _GRAIN, _INTERNAL, _CUTOUT, _DRILL = "1", "6", "7", "8", "11", "13"
_NOTCHES = {"4": "notch", "80": "T notch", "81": "castle notch", "82": "check notch", "83": "U notch"}
_LEFT_OUT = {
    "2": "turn points",
    "3": "curve points",
    "5": "grade reference lines",
    "9": "stripe reference lines",
    "10": "plaid reference lines",
    "12": "things on layer 12",
    "14": "sew lines",
    "15": "annotation lines",
    "84": "check lines",
    "85": "check lines",
    "86": "check lines",
    "87": "check lines",
}
_USED = {_BOUNDARY, _MIRROR, _GRAIN, _INTERNAL, _CUTOUT, _DRILL, *_NOTCHES}
_KEYS = ("piece name", "size", "quantity", "material", "category", "annotation")
_MOST_COUNT = 1000
_SPACE = 50.0
"""How far apart, mm, the pieces are laid."""
_ON_EDGE, _INWARD = 2.0, 0.05
"""A notch this near to the boundary, mm, is set on it, and this far inward, so that it lies on the piece."""
_DEEPEST_NOTCH = 25.0
"""A notch is no deeper, mm: a point with a greater height says something else by it."""
_BEYOND = 1.0
"""A piece that reaches this far, mm, to both sides of its mirror line is drawn whole."""


@dataclass(frozen=True)
class PieceTexts:
    """What the texts of a piece say: its `name`, how many of it go into a set, whether left and right, and the rest."""

    name: str
    count: int = 1
    pair: bool = False
    note: str = ""


def is_apparel_pattern(raw: RawDrawing) -> bool:
    """Whether a drawing follows the standard: pieces in blocks, named by a text, boundaries on the layer for them."""
    named = any(_key_of(text.text)[0] == "piece name" for text in raw.texts)
    return named and any(polyline.group and polyline.layer == _BOUNDARY for polyline in raw.polylines)


def units_of_texts(texts: Iterable[str]) -> str | None:
    """The unit that a text of the file says: METRIC is mm, ENGLISH inches; None where none does."""
    for text in texts:
        key, value = _key_of(text)
        if key == "units":
            return {"metric": "mm", "english": "in"}.get(value.strip().lower())
    return None


def arranged(raw: RawDrawing, join: float = 0.1) -> tuple[RawDrawing, dict[str, PieceTexts]]:
    """The drawing with each line's role, pieces side by side, and what is written of each piece, by its block.

    Half pieces are unfolded at their mirror line, from which they may stay off by `join` mm, as ends from each other.
    The grain line is firm, as the backbone is: the stretch axis lies square to it.

    Raises ShapeError if boundaries of a piece lie in each other, or a half does not reach its mirror line.
    """
    groups: dict[str, list[Polyline]] = defaultdict(list)
    for polyline in raw.polylines:
        groups[polyline.group].append(polyline)
    written: dict[str, list[str]] = defaultdict(list)
    for text in raw.texts:
        written[text.group].append(text.text)
    out = RawDrawing(units=raw.units, repairs=list(raw.repairs), skipped=Counter(raw.skipped))
    told = _texts_of_pieces({key: written[key] for key in groups if key})
    edge = 0.0
    for key, lines in groups.items():
        if not key:
            out.skipped["lines outside the pieces"] += len(lines)
            continue
        for line in lines:
            if line.layer not in _USED:
                what = _LEFT_OUT.get(line.layer, "things that the standard does not know")
                out.skipped[f"{what} (layer {line.layer})"] += 1
        placed = _piece_lines([line for line in lines if line.layer in _USED], told[key], out, join)
        if not placed:
            continue
        points = np.vstack([line.points for line in placed])
        shift = np.array([edge - float(points[:, 0].min()), -float(points[:, 1].min())])
        out.polylines += [_moved(line, shift) for line in placed]
        edge += float(np.ptp(points[:, 0])) + _SPACE
    return out, told


def _key_of(text: str) -> tuple[str, str]:
    key, _, value = text.partition(":")
    return " ".join(key.lower().split()), value.strip()


def _texts_of_pieces(written: Mapping[str, Sequence[str]]) -> dict[str, PieceTexts]:
    """What is written of each piece; where several have one name the size is part of it."""
    values: dict[str, dict[str, str]] = {}
    for group, texts in written.items():
        found = values.setdefault(group, {})
        for key, value in map(_key_of, texts):
            if key in _KEYS and value:
                several = key in found and key == "annotation"
                found[key] = f"{found[key]}; {value}" if several else value
    named = Counter(found.get("piece name", "") for found in values.values())
    told = {}
    for group, found in values.items():
        name = found.get("piece name", group)
        if named[found.get("piece name", "")] > 1 and found.get("size"):
            name = f"{name} {found['size']}"
        count, pair = _quantity(found.get("quantity", ""))
        note = "; ".join(found[key] for key in ("annotation", "material", "category") if key in found)
        told[group] = PieceTexts(name[:100], count, pair, note[:300])
    return told


def _quantity(text: str) -> tuple[int, bool]:
    """Count and whether left and right: `2` is two alike, `1,1` or `1 pair` one left and one right."""
    numbers = [int(number) for number in re.findall(r"\d{1,4}", text)]
    if not numbers:
        return 1, False
    if len(numbers) >= 2 and numbers[0] == numbers[1] > 0:
        return min(numbers[0], _MOST_COUNT), True
    pair = bool(re.search(r"pair|left.*right|l\s*/\s*r", text, re.IGNORECASE))
    return min(max(max(numbers), 1), _MOST_COUNT), pair


def _piece_lines(lines: list[Polyline], told: PieceTexts, out: RawDrawing, join: float) -> list[Polyline]:
    """The lines of one piece with their roles, unfolded where it is drawn half."""
    mirror = next((line.points for line in lines if line.layer == _MIRROR and len(line.points) >= 2), None)
    boundary, cutouts = (
        [line for line in lines if line.layer == layer and len(line.points) > 1]
        for layer in (_BOUNDARY, _CUTOUT)
    )
    if mirror is not None and not _is_half(boundary, mirror):
        out.skipped[f"mirror lines of pieces drawn whole (layer {_MIRROR})"] += 1
        mirror = None
    edges, loose = _closed(boundary, mirror, join, out)
    openings, slits = _closed(cutouts, mirror, join, out)
    placed = [replace(line, role="outline", name=told.name) for line in (*edges, *loose)]
    placed += [replace(line, role="hole") for line in openings]
    placed += [replace(line, role="slit", name="cut") for line in slits]
    for line in lines:
        placed += _with_role(line)
    if mirror is not None:
        placed = _unfolded(placed, mirror, join, told)
        x, y = mirror[0]
        out.repairs.append(
            Repair(f"'{told.name}' is drawn half, with a mirror line", "unfolded", float(x), float(y))
        )
    outlines = [line for line in placed if line.role == "outline" and line.closed and len(line.points) > 2]
    _refuse_nested(outlines, told)
    if not outlines:
        return placed
    return [_set_on_edge(line, shapely.Polygon(outlines[0].points)) for line in placed]


def _refuse_nested(outlines: Sequence[Polyline], told: PieceTexts) -> None:
    """Raise ShapeError if a boundary lies in another one: an opening would lie on the layer of the cutouts."""
    shapes = [shapely.make_valid(shapely.Polygon(line.points)) for line in outlines]
    for one, other in itertools.permutations(range(len(shapes)), 2):
        if shapes[one].covers(shapes[other]) and not shapes[one].equals(shapes[other]):
            raise ShapeError(
                f"Of the {len(shapes)} boundaries of the piece '{told.name}' one lies in another, as of sizes drawn "
                "over each other.",
                mend="Save each size as a piece of its own, and openings on layer 11.",
                place=place_words(outlines[other].points[0]),
            )


def _closed(
    lines: Sequence[Polyline], mirror: Points | None, join: float, out: RawDrawing
) -> tuple[list[Polyline], list[Polyline]]:
    """Lines of one layer of a piece as closed ones, and those that stay open.

    Where the piece is drawn half, an open line from its mirror line back to it is closed along it.
    """
    rings, loose, repairs = close_polylines(lines, join=join, repair=False)
    out.repairs += repairs
    if mirror is None:
        return rings, loose
    reaching = [
        line
        for line in loose
        if len(line.points) > 2 and float(np.abs(_aside(line.points[[0, -1]], mirror)).max()) <= join
    ]
    rings += [replace(line, closed=True) for line in reaching]
    return rings, [line for line in loose if line not in reaching]


def _aside(points: Points, line: Points) -> Points:
    """How far (n,) points (n, 2) lie to the left of a straight line, mm."""
    way = (line[-1] - line[0]) / max(float(np.hypot(*(line[-1] - line[0]))), 1e-9)
    off = points - line[0]
    return np.asarray(way[0] * off[:, 1] - way[1] * off[:, 0])


def _is_half(boundary: Sequence[Polyline], mirror: Points) -> bool:
    """Whether a piece lies on one side of its mirror line."""
    if not boundary:
        return False
    aside = _aside(np.vstack([line.points for line in boundary]), mirror)
    return min(float(aside.max()), -float(aside.min())) <= _BEYOND


def _with_role(line: Polyline) -> list[Polyline]:
    """A line as what it is, but for boundaries and cutouts."""
    if line.layer == _DRILL:
        return [replace(line, role="hole" if line.circle else "mark", name="drill hole")]
    if line.layer == _INTERNAL:
        return [replace(line, role="mark", name="internal line")]
    if line.layer in _NOTCHES:
        return [replace(line, role="mark", name=_NOTCHES[line.layer])]
    if line.layer == _GRAIN and len(line.points) >= 2:
        middle, along = (line.points[0] + line.points[-1]) / 2, line.points[-1] - line.points[0]
        across = np.array([-along[1], along[0]]) / 2
        return [
            replace(line, role="stretch", closed=False, points=np.array([middle - across, middle + across]))
        ]
    return []


def _unfolded(lines: list[Polyline], mirror: Points, join: float, told: PieceTexts) -> list[Polyline]:
    """Lines and their mirror images; halves of outlines and cutouts that touch the line become one."""
    unfolded: list[Polyline] = []
    for line in lines:
        other = _mirrored(line.points, mirror)
        if line.role == "stretch":
            unfolded.append(line)
        elif line.role in ("outline", "hole") and line.closed and len(line.points) > 2:
            whole = _joined_halves(line, mirror, join)
            if line.role == "outline" and len(whole) > 1:
                raise ShapeError(
                    f"The piece '{told.name}' is drawn half and does not reach its mirror line.",
                    mend="Draw its edge up to the line.",
                    place=place_words(line.points[0]),
                )
            unfolded += whole
        else:
            twin = replace(
                line,
                points=other,
                circle=None if line.circle is None else _mirrored_circle(line.circle, mirror),
            )
            itself = any(np.abs(way - line.points).max() < 1e-3 for way in (other, other[::-1]))
            unfolded += [line] if itself else [line, twin]
    return unfolded


def _joined_halves(line: Polyline, mirror: Points, join: float) -> list[Polyline]:
    # Halves meet along the mirror line; a hair of width joins what rounding has parted.
    image = _mirrored(line.points, mirror)
    near = np.abs(_aside(line.points, mirror)) <= join
    half = np.where(near[:, None], (line.points + image) / 2, line.points)
    halves = [
        shapely.make_valid(shapely.Polygon(points)).buffer(1e-3, join_style="mitre")
        for points in (half, _mirrored(half, mirror))
    ]
    whole = shapely.union_all(halves).buffer(-1e-3, join_style="mitre")
    parts = [part for part in getattr(whole, "geoms", [whole]) if isinstance(part, shapely.Polygon)]
    return [
        replace(
            line,
            points=np.asarray(part.simplify(1e-3).exterior.coords, dtype=np.float64)[:-1],
            circle=line.circle if len(parts) > 1 else None,
        )
        for part in parts
    ]


def _mirrored(points: Points, line: Points) -> Points:
    start = line[0]
    way = (line[-1] - start) / max(float(np.hypot(*(line[-1] - start))), 1e-9)
    off = points - start
    return np.asarray(start + 2 * (off @ way)[:, None] * way - off)


def _mirrored_circle(circle: tuple[float, float, float], line: Points) -> tuple[float, float, float]:
    ((x, y),) = _mirrored(np.array([circle[:2]]), line)
    return float(x), float(y), circle[2]


def _set_on_edge(line: Polyline, whole: shapely.Polygon) -> Polyline:
    """A notch drawn as a point near the boundary, set on it; where its depth is said, a line so far inward."""
    if line.role != "mark" or len(line.points) != 1 or line.layer not in _NOTCHES:
        return line
    spot = shapely.Point(line.points[0])
    inner = whole.buffer(-_INWARD)
    if spot.distance(whole.exterior) > _ON_EDGE or inner.is_empty:
        return line
    near = shapely.get_coordinates(shapely.shortest_line(inner.exterior, spot))[0]
    if not _INWARD < line.depth <= _DEEPEST_NOTCH:
        return replace(line, points=np.array([near]))
    way = near - shapely.get_coordinates(shapely.shortest_line(whole.exterior, shapely.Point(near)))[0]
    end = near + way / max(float(np.hypot(*way)), 1e-9) * (line.depth - _INWARD)
    return replace(line, points=np.array([near, end]))


def _moved(line: Polyline, shift: NDArray[np.float64]) -> Polyline:
    circle = line.circle
    if circle is not None:
        circle = (circle[0] + float(shift[0]), circle[1] + float(shift[1]), circle[2])
    return replace(line, points=line.points + shift, circle=circle)
