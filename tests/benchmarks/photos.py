"""How true hides traced from photographs are: `python -m tests.benchmarks.photos [--rooms] [--count 60]`.

With `--rooms` the scenes are those of photo_scenes.room_scene (nine floors, ten leathers, sheets plain, printed, folded
and several, clutter, tilt up to 45 degrees, lens distortion in two of five; one scene in four holds a trap: a hide cut
off by the picture, a sheet on or touching the hide, a sheet of another size than said, other boards about) at
2000 × 1500 pixels. A hide is *silently wrong* if its area is off by more than 3 % and nothing was warned of; *sound*
if the scene holds no trap and nothing was refused or warned of. Coverage is the share of sound scenes whose area lies
within two stated standard errors. Below the table stands how often each warning was given where the hide was wrong
(more than 3 % of area, or an edge more than 15 mm off somewhere) and where it was right. Without it:

Protocol. Scenes 0 … count-1 of tests/intake/photo_render.random_scene (its docstring says how hard they are) are
rendered at 2000 × 1500 pixels, JPEG quality 75, and traced with nothing given but the reference's size. Truth is
the outline the renderer drew. Measured for each:
  area       (traced - true) / true, %, the errors of scale and tilt read from the reference included
  Hausdorff  greatest distance between the two outlines, mm, after the best turn and shift (a hide file has no
             fixed place), which leaves all errors of scale, tilt and edge in
  outside    how far the traced outline lies outside the true one at most, mm, after the same turn and shift
  flaws      drawn flaws over 10 mm that a suggestion or a found hole overlaps; false: suggestions that overlap none
A photograph that is refused counts as an area error of 100 %. Then one scene at 4000 × 3000 pixels is traced, each
time in a process of its own: seconds from file to outline with all libraries loaded before, as they are in a window
that has been used; seconds from the first import, the libraries loaded while the picture is decoded, as in a command;
and the process's peak memory. Medians of `LARGE_RUNS`.
"""

from __future__ import annotations

import argparse
import json
import pickle
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from nestplan.errors import NestplanError
from tests.benchmarks.grouped_table import grouped_lines, tilt_band
from tests.intake.photo_render import Rendered, Scene, render, to_pixels
from tests.intake.photo_scenes import RoomScene, random_scene, room_scene

Array = np.ndarray[Any, Any]

LARGE_RUNS = 5
"""Runs of each kind that the figures of the large photograph are the medians of."""
_ALONE = """
import json, resource, sys, time
start = time.perf_counter()
from importlib import import_module
from nestplan.intake.photo.outline import find_outline
from nestplan.intake.photo.reading import LIBRARIES_NEEDED_NEXT, read_photo
from nestplan.intake.photo.rectification import rectify
from nestplan.intake.photo.reference import find_reference
if sys.argv[4] == "before":
    list(map(import_module, LIBRARIES_NEEDED_NEXT))
loaded = time.perf_counter()
photo = read_photo(sys.argv[1])
found = find_outline(rectify(photo, find_reference(photo, (float(sys.argv[2]), float(sys.argv[3])))))
done = time.perf_counter()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps({"whole": done - start, "seconds": done - loaded, "MiB": peak}))
"""


@dataclass(frozen=True)
class Measured:
    """The figures of one photograph; see the protocol."""

    name: str
    tilt: float
    area: float
    hausdorff: float
    outside: float
    stated_error: float
    flaws: int
    found: int
    false: int
    seconds: float
    fault: str = ""


@dataclass(frozen=True)
class MeasuredRoom:
    """The figures of one room scene; areas in %, lengths in mm, seconds of processor time.

    `outcome`: refused, warned or taken.
    """

    number: int
    name: str
    floor: str
    leather: str
    reference: str
    trap: str
    tilt: float
    distortion: float
    outcome: str
    words: str
    area: float = 0.0
    hausdorff: float = 0.0
    edge: float = 0.0
    stated: float = 0.0
    seconds: float = 0.0

    @property
    def silent(self) -> bool:
        """Whether it is wrong by more than 3 % of area without a word."""
        return self.outcome == "taken" and abs(self.area) > 3

    @property
    def wrong(self) -> bool:
        """Whether its area is off by more than 3 %, or its edge by more than 15 mm somewhere."""
        return abs(self.area) > 3 or self.hausdorff > 15

    @property
    def sound(self) -> bool:
        """Whether it holds no trap and was taken without a word."""
        return self.outcome == "taken" and not self.trap and not self.silent


def measure_room(number: int, keep: Path | None = None) -> MeasuredRoom:
    """Render (or take from `keep`) and trace one room scene."""
    from nestplan.intake.photo.outline import find_outline
    from nestplan.intake.photo.reading import read_photo
    from nestplan.intake.photo.rectification import area_error_over, rectify
    from nestplan.intake.photo.reference import find_reference

    room, homography, path = rendered_room(number, keep)
    scene = room.scene
    tags = (
        number, scene.name, room.floor, room.leather, room.reference, room.trap, scene.tilt, scene.distortion
    )  # fmt: skip
    start = time.process_time()
    try:
        photo = read_photo(path)
        rectified = rectify(photo, find_reference(photo, room.said))
        outline = find_outline(rectified)
    except NestplanError as fault:
        return MeasuredRoom(*tags, "refused", fault.what, seconds=time.process_time() - start)
    seconds = time.process_time() - start
    warnings = [warning.kind for warning in getattr(outline, "warnings", ())]
    truth = shapely.Polygon(scene.outline).buffer(0)
    ring = np.asarray(shapely.Polygon(outline.exterior).exterior.segmentize(8.0).coords)[:-1]
    seen = np.column_stack(scene.lens.undo(*rectified.photo_points(ring).T))
    turn, shift = _seat_from(ring, to_pixels(np.linalg.inv(homography), seen), truth)
    traced = shapely.Polygon(outline.exterior @ turn.T + shift).buffer(0)
    places = (
        shapely.points(traced.exterior.segmentize(4.0).coords) if traced.geom_type == "Polygon" else truth
    )
    return MeasuredRoom(
        *tags,
        "warned" if warnings else "taken",
        ", ".join(warnings),
        (shapely.Polygon(outline.exterior).area / truth.area - 1) * 100,
        float(shapely.hausdorff_distance(traced, truth.exterior, densify=0.005)),
        float(np.mean(shapely.distance(truth.exterior, places))),
        area_error_over(rectified, outline.exterior) * 200,
        seconds,
    )


def rendered_room(number: int, keep: Path | None) -> tuple[RoomScene, Array, Path]:
    """The scene, its camera's homography and its JPEG, rendered once into `keep` (or a scratch folder)."""
    import tempfile

    folder = keep or Path(tempfile.mkdtemp(prefix="photos"))
    folder.mkdir(parents=True, exist_ok=True)
    path, record = folder / f"r{number:03d}.jpg", folder / f"r{number:03d}.pkl"
    if not record.exists():
        room = room_scene(number)
        rendered = render(room.scene)
        path.write_bytes(rendered.jpeg)
        record.write_bytes(pickle.dumps((room, rendered.homography)))
    # Only ever our own files: the folder is the one this benchmark wrote.
    room, homography = pickle.loads(record.read_bytes())
    return room, homography, path


def _seat_from(ring: Array, near: Array, truth: shapely.Polygon) -> tuple[Array, Array]:
    """The turn (2, 2) and shift (2,) that lay a ring on the true one best, begun where its points truly lie."""
    turn, shift = _fit(ring, near)
    for _ in range(25):
        moved = shapely.points(ring @ turn.T + shift)
        on_edge = shapely.line_interpolate_point(
            truth.exterior, shapely.line_locate_point(truth.exterior, moved)
        )
        turn, shift = _fit(ring, shapely.get_coordinates(on_edge))
    return turn, shift


def room_table(rows: Sequence[MeasuredRoom]) -> str:
    """The figures of room scenes, whole and by what they hold."""
    groups: list[tuple[str, Callable[[MeasuredRoom], str]]] = [
        ("floor", lambda row: row.floor),
        ("leather", lambda row: row.leather),
        ("reference", lambda row: row.reference),
        ("tilt", lambda row: tilt_band(row.tilt)),
        ("lens", lambda row: "distorted" if row.distortion else "straight"),
        ("trap", lambda row: row.trap or "none"),
    ]
    return "\n".join([_ROOM_HEAD, *grouped_lines(rows, _room_line, groups), *_warning_lines(rows)])


def _warning_lines(rows: Sequence[MeasuredRoom]) -> list[str]:
    """How often each warning was given where the hide was wrong and where it was right."""
    traced = [row for row in rows if row.outcome != "refused"]
    kinds = sorted({kind for row in traced if row.words for kind in row.words.split(", ")})
    lines = ["warning              where wrong   where right"]
    for kind in kinds:
        told = [row for row in traced if kind in row.words.split(", ")]
        wrong = sum(row.wrong for row in told)
        lines.append(f"{kind:20s} {wrong:11d} {len(told) - wrong:13d}")
    none = [row for row in traced if not row.words]
    wrong = sum(row.wrong for row in none)
    return [*lines, f"{'none':20s} {wrong:11d} {len(none) - wrong:13d}"]


_ROOM_HEAD = (
    f"{'':16s} scenes silent  refused warned of those without a trap   area %: median  95 %   "
    "Hausdorff mm: median  95 %   edge mm: mean   covered"
)


def _room_line(name: str, rows: Sequence[MeasuredRoom]) -> str:
    fair = [row for row in rows if not row.trap]
    sound = [row for row in rows if row.sound]
    taken = [row for row in rows if row.outcome == "taken" and not row.trap]
    refused, warned = (sum(row.outcome == what for row in fair) for what in ("refused", "warned"))
    head = f"{name:16s} {len(rows):6d} {sum(row.silent for row in rows):6d}  {refused:7d} {warned:6d} of {len(fair):4d}"
    if not sound:
        return head
    area, far = np.abs([row.area for row in sound]), np.array([row.hausdorff for row in sound])
    covered = np.mean([abs(row.area) <= row.stated for row in taken])
    return (
        f"{head}               {np.median(area):14.2f} {np.percentile(area, 95):5.2f} {np.median(far):21.1f} "
        f"{np.percentile(far, 95):5.1f} {np.mean([row.edge for row in sound]):14.2f} {covered:12.0%}"
    )


def measure(number: int, keep: Path | None = None) -> Measured:
    """Render (or take from `keep`) and trace one scene."""
    from nestplan.intake.photo.flaws import suggest_flaws
    from nestplan.intake.photo.outline import find_outline
    from nestplan.intake.photo.reading import read_photo
    from nestplan.intake.photo.rectification import area_error_over, rectify
    from nestplan.intake.photo.reference import find_reference

    rendered, path = rendered_scene(number, keep)
    scene = rendered.scene
    large = [flaw for flaw in scene.flaws if flaw.size > 10]
    start = time.perf_counter()
    try:
        photo = read_photo(path)
        rectified = rectify(photo, find_reference(photo, scene.reference))
        outline = find_outline(rectified)
    except NestplanError as fault:
        return Measured(
            scene.name,
            scene.tilt,
            100,
            999,
            999,
            0,
            len(large),
            0,
            0,
            time.perf_counter() - start,
            fault.what,
        )
    seconds = time.perf_counter() - start
    suggestions = suggest_flaws(rectified, outline)
    truth = shapely.Polygon(scene.outline)
    turn, shift = best_seat(outline.exterior, scene.outline)
    traced = shapely.Polygon(outline.exterior @ turn.T + shift)
    beyond = shapely.points(traced.exterior.segmentize(2.0).coords)
    off = shapely.distance(truth.exterior, beyond) * np.where(shapely.contains(truth, beyond), -1, 1)
    guesses = [shapely.Polygon(flaw.ring @ turn.T + shift).buffer(0) for flaw in suggestions]
    drawn = [
        shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in flaw.rings]) for flaw in scene.flaws
    ]
    found = sum(
        any(guess.intersects(shape) for guess in guesses)
        for flaw, shape in zip(scene.flaws, drawn, strict=True)
        if flaw.size > 10
    )
    false = sum(not any(guess.intersects(shape.buffer(6)) for shape in drawn) for guess in guesses)
    return Measured(
        scene.name,
        scene.tilt,
        (traced.area / truth.area - 1) * 100,
        float(shapely.hausdorff_distance(traced.exterior, truth.exterior, densify=0.002)),
        float(off.max()),
        area_error_over(rectified, outline.exterior) * 100,
        len(large),
        found,
        false,
        seconds,
    )


def rendered_scene(number: int, keep: Path | None) -> tuple[Rendered, Path]:
    """The scene and its JPEG, rendered once into `keep` (or a scratch folder)."""
    import tempfile

    folder = keep or Path(tempfile.mkdtemp(prefix="photos"))
    folder.mkdir(parents=True, exist_ok=True)
    path, record = folder / f"s{number:03d}.jpg", folder / f"s{number:03d}.pkl"
    if record.exists():
        # Only ever our own files: the folder is the one this benchmark wrote.
        return pickle.loads(record.read_bytes()), path
    rendered = render(random_scene(number))
    path.write_bytes(rendered.jpeg)
    record.write_bytes(pickle.dumps(rendered))
    return rendered, path


def best_seat(ring: Array, truth: Array) -> tuple[Array, Array]:
    """The turn (2, 2) and shift (2,) that lay a ring on the true one best (iterated closest points)."""
    true_ring = shapely.Polygon(truth).exterior
    points = np.asarray(shapely.Polygon(ring).exterior.segmentize(8.0).coords)[:-1]
    start = np.asarray(shapely.Polygon(truth).centroid.coords[0]) - np.asarray(
        shapely.Polygon(ring).centroid.coords[0]
    )
    best = None
    for first in np.radians(np.arange(0, 360, 15)):
        turn, shift = _turn(first), np.zeros(2)
        middle = points.mean(axis=0)
        shift = start + middle - turn @ middle
        cost = np.inf
        for _ in range(60):
            moved = points @ turn.T + shift
            near = shapely.get_coordinates(
                shapely.line_interpolate_point(
                    true_ring, shapely.line_locate_point(true_ring, shapely.points(moved))
                )
            )
            now = float(((near - moved) ** 2).mean())
            if cost - now < 1e-4:
                break
            cost = now
            turn, shift = _fit(points, near)
            if cost > 4000 and _ > 8:
                break
        if best is None or cost < best[0]:
            best = (cost, turn, shift)
    assert best is not None
    return best[1], best[2]


def _turn(angle: float) -> Array:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _fit(points: Array, near: Array) -> tuple[Array, Array]:
    a, b = points.mean(axis=0), near.mean(axis=0)
    left, _, right = np.linalg.svd((near - b).T @ (points - a))
    turn = left @ np.diag([1, np.linalg.det(left @ right)]) @ right
    return turn, b - turn @ a


def large_photo(folder: Path) -> dict[str, float]:
    """Seconds and peak memory (MiB) of tracing one 12-megapixel photograph in a process of its own; see the protocol.

    It is rendered in yet another: Linux counts what a process held before it became another program as its peak too.
    """
    path = folder / "large.jpg"
    scene = random_scene(2, width=4000, height=3000)
    if not path.exists():
        with ProcessPoolExecutor(1) as pool:
            path.write_bytes(pool.submit(_plain_jpeg, scene).result())
    sides = [f"{side:g}" for side in scene.reference]

    def alone(libraries: str) -> dict[str, float]:
        command = [sys.executable, "-c", _ALONE, str(path), *sides, libraries]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        figures: dict[str, float] = json.loads(done.stdout)
        return figures

    runs = [(alone("before"), alone("meanwhile")) for _ in range(LARGE_RUNS)]
    return {
        "seconds": float(np.median([loaded["seconds"] for loaded, _ in runs])),
        "whole": float(np.median([whole["whole"] for _, whole in runs])),
        "MiB": max(figures["MiB"] for run in runs for figures in run),
    }


def _plain_jpeg(scene: Scene) -> bytes:
    return render(scene, supersample=1).jpeg


def table(rows: Sequence[Measured]) -> str:
    """The figures in the protocol's words."""
    area = np.abs([row.area for row in rows])
    far = np.array([row.hausdorff for row in rows])
    out = np.array([row.outside for row in rows])
    false = np.array([row.false for row in rows])
    wanted, got = sum(row.flaws for row in rows), sum(row.found for row in rows)
    within = np.mean([abs(row.area) <= 2 * row.stated_error for row in rows])
    return "\n".join(
        [
            f"photographs             {len(rows)}, refused {sum(bool(row.fault) for row in rows)}",
            f"area error, %           median {np.median(area):.2f}   95th percentile {np.percentile(area, 95):.2f}"
            f"   worst {area.max():.2f}   mean with sign {np.mean([row.area for row in rows]):+.2f}",
            f"  within twice the stated error: {within:.0%} of photographs",
            f"Hausdorff, mm           median {np.median(far):.1f}   95th percentile {np.percentile(far, 95):.1f}",
            f"outside true edge, mm   median {np.median(out):.1f}   95th percentile {np.percentile(out, 95):.1f}",
            f"flaws over 10 mm        found {got} of {wanted} ({got / max(wanted, 1):.0%})",
            f"false suggestions       mean {false.mean():.2f} a hide   most {false.max()}"
            f"   hides with more than three {int((false > 3).sum())}",
            f"seconds a photograph    median {np.median([row.seconds for row in rows]):.1f}",
        ]
    )


def measure_rooms(numbers: Sequence[int], workers: int, keep: Path | None, out: Path | None) -> None:
    """Measure room scenes and print a line for each, then the table of all that `out` holds.

    Each row is a line of JSON in `out` as soon as it is measured, and what stands there is not measured again: so a
    long range can be run in pieces, one after the other or beside each other.
    """
    rows = read_rooms(out) if out and out.exists() else []
    done = {row.number for row in rows}
    with ProcessPoolExecutor(workers) as pool:
        for row in pool.map(measure_room, [each for each in numbers if each not in done], repeat(keep)):
            rows.append(row)
            print(
                f"{row.name:62s} tilt {row.tilt:3.0f} k {row.distortion:+.2f}  {row.outcome:7s} "
                f"area {row.area:+7.2f} % (± {row.stated:5.2f})  H {row.hausdorff:6.1f}  edge {row.edge:5.2f}  "
                f"{row.seconds:4.1f} s  {'SILENT ' if row.silent else ''}{row.words}",
                flush=True,
            )
            if out:
                with out.open("a", encoding="utf-8") as lines:
                    lines.write(json.dumps(asdict(row)) + "\n")
    print(room_table(rows))


def read_rooms(path: Path) -> list[MeasuredRoom]:
    """The rows that runs of rooms wrote."""
    return [MeasuredRoom(**json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines()]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="keep rendered photographs here and use them again")
    parser.add_argument(
        "--out", type=Path, help="write the figures of each photograph as JSON; of rooms, add to it"
    )
    parser.add_argument("--rooms", action="store_true", help="measure the scenes in rooms")
    given = parser.parse_args()
    numbers = range(given.first, given.first + given.count)
    if given.rooms:
        measure_rooms(numbers, given.workers, given.keep, given.out)
        return
    rows = []
    with ProcessPoolExecutor(given.workers) as pool:
        for row in pool.map(measure, numbers, [given.keep] * len(numbers)):
            rows.append(row)
            print(
                f"{row.name:36s} tilt {row.tilt:4.0f}  area {row.area:+6.2f} %  (2σ {row.stated_error:4.2f})  "
                f"H {row.hausdorff:5.1f}  out {row.outside:5.1f}  flaws {row.found}/{row.flaws}  false {row.false}"
                f"  {row.seconds:4.1f} s {row.fault}",
                flush=True,
            )
    print(table(rows))
    if given.out:
        given.out.write_text(json.dumps([asdict(row) for row in rows], indent=1))
    import tempfile

    figures = large_photo(given.keep or Path(tempfile.mkdtemp(prefix="photos")))
    print(
        f"12 megapixels           {figures['seconds']:.1f} s from file to outline, {figures['whole']:.1f} s with the"
        f" loading of libraries, peak memory {figures['MiB']:.0f} MiB"
    )


if __name__ == "__main__":
    main()
