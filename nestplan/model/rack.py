"""The rack: a folder of hide files, what on it suits, and offcuts as hides with their history.

Changing the rack after a cut, and undoing that, is told in `cut_journal`; what finished jobs really used,
in `finished`. How offcuts are found is told in `yields`: here they arrive as polygons.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec
import shapely

from nestplan.errors import InputError, NestplanError
from nestplan.geometry.areas import grown
from nestplan.geometry.ring import Ring, to_polygon, to_rings
from nestplan.model.files import content_hash, read_hide
from nestplan.model.hide import Flaw, Hide, Origin, Region
from nestplan.model.values import as_points
from nestplan.storage import file_stem

__all__ = ["Rack", "RackHide", "file_name_for", "matching_hides", "offcut_hide", "offcut_hides", "read_rack"]

_MOST_FILES = 10_000
_LEAST_AREA_MM2 = 0.01
"""What is left of a flaw or region beyond the knife and is smaller is dust."""


@dataclass(frozen=True)
class RackHide:
    """A hide of the rack, its file and its content hash."""

    path: Path
    hide: Hide
    hash: str


@dataclass(frozen=True)
class Rack:
    """The hides of a folder, by file name, and the faults of files that could not be read."""

    folder: Path
    hides: tuple[RackHide, ...]
    faults: tuple[NestplanError, ...] = ()


def read_rack(folder: str | Path) -> Rack:
    """All `*.hide.json` files of a folder, folders inside it included.

    A file that cannot be read becomes one of the faults, as does a hide whose name another one has. Raises
    InputError if there is no such folder.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise InputError(
            "There is no such folder.", mend="Give the folder of the hide files.", file=str(folder)
        )
    paths = sorted(path for path in folder.rglob("*.hide.json") if path.is_file())
    if len(paths) > _MOST_FILES:
        raise InputError(
            f"The folder holds more than {_MOST_FILES} hides.", mend="Give a smaller one.", file=str(folder)
        )
    hides: list[RackHide] = []
    faults: list[NestplanError] = []
    names: dict[str, Path] = {}
    for path in paths:
        try:
            hide = read_hide(path)
        except NestplanError as error:
            faults.append(error)
            continue
        if hide.name in names:
            faults.append(
                InputError(
                    f"The hide's name '{hide.name}' is also in {names[hide.name]}.",
                    mend="Give each hide its own name.",
                    place="name",
                    file=str(path),
                )
            )
            continue
        names[hide.name] = path
        hides.append(RackHide(path, hide, content_hash(hide)))
    return Rack(folder, tuple(hides), tuple(faults))


def matching_hides(
    hides: Iterable[RackHide],
    *,
    leather: Sequence[str] = (),
    thickness: tuple[float, float] | None = None,
    least_area: float | None = None,
    most_area: float | None = None,
    used: bool = False,
) -> Iterator[RackHide]:
    """The hides that satisfy every wish given, in their order.

    `leather`: its kind is one of these, or holds one of them as a word (upper and lower case are the same).
    `thickness` (mm, least and most): the hide's range meets it; a hide of unknown thickness passes no such
    wish. Areas in mm² are measured areas, not the seller's. Hides cut up already are left out unless `used`.
    """
    wanted = [word.strip().lower() for word in leather]
    for entry in hides:
        hide = entry.hide
        kind = hide.leather.lower()
        if hide.used and not used:
            continue
        if wanted and not any(word == kind or word in kind.split() for word in wanted):
            continue
        if thickness is not None and (
            hide.thickness is None
            or hide.thickness[0] > thickness[1] + 1e-9
            or hide.thickness[1] < thickness[0] - 1e-9
        ):
            continue
        if least_area is not None and hide.gross_area < least_area:
            continue
        if most_area is not None and hide.gross_area > most_area:
            continue
        yield entry


def offcut_hides(
    parent: Hide,
    polygons: Sequence[shapely.Polygon],
    *,
    parent_hash: str,
    plan_hash: str,
    date: str,
    taken: Iterable[str] = (),
) -> tuple[Hide, ...]:
    """Each polygon (parent's coordinates, mm) as a hide of its own, the largest first; see `offcut_hide`.

    `taken` are names already on the rack, which no offcut gets.
    """
    names = set(taken)
    made = []
    number = 1
    for polygon in sorted(polygons, key=lambda each: (-each.area, each.bounds)):
        while (name := f"{parent.name}, offcut {number}"[-200:]) in names:
            number += 1
        names.add(name)
        made.append(
            offcut_hide(parent, polygon, name=name, parent_hash=parent_hash, plan_hash=plan_hash, date=date)
        )
    return tuple(made)


def offcut_hide(
    parent: Hide, polygon: shapely.Polygon, *, name: str, parent_hash: str, plan_hash: str, date: str
) -> Hide:
    """What is left of a hide as a hide: same coordinates, leather, thickness, firmness, backbone and stretch.

    Flaws and regions are clipped to it; of a flaw that was cut away, the part of its margin that reaches into
    the offcut stays a flaw. Its price is the parent's in proportion to area; the seller's mark does not pass
    to it. Its origin names the parent, the parent's and the plan's hash and the date.
    Raises InputError if the polygon does not lie on the parent.
    """
    polygon = shapely.make_valid(polygon)
    if (
        polygon.geom_type != "Polygon"
        or polygon.area <= 0.0
        or polygon.difference(parent.surface.buffer(0.05)).area > 1.0
    ):
        raise InputError(
            f"An offcut does not lie on the hide '{parent.name}'.",
            mend="Give offcuts of this hide's own plan.",
        )
    ring, holes = to_rings(polygon)
    share = polygon.area / parent.gross_area
    return Hide(
        name=name,
        leather=parent.leather,
        outline=as_points(ring),
        holes=tuple(as_points(hole) for hole in holes),
        flaws=tuple(flaw for old in parent.flaws for flaw in _clipped_flaw(old, polygon)),
        regions=tuple(kept for old in parent.regions if (kept := _clipped_region(old, polygon)) is not None),
        backbone=parent.backbone,
        stretch=parent.stretch,
        firmness=parent.firmness,
        thickness=parent.thickness,
        price=None if parent.price is None else round(parent.price * share, 2),
        currency=parent.currency,
        lot=parent.lot,
        origin=Origin(
            how="offcut",
            date=date,
            scale_error=parent.origin.scale_error if parent.origin else None,
            tolerance=parent.origin.tolerance if parent.origin else None,
            parent=parent.name,
            parent_hash=parent_hash,
            plan_hash=plan_hash,
            note=f"{share:.1%} of its parent",
        ),
    )


def _clipped_flaw(flaw: Flaw, polygon: shapely.Polygon) -> Iterator[Flaw]:
    """The flaw where it lies on the polygon, and the rest of its margin where only that does."""
    spoiled = to_polygon(flaw.ring)
    if polygon.contains(spoiled):
        yield flaw
        return
    for ring in _rings_of(polygon.intersection(spoiled)):
        yield _as_outline(flaw, ring, flaw.margin, flaw.note)
    if flaw.margin <= 0.0:
        return
    beyond = grown(spoiled, flaw.margin).intersection(polygon)
    kept = (
        grown(polygon.intersection(spoiled), flaw.margin)
        if polygon.intersects(spoiled)
        else shapely.Polygon()
    )
    note = "; ".join(
        part for part in (flaw.note, f"margin of a flaw that was cut away ({flaw.margin:g} mm)") if part
    )
    for ring in _rings_of(beyond.difference(kept)):
        yield _as_outline(flaw, ring, 0.0, note)


def _as_outline(flaw: Flaw, ring: Ring, margin: float, note: str) -> Flaw:
    return msgspec.structs.replace(
        flaw, outline=as_points(ring), disc=None, line=None, margin=margin, note=note
    )


def _clipped_region(region: Region, polygon: shapely.Polygon) -> Region | None:
    """The region clipped to the polygon, or None where it has no part of it.

    A region that falls into several parts keeps its outline: its name may stand only once, and only what lies
    on the hide counts.
    """
    rings = list(_rings_of(polygon.intersection(to_polygon(region.ring))))
    if not rings:
        return None
    if len(rings) > 1:
        return region
    return msgspec.structs.replace(region, outline=as_points(rings[0]))


def _rings_of(shape: shapely.Geometry) -> Iterator[Ring]:
    """The outer rings of what has area; small openings inside are covered, which errs on the safe side."""
    for part in shapely.get_parts(shape).tolist():
        if part.geom_type == "GeometryCollection":
            yield from _rings_of(part)
        elif part.geom_type == "Polygon" and part.area > _LEAST_AREA_MM2:
            yield to_rings(part)[0]


def file_name_for(name: str, folder: Path, taken: Iterable[Path] = ()) -> Path:
    """A free path in `folder` for a hide of that name, made of its letters and digits."""
    word = file_stem(name, unnamed="hide")
    others = set(taken)
    for number in range(1, 100_000):
        path = folder / (f"{word}.hide.json" if number == 1 else f"{word}-{number}.hide.json")
        if not path.exists() and path not in others:
            return path
    raise InputError("There is no free file name.", mend="Choose another folder.", file=str(folder))
