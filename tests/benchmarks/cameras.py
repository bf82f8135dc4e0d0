"""Whether the stated error of a photograph's scale is true: `python -m tests.benchmarks.cameras [--draws 1000]`.

Protocol. Each draw is a camera over an invented hide (tests/intake/photo_scenes.invented_outline) with one or four
sheets beside it (A4, A3, letter or a board of 600 × 400 mm, turned by up to 20 degrees), framed by the renderer's own
camera at 2000 × 1500 pixels: tilt 0 to 45 degrees, focal length 0.6 to 1.1 picture diagonals, in half of the draws a
lens with distortion k between -0.1 and 0.06, in the others none, axis in the middle. No picture is made. What finding
the sheets would give is drawn: 16 points along each side with the errors that were measured on rendered pictures (see
`Errors`), part of them common to all points of a side. With probability `--lines` the floor also tells
the lens (± 0.0025, truly so). With probability `--joints` the floor has 12 joints each way, laid as `Joints` says, of
which what lies off the hide is seen, and sides of things that lie anyhow.

The camera is fitted to that; the hide's outline as the true camera sees it is taken back to the floor, and its area and
the lengths between 12 pairs of its points are compared with the truth. `covered`: share of draws in which the error
lies within two stated standard errors (95 % wanted), of the area and of the lengths; `error/stated`: median of the
error over the stated standard error (0.67 if all is normal and true, less if the stated error is larger than it need
be). Truth and fit share no code but the lens's formula. Seeds 0 … draws-1; `--first` for others.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import shapely

from nestplan.intake.photo.camera import CameraFit, FloorLines, SheetView, fit_camera
from nestplan.intake.photo.floor_lines import fit_to_floor
from nestplan.intake.photo.rectification import area_error_of_ring, scale_error_of_ring
from tests.benchmarks.grouped_table import grouped_lines, tilt_band
from tests.intake.photo_render import SHEETS, Lens, Scene, camera, rectangle, reference_ring, to_pixels
from tests.intake.photo_scenes import invented_outline

Array = np.ndarray[Any, Any]

SIZE = (2000, 1500)
SIDES = ("right", "left", "top", "bottom")


@dataclass(frozen=True)
class Errors:
    """Standard errors, pixels, as measured on sides of rendered sheets: of a point by itself (drawn for each side
    between the two), of a whole side's offset, turn (at its ends) and bend, and by how much more these scatter than
    points without anything in common would let them. `all_sides`: of the offset that all sides in a picture share;
    `told`: what finding the sheets says of a corner."""

    point: tuple[float, float] = (0.02, 0.14)
    whole: tuple[float, float, float] = (0.06, 0.046, 0.043)
    shared: tuple[float, float, float] = (1.33, 1.0, 1.67)
    all_sides: float = 0.083
    told: float = 0.12


@dataclass(frozen=True)
class Joints:
    """How truly a floor's joints are laid, standard errors in degrees: the two ways to each other, all of one way, and
    one by itself; and of an edge point that is seen of them, pixels."""

    square: float = 0.2
    way: float = 0.05
    each: float = 0.1
    point: float = 0.4


@dataclass(frozen=True)
class Draw:
    """One draw: what it was, its errors (relative) and what was stated (one standard error)."""

    sheet: str
    count: int
    tilt: float
    k: float
    fitted_k: float
    area: float
    lengths: tuple[float, ...]
    stated_area: float
    stated_length: float
    floor: bool = False


def drawn_scene(
    number: int,
    outline: Array,
    size: tuple[float, float],
    rng: np.random.Generator,
    *,
    distorted: float,
) -> Scene:
    """Scene `number`: a hide and a sheet of a size (mm, either way round) beside it, seen by a drawn camera, of which
    the share `distorted` has a bent lens."""
    return Scene(
        outline=outline,
        reference=size if rng.random() < 0.5 else size[::-1],
        reference_side=SIDES[int(rng.integers(4))],
        reference_turn=float(rng.uniform(-20, 20)),
        tilt=float(rng.uniform(0, 45)),
        azimuth=float(rng.uniform(0, 360)),
        roll=float(rng.uniform(-8, 8)),
        focal=float(rng.uniform(0.6, 1.1)),
        fill=float(rng.uniform(0.84, 0.96)),
        width=SIZE[0],
        height=SIZE[1],
        distortion=float(rng.uniform(-0.1, 0.06)) if rng.random() < distorted else 0.0,
        seed=number,
    )


def drawn(number: int, *, errors: Errors, lines: float, joints: float = 0.0) -> Draw:
    """Draw `number`, fitted and compared with the truth."""
    rng = np.random.default_rng(610_000 + number)
    kind = ("side", "shoulder", "skin")[int(rng.integers(3))]
    name = ("A4", "A3", "letter", "board")[int(rng.integers(4))]
    count = (1, 4)[int(rng.integers(2))]
    outline = invented_outline(kind, 20_000 + number % 97)
    scene = drawn_scene(number, outline, SHEETS[name], rng, distorted=0.5)
    sheets = [reference_ring(scene)]
    if count == 4:
        others = [side for side in SIDES if side != scene.reference_side]
        middles = [
            reference_ring(
                Scene(outline=outline, reference=scene.reference, reference_side=side, seed=number)
            )
            for side in others
        ]
        sheets += [rectangle(*ring.mean(axis=0), *scene.reference, rng.uniform(-20, 20)) for ring in middles]
    homography = camera(scene, np.vstack([outline, *sheets]))
    lens = Lens.of_picture(scene.distortion, *SIZE)
    plane = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * np.array(scene.reference)
    alike = errors.all_sides * rng.standard_normal()
    views = [view_of(to_pixels(homography, ring), plane, lens, errors, rng, alike) for ring in sheets]
    told = (scene.distortion + 0.0025 * rng.standard_normal(), 0.0025) if rng.random() < lines else None
    chains = _joints_seen(outline, homography, lens, rng) if rng.random() < joints else []

    def fitted(floor: FloorLines | None) -> CameraFit:
        return fit_camera(views, SIZE, lines=told, floor=floor)

    fit, floor = fit_to_floor(fitted, chains, SIZE, 0.3)
    seen = lens.apply(to_pixels(homography, outline))
    found = fit.floor_of(seen)
    pairs = rng.integers(0, len(outline), (400, 2))
    true = np.hypot(*(outline[pairs[:, 0]] - outline[pairs[:, 1]]).T)
    far = np.flatnonzero(true > 0.5 * true.max())[:12]
    got = np.hypot(*(found[pairs[far, 0]] - found[pairs[far, 1]]).T)
    return Draw(
        name,
        count,
        scene.tilt,
        scene.distortion,
        0.0 if fit.lens is None else fit.lens.k,
        shoelace(found) / shoelace(outline) - 1,
        tuple((got / true[far] - 1).tolist()),
        area_error_of_ring(fit, found),
        scale_error_of_ring(fit, found),
        floor is not None,
    )


def _joints_seen(outline: Array, homography: Array, lens: Lens, rng: np.random.Generator) -> list[Array]:
    """Edge points (n, 2), pixels, of the joints of a floor and of three boxes, where the hide does not lie on them."""
    laid = Joints()
    low, high = outline.min(axis=0) - 300, outline.max(axis=0) + 300
    base = rng.uniform(0, 180)
    hide = shapely.Polygon(outline).buffer(0)
    square = 90 + laid.square * rng.standard_normal()
    ways = [base + turn + laid.way * rng.standard_normal() for turn in (0.0, square)]
    drawn = [
        (rng.uniform(low, high), way + laid.each * rng.standard_normal()) for way in ways for _ in range(12)
    ]
    segments = []
    for place, angle in drawn:
        way = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
        line = shapely.LineString([place - 3000 * way, place + 3000 * way])
        off = shapely.difference(shapely.intersection(line, shapely.box(*low, *high)), hide)
        segments += [np.asarray(part.coords) for part in shapely.get_parts(off).tolist()]
    for _ in range(3):
        box = rectangle(*rng.uniform(low, high), *rng.uniform(100, 400, 2), float(rng.uniform(0, 180)))
        segments += [box[[k, (k + 1) % 4]] for k in range(4)]
    chains = []
    for start, end in segments:
        places = start + np.linspace(0, 1, 60)[:, None] * (end - start)
        seen = lens.apply(to_pixels(homography, places)) + laid.point * rng.standard_normal((60, 2))
        inside = ((seen > 0) & (seen < SIZE)).all(axis=1)
        if inside.sum() > 10:
            chains.append(seen[inside])
    return chains


def view_of(
    corners: Array, plane: Array, lens: Lens, errors: Errors, rng: np.random.Generator, alike: float = 0.0
) -> SheetView:
    """What finding a sheet whose corners (4, 2) are seen without a lens at `corners` would give, errors and all, its
    sides as many pixels off `alike`."""
    t = np.linspace(0.05, 0.95, 16)
    sides, lines = [], []
    for k in range(4):
        start, end = corners[k], corners[(k + 1) % 4]
        way = (end - start) / np.hypot(*(end - start))
        across = np.array([-way[1], way[0]])
        point = rng.uniform(*errors.point)
        design = np.column_stack([np.ones(len(t)), 2 * t - 1, (2 * t - 1) ** 2 - 1 / 3])
        own = point * np.sqrt(np.diag(np.linalg.inv(design.T @ design)))
        whole = np.hypot(errors.whole, own * np.sqrt(np.square(errors.shared) - 1))
        off = alike + design @ (whole * rng.standard_normal(3)) + point * rng.standard_normal(len(t))
        points = lens.apply(start + t[:, None] * (end - start)) + off[:, None] * across
        sides.append(points)
        middle = points.mean(axis=0)
        lines.append((middle, np.linalg.svd(points - middle, full_matrices=False)[2][1]))
    seen = [
        np.linalg.solve(
            np.array([lines[k - 1][1], lines[k][1]]),
            [lines[k - 1][1] @ lines[k - 1][0], lines[k][1] @ lines[k][0]],
        )
        for k in range(4)
    ]
    return SheetView(plane, np.array(seen), errors.told, tuple(sides))


def shoelace(ring: Array) -> float:
    """Area of a ring (n, 2)."""
    x, y = ring.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def table(rows: Sequence[Draw]) -> str:
    """The figures, whole and by what the draws hold."""
    groups: list[tuple[str, Callable[[Draw], str]]] = [
        ("sheets", lambda row: f"{row.count} sheet{'s' * (row.count > 1)}"),
        ("joints", lambda row: "used" if row.floor else "none"),
        ("lens", lambda row: "distorted" if row.k else "straight"),
        ("both", lambda row: f"{row.count}, {'distorted' if row.k else 'straight'}"),
        ("sheet", lambda row: row.sheet),
        ("tilt", lambda row: tilt_band(row.tilt)),
    ]
    lines = [
        f"{'':16s}  draws   area: covered  error/stated  error %: median  95 %  stated %: median  95 %   "
        "lengths: covered  error/stated",
        *grouped_lines(rows, _line, groups),
    ]
    return "\n".join(lines)


def _line(name: str, rows: Sequence[Draw]) -> str:
    error, stated = np.abs([row.area for row in rows]), np.array([row.stated_area for row in rows])
    lengths = np.abs([row.lengths for row in rows]) / np.array([row.stated_length for row in rows])[:, None]
    return (
        f"{name:16s} {len(rows):6d} {np.mean(error <= 2 * stated):15.1%} {np.median(error / stated):13.2f} "
        f"{100 * np.median(error):16.2f} {100 * np.percentile(error, 95):5.2f} {100 * np.median(stated):17.2f} "
        f"{100 * np.percentile(stated, 95):5.2f} {np.mean(lengths <= 2):18.1%} {np.median(lengths):13.2f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--lines", type=float, default=0.3, help="how often the floor tells the lens")
    parser.add_argument("--joints", type=float, default=0.0, help="how often the floor has joints")
    parser.add_argument("--exact", action="store_true", help="without any errors of the sides")
    given = parser.parse_args()
    errors = Errors((0, 0), (0, 0, 0), (1, 1, 1), 0.0) if given.exact else Errors()
    numbers = range(given.first, given.first + given.draws)
    with ProcessPoolExecutor(given.workers) as pool:
        rows = list(
            pool.map(
                partial(drawn, errors=errors, lines=given.lines, joints=given.joints), numbers, chunksize=10
            )
        )
    print(table(rows))


if __name__ == "__main__":
    main()
