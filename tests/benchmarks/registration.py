"""How surely a hide is found again: `python -m tests.benchmarks.registration [--first 0] [--count 40]`.

Protocol. Scenes first … first+count-1: an invented hide (tests/intake/photo_scenes.invented_outline), turned by any
angle, shifted, stretched by up to 1 % along a direction of its own (and shrunk by up to half of it square to that), its
edge redrawn with 1 mm of smooth error as a second tracing has it, and one corner changed: cut off straight, 40 to 120
mm deep, or folded out where it was cut before. 400 points all over the unchanged hide stand for the plan. Measured:
  within 3 mm   share of the points that are taken to within 3 mm of where they went; the worst distance
  told          whether the changed corner is told, and how many changes are told that are none
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from nestplan.errors import InputError
from nestplan.intake.photo.registration import register_outline
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


def random_pair(number: int) -> Pair:
    """Pair `number` of an endless series."""
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
    old = old + smooth_error(len(old), 0.7, rng)
    now = now + smooth_error(len(now), 0.7, rng)
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


def main() -> None:
    """Measure the pairs asked for and print their table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=40)
    asked = parser.parse_args()
    within, worst, told, false, refused = [], [], 0, 0, 0
    for number in range(asked.first, asked.first + asked.count):
        pair = random_pair(number)
        try:
            found = register_outline(pair.old, pair.now, tolerance=2.0)
        except InputError as fault:
            print(f"{number:3} refused: {fault.what}")
            refused += 1
            continue
        away = np.hypot(*(pair.before @ found.matrix.T + found.shift - pair.after).T)
        hits = [
            shapely.Polygon(change.ring).buffer(0).intersects(pair.corner.buffer(10))
            for change in found.changes
        ]
        within.append(float((away <= 3).mean()))
        worst.append(float(away.max()))
        told += any(hits)
        false += len(hits) - sum(hits)
        print(
            f"{number:3} within 3 mm {within[-1]:.3f} worst {worst[-1]:5.2f} residual {found.residual:.2f} "
            f"same {found.same:.2f} told {sum(hits)}/{len(hits)} corner {np.sqrt(pair.corner.area):.0f} mm "
            f"{'grown' if pair.grown else 'gone'} rival {found.rival}"
        )
    print(
        f"{asked.count} pairs: points within 3 mm {np.mean(within):.1%}, pairs with 95 % within "
        f"{sum(share >= 0.95 for share in within)}, worst {max(worst):.1f} mm; changed corner told {told}, "
        f"told without cause {false}, refused {refused}"
    )


if __name__ == "__main__":
    main()
