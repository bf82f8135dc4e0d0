"""How surely a hide is found again: `python -m tests.benchmarks.registration [--first 0] [--count 40] [--pictures]`.

Protocol. Scenes first … first+count-1: an invented hide (tests/intake/photo_scenes.invented_outline), turned by any
angle, shifted, stretched by up to 1 % along a direction of its own (and shrunk by up to half of it square to that), its
edge redrawn with 1 mm of smooth error as a second tracing has it, and one corner changed: cut off straight, 40 to 120
mm deep, or folded out where it was cut before. 400 points all over the unchanged hide stand for the plan. Measured:
  within 3 mm   share of the points that are taken to within 3 mm of where they went; the worst distance
  told          whether the changed corner is told, and how many changes are told that are none
With `--pictures` both are photographed and traced: each lies on a floor of its own beside one sheet of A3, seen by a
camera of its own, tilted by up to 30 degrees (1600 × 1200 pixels). Points are then those of the leather, wherever the
two tracings put them, so that the errors of both scales count as well.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from PIL import Image

from nestplan.errors import InputError
from nestplan.intake.photo.outline import find_outline
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import rectify
from nestplan.intake.photo.reference import find_reference
from nestplan.intake.photo.registration import register_outline
from tests.intake.photo_render import DRAWN_FLOORS, FLOORS, HIDE_COLOURS, Scene, render, seen_in
from tests.intake.photo_scenes import invented_outline

Array = np.ndarray[Any, Any]


@dataclass(frozen=True)
class Pair:
    """A hide's outline before and now, the matrix and shift between, the changed corner (as it lies now), points of
    the plan before and now."""

    old: Array
    now: Array
    corner: Any
    grown: bool
    before: Array
    after: Array


def smooth_error(count: int, size: float, rng: np.random.Generator) -> Array:
    """Errors (count, 2) that wander slowly along a ring."""
    phases = np.arange(count) * 2 * np.pi / count
    waves = rng.integers(5, 60, 12)
    total = sum(
        rng.standard_normal(2) * np.cos(wave * phases[:, None] + rng.uniform(0, 6.3, 2)) for wave in waves
    )
    return np.asarray(total / np.sqrt(6) * size)


def random_pair(number: int, *, error: float = 0.7) -> Pair:
    """Pair `number` of an endless series, its edges drawn with so many mm of error."""
    rng = np.random.default_rng(61_000 + number)
    kind = ("side", "shoulder", "skin")[number % 3]
    ring = invented_outline(kind, 70_000 + number)
    whole = shapely.Polygon(ring).buffer(0)
    ring = np.asarray(whole.exterior.segmentize(8.0).coords)[:-1]
    angle = rng.uniform(0, 2 * np.pi)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    lean = rng.uniform(0, np.pi)
    along = np.array([np.cos(lean), np.sin(lean)])
    give = rng.uniform(-0.01, 0.01)
    square = np.array([-along[1], along[0]])
    stretch = np.eye(2) + give * np.outer(along, along) - 0.5 * give * np.outer(square, square)
    matrix, shift = turn @ stretch, rng.uniform(-2000, 2000, 2)
    cut = _cut_corner(whole, rng)
    kept = whole.difference(cut)
    kept = max(getattr(kept, "geoms", [kept]), key=lambda part: part.area)
    corner = whole.difference(kept)
    grown = bool(rng.random() < 0.3)
    first, second = (kept, whole) if grown else (whole, kept)
    old, moved = (np.asarray(shape.exterior.segmentize(8.0).coords)[:-1] for shape in (first, second))
    now = moved @ matrix.T + shift
    old = old + smooth_error(len(old), error, rng)
    now = now + smooth_error(len(now), error, rng)
    low, high = ring.min(axis=0), ring.max(axis=0)
    points = rng.uniform(low, high, (3000, 2))
    points = points[shapely.contains_xy(kept, points)][:400]
    laid = shapely.transform(corner, lambda p: p @ matrix.T + shift)
    return Pair(old, now, laid, grown, points, points @ matrix.T + shift)


def _cut_corner(whole: Any, rng: np.random.Generator) -> Any:
    """A half plane that takes 40 to 120 mm off the hide's outermost place in some direction."""
    direction = rng.uniform(0, 2 * np.pi)
    way = np.array([np.cos(direction), np.sin(direction)])
    ring = np.asarray(whole.exterior.coords)
    edge = float((ring @ way).max()) - rng.uniform(40, 120)
    side = np.array([-way[1], way[0]]) * 1e4
    base = way * edge
    return shapely.Polygon([base - side, base + side, base + side + 1e4 * way, base - side + 1e4 * way])


def photographed_pair(number: int) -> tuple[Pair, float]:
    """Pair `number` as two photographs of it are traced, and how far (mm) both outlines may err.

    Raises InputError if one cannot be traced.
    """
    pair = random_pair(number, error=0.0)
    rng = np.random.default_rng(62_000 + number)
    leather = HIDE_COLOURS[("natural", "brown", "black")[int(rng.integers(3))]]
    first, before, tolerance = _traced(pair.old, pair.before, leather, rng)
    second, after, more = _traced(pair.now, pair.after, leather, rng)
    corner = shapely.transform(pair.corner, second)
    return Pair(first(None), second(None), corner, pair.grown, before, after), tolerance + more


def _traced(
    ring: Array, points: Array, leather: tuple[float, float, float], rng: np.random.Generator
) -> tuple[Callable[[Array | None], Array], Array, float]:
    """Where a tracing puts places of the leather (None: its outline), the points there, and its tolerance, mm."""
    scene = Scene(
        outline=ring,
        floor=(*FLOORS, *DRAWN_FLOORS)[int(rng.integers(9))],
        hide_colour=leather,
        reference_side=("right", "left", "top", "bottom")[int(rng.integers(4))],
        reference_turn=float(rng.uniform(-15, 15)),
        tilt=float(rng.uniform(0, 30)),
        azimuth=float(rng.uniform(0, 360)),
        focal=float(rng.uniform(0.65, 1.0)),
        width=1600,
        height=1200,
        seed=int(rng.integers(10_000)),
    )
    rendered = render(scene, supersample=1)
    photo = Photo(np.asarray(Image.open(io.BytesIO(rendered.jpeg))), "hide.jpg")
    straight = rectify(photo, find_reference(photo, scene.reference))
    outline = find_outline(straight)

    def placed(places: Array | None) -> Array:
        if places is None:
            return outline.exterior
        return straight.floor_points(seen_in(scene, rendered.homography, places))

    return placed, placed(points), outline.tolerance


def main() -> None:
    """Measure the pairs asked for and print their table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--pictures", action="store_true", help="photograph both and trace them")
    asked = parser.parse_args()
    within, worst, told, false, refused = [], [], 0, 0, 0
    for number in range(asked.first, asked.first + asked.count):
        try:
            pair, tolerance = photographed_pair(number) if asked.pictures else (random_pair(number), 2.0)
            found = register_outline(pair.old, pair.now, tolerance=tolerance)
        except InputError as fault:
            print(f"{number:3} refused: {fault.what}")
            refused += 1
            continue
        away = np.hypot(
            *(pair.before @ found.matrix.T + found.shift - found.slant.straightened(pair.after)).T
        )
        hits = [
            shapely.Polygon(found.slant.seen(change.ring)).buffer(0).intersects(pair.corner.buffer(10))
            for change in found.changes
        ]
        within.append(float((away <= 3).mean()))
        worst.append(float(away.max()))
        told += any(hits)
        false += len(hits) - sum(hits)
        print(
            f"{number:3} within 3 mm {within[-1]:.3f} worst {worst[-1]:5.2f} residual {found.residual:.2f} "
            f"same {found.same:.2f} told {sum(hits)}/{len(hits)} corner {np.sqrt(pair.corner.area):.0f} mm "
            f"{'grown' if pair.grown else 'gone'} rival {found.rival}",
            flush=True,
        )
    print(
        f"{asked.count} pairs: points within 3 mm {np.mean(within):.1%}, pairs with 95 % within "
        f"{sum(share >= 0.95 for share in within)}, worst {max(worst):.1f} mm; changed corner told {told}, "
        f"told without cause {false}, refused {refused}"
    )


if __name__ == "__main__":
    main()
