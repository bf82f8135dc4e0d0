"""How surely the reference is found and named: `python -m tests.benchmarks.references [--first 300] [--count 100]`.

Protocol. Scenes of tests/intake/photo_scenes.sheet_scene (nine floors, ten leathers, sheets plain, printed, written on,
creased, folded, with a shadow's edge across, several, boards; tilt 0 to 45 degrees, lens distortion in two of five; one
scene in five holds a trap) are rendered at 1600 × 1200 pixels, JPEG quality 75. The reference is looked for with
nothing given but the size named, and the camera is fitted as for a hide. The true outline of the hide, as the camera of
the renderer sees it, is taken to the floor by that camera: its area against the truth is the error of scale and tilt,
without that of finding the outline. Measured for each:
  outcome   refused (with its words), warned (the size is uncertain, or the area's standard error is above what
            outline_checks allows), or taken
  silent    taken without a word, with an area more than 3 % off
  area      error, %, of those scenes without a trap that were taken or warned of
  covered   share of these whose error lies within two stated standard errors
  corner    greatest distance, pixels, of a found corner from the true one
`touching` and `other boards` are scenes in which the reference is valid all the same: refusing them is no fault, nor is
taking them rightly.
"""

from __future__ import annotations

import argparse
import io
import json
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from nestplan.errors import NestplanError
from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import SheetView
from nestplan.intake.photo.floor_lines import camera_and_floor
from nestplan.intake.photo.outline_checks import MOST_AREA_ERROR
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import area_error_of_ring
from nestplan.intake.photo.reference import find_reference
from tests.benchmarks.grouped_table import grouped_lines, tilt_band
from tests.intake.photo_render import render, seen_in, sheet_rings
from tests.intake.photo_scenes import sheet_scene

Array = np.ndarray[Any, Any]


@dataclass(frozen=True)
class MeasuredReference:
    """The figures of one scene; areas in %, corners in pixels."""

    number: int
    name: str
    floor: str
    leather: str
    look: str
    trap: str
    tilt: float
    distortion: float
    outcome: str
    words: str = ""
    area: float = 0.0
    stated: float = 0.0
    corner: float = 0.0

    @property
    def silent(self) -> bool:
        """Whether the area is off by more than 3 % without a word."""
        return self.outcome == "taken" and abs(self.area) > 3


def measure(number: int) -> MeasuredReference:
    """Render scene `number` and look for its reference."""
    room = sheet_scene(number)
    scene = room.scene
    rendered = render(scene, supersample=1)
    photo = Photo(np.asarray(Image.open(io.BytesIO(rendered.jpeg))), "scene.jpg")
    tags = (
        number, scene.name, room.floor, room.leather, room.reference, room.trap, scene.tilt, scene.distortion
    )  # fmt: skip
    try:
        found = find_reference(photo, room.said)
    except NestplanError as fault:
        return MeasuredReference(*tags, "refused", fault.what)
    views = [
        SheetView(each.plane, each.seen, each.standard_error, each.sides) for each in (found, *found.others)
    ]
    fit, _ = camera_and_floor(photo, views)
    ring = fit.floor_of(seen_in(scene, rendered.homography, scene.outline))
    stated = area_error_of_ring(fit, ring)
    words = [f"might be {' or '.join(found.suits_as_well)}"] if found.suits_as_well else []
    words += ["scale uncertain"] if stated > MOST_AREA_ERROR else []
    return MeasuredReference(
        *tags,
        "warned" if words else "taken",
        ", ".join(words),
        (area(ring) / area(scene.outline) - 1) * 100,
        200 * stated,
        min(_farthest(found.seen, seen_in(scene, rendered.homography, each)) for each in sheet_rings(scene)),
    )


def _farthest(found: Array, true: Array) -> float:
    return float(np.hypot(*(found[:, None] - true[None]).transpose(2, 0, 1)).min(axis=1).max())


def table(rows: Sequence[MeasuredReference]) -> str:
    """The figures, whole and by what scenes hold."""
    groups: list[tuple[str, Callable[[MeasuredReference], str]]] = [
        ("floor", lambda row: row.floor),
        ("reference", lambda row: row.look),
        ("tilt", lambda row: tilt_band(row.tilt)),
        ("lens", lambda row: "distorted" if row.distortion else "straight"),
        ("trap", lambda row: row.trap or "none"),
    ]
    return "\n".join([_HEAD, *grouped_lines(rows, _line, groups)])


_HEAD = (
    f"{'':18s} scenes silent   without a trap: refused size? scale?   "
    "area %: median  95 %  covered   corner px: median  95 %"
)


def _line(name: str, rows: Sequence[MeasuredReference]) -> str:
    fair = [row for row in rows if not row.trap]
    found = [row for row in fair if row.outcome != "refused"]
    silent = sum(row.silent for row in rows)
    refused = len(fair) - len(found)
    head = f"{name:18s} {len(rows):6d} {silent:6d} {refused:11d} of {len(fair):3d}"
    size, scale = (sum(what in row.words for row in found) for what in ("might be", "scale uncertain"))
    head += f" {size:10d} {scale:6d}"
    if not found:
        return head
    off, corner = np.abs([row.area for row in found]), np.array([row.corner for row in found])
    covered = np.mean([abs(row.area) <= row.stated for row in found])
    return (
        f"{head} {np.median(off):16.2f} {np.percentile(off, 95):5.2f} {covered:8.0%} "
        f"{np.median(corner):18.2f} {np.percentile(corner, 95):5.2f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, help="write (and add to) the figures of each scene here, as JSON")
    given = parser.parse_args()
    rows = []
    if given.out and given.out.exists():
        rows = [MeasuredReference(**row) for row in json.loads(given.out.read_text(encoding="utf-8"))]
    done = {row.number for row in rows}
    numbers = [number for number in range(given.first, given.first + given.count) if number not in done]
    with ProcessPoolExecutor(given.workers) as pool:
        for row in pool.map(measure, numbers):
            rows.append(row)
            print(
                f"{row.name:62s} tilt {row.tilt:3.0f} k {row.distortion:+.2f}  {row.outcome:7s} area {row.area:+6.2f} %"
                f" (± {row.stated:5.2f})  corner {row.corner:6.2f}  {'SILENT ' if row.silent else ''}{row.words}",
                flush=True,
            )
            if given.out:
                given.out.write_text(json.dumps([asdict(each) for each in rows], indent=1), encoding="utf-8")
    print(table(rows))


if __name__ == "__main__":
    main()
