"""How true the outline of a hide is where the sheet is right: `python -m tests.benchmarks.outlines [--first 0]`.

Protocol. Rooms first … first+count-1 of photo_scenes.room_scene (those without a trap, and those whose hide is cut off
by the picture) at 2000 × 1500 pixels. The corners of all sheets are given as the renderer drew them, and the true
outline is laid onto the floor by the camera that was read from them, so that only the outline is judged:
  area       (traced - true) / true, %
  Hausdorff  greatest distance of the two outlines, mm; edge: mean distance, mm
A hide is *wrong* if its area is off by more than 3 % or its edge by more than 15 mm somewhere, *told* if any warning
but that of the scale was given. Figures are those of the hides nothing was told of. `--pictures DIR` draws the traced
(red) and the true outline (green) of the wrong ones over the straightened photograph.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from PIL import Image, ImageDraw

from nestplan.errors import NestplanError
from nestplan.intake.photo.outline import Outline, find_outline
from nestplan.intake.photo.reading import Photo, read_photo
from nestplan.intake.photo.rectification import RectifiedPhoto, rectify
from nestplan.intake.photo.reference import ReferenceCorners, assign_corners
from tests.benchmarks.grouped_table import grouped_lines
from tests.benchmarks.photos import rendered_room
from tests.intake.photo_render import Scene, densify, seen_in, sheet_rings
from tests.intake.photo_scenes import room_scene

Array = np.ndarray[Any, Any]

ABOUT_SCALE = ("scale uncertain", "size uncertain")


@dataclass(frozen=True)
class MeasuredOutline:
    """The figures of one room; see the protocol. `told`: the warnings given but those of the scale."""

    name: str
    floor: str
    leather: str
    trap: str
    told: str = ""
    area: float = 0.0
    hausdorff: float = 0.0
    edge: float = 0.0
    fault: str = ""

    @property
    def wrong(self) -> bool:
        """Whether its area or edge is too far off."""
        return bool(self.fault) or abs(self.area) > 3 or self.hausdorff > 15


def measure_outline(number: int, keep: Path, pictures: Path | None = None) -> MeasuredOutline:
    """Render (or take from `keep`) and trace one room."""
    room, homography, path = rendered_room(number, keep)
    scene = room.scene
    row = MeasuredOutline(scene.name, room.floor, room.leather, room.trap)
    photo = read_photo(path)
    try:
        straight = rectify(photo, true_corners(scene, homography, photo))
        outline = find_outline(straight)
    except NestplanError as fault:
        return replace(row, fault=fault.what)
    true = true_outline(straight, scene, homography)
    traced = shapely.Polygon(outline.exterior).buffer(0)
    places = shapely.points(traced.exterior.segmentize(4.0).coords)
    told = [each.kind for each in outline.warnings if each.kind not in ABOUT_SCALE]
    row = replace(
        row,
        told=", ".join(told),
        area=(traced.area / true.area - 1) * 100,
        hausdorff=float(shapely.hausdorff_distance(traced.exterior, true.exterior, densify=0.005)),
        edge=float(np.mean(shapely.distance(true.exterior, places))),
    )
    if pictures is not None and (row.wrong or told):
        draw_outlines(straight, outline, true, pictures / f"o{number:03d}.png")
    return row


def true_corners(scene: Scene, homography: Array, photo: Photo) -> ReferenceCorners:
    """The corners of all sheets, where the renderer drew them."""
    read = []
    for board in sheet_rings(scene):
        seen = seen_in(scene, homography, board)
        # Points along the true sides tell the lens, as sides that were found would.
        along = densify(board, 10.0)
        sides = [along[k * len(along) // 4 : (k + 1) * len(along) // 4] for k in range(4)]
        bent = [seen_in(scene, homography, side) for side in sides]
        read.append(assign_corners(seen, scene.reference, photo, standard_error=0.2, sides=bent))
    return replace(read[0], others=tuple(read[1:]))


def true_outline(straight: RectifiedPhoto, scene: Scene, homography: Array) -> shapely.Polygon:
    """The drawn outline where the reading of scale, tilt and lens puts it."""
    return shapely.Polygon(straight.floor_points(seen_in(scene, homography, scene.outline))).buffer(0)


def draw_outlines(straight: RectifiedPhoto, outline: Outline, true: shapely.Polygon, path: Path) -> None:
    """The straightened photograph with the true (green) and the traced outline (red), and warned places (blue)."""
    picture = Image.fromarray(straight.image)
    draw = ImageDraw.Draw(picture)
    rings = [(np.asarray(part.exterior.coords), "lime") for part in getattr(true, "geoms", [true])]
    rings += [(outline.exterior, "red"), *((hole, "yellow") for hole in outline.holes)]
    rings += [(ring, "blue") for each in outline.warnings for ring in each.places]
    for ring, colour in rings:
        points = [(float(x), float(y)) for x, y in straight.to_pixels(ring)]
        draw.line([*points, points[0]], fill=colour, width=2)
    picture.save(path)


def table(rows: Sequence[MeasuredOutline]) -> str:
    """The figures in the protocol's words, whole and by what the rooms hold."""
    head = (
        "             hides  refused  wrong untold  wrong told  right told"
        "   area %: median  95 %  Hausdorff mm: median  95 %  edge"
    )
    groups: list[tuple[str, Callable[[MeasuredOutline], str]]] = [
        ("trap", lambda row: row.trap or "no trap"),
        ("floor", lambda row: row.floor),
        ("leather", lambda row: row.leather),
    ]
    return "\n".join([head, *grouped_lines(rows, _line, groups)])


def _line(name: str, part: Sequence[MeasuredOutline]) -> str:
    """One line of the table."""
    quiet = [row for row in part if not row.told and not row.fault]
    line = (
        f"{name:12s} {len(part):5d} {sum(bool(row.fault) for row in part):8d} "
        f"{sum(row.wrong for row in quiet):13d} "
        f"{sum(row.wrong for row in part if row.told):11d} "
        f"{sum(not row.wrong for row in part if row.told):11d}"
    )
    if quiet:
        area, far = np.abs([row.area for row in quiet]), [row.hausdorff for row in quiet]
        line += (
            f" {np.median(area):17.2f} {np.percentile(area, 95):5.2f} {np.median(far):21.1f} "
            f"{np.percentile(far, 95):5.1f} {np.mean([row.edge for row in quiet]):5.2f}"
        )
    return line


def main() -> None:
    """Measure the rooms asked for and print their table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument(
        "--keep",
        type=Path,
        default=Path(tempfile.gettempdir()) / "room-pictures",
        help="photographs are kept here",
    )
    parser.add_argument("--pictures", type=Path, help="draw the outlines of wrong hides here")
    parser.add_argument("--out", type=Path, help="write the figures of each photograph as JSON")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    for folder in (asked.keep, asked.pictures):
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
    numbers = [
        number
        for number in range(asked.first, asked.first + asked.count)
        if room_scene(number).trap in ("", "cut off")
    ]
    rows = []
    with ProcessPoolExecutor(asked.workers) as pool:
        for row in pool.map(partial(measure_outline, keep=asked.keep, pictures=asked.pictures), numbers):
            rows.append(row)
            print(
                f"{row.name:50s} area {row.area:+7.2f} %  H {row.hausdorff:6.1f}  edge {row.edge:5.2f}  "
                f"{'WRONG ' if row.wrong else ''}{row.fault or row.told}",
                flush=True,
            )
    print(table(rows))
    if asked.out:
        asked.out.write_text(json.dumps([asdict(row) for row in rows], indent=1))


if __name__ == "__main__":
    main()
