"""How the time to a first answer depends on how many points the outlines have.

    python -m tests.benchmarks.outline_points [--points 50 500 5000] [--repeats 3]

One invented cow side and 40 pieces, drawn with ever more points that lie within `ROUGH` mm of the same outlines, as
digitised ones do. Printed: processor seconds until the plan is made and checked (least of the repeats), the ratio to
the fewest points, and what is placed.
"""

from __future__ import annotations

import argparse
import sys
import time

import msgspec
import numpy as np
import shapely

from nestplan.model import Hide, Job
from nestplan.nesting.nest import nest
from tests.generated_hides import Ring, generated_hide, generated_job, points

ROUGH = 0.3
"""mm by which the points lie off the smooth outline."""


def redrawn(ring: Ring, count: int, rng: np.random.Generator) -> Ring:
    """An outline with so many points."""
    line = shapely.LinearRing(ring)
    shares = np.arange(count) / count
    drawn = shapely.get_coordinates(shapely.line_interpolate_point(line, shares, normalized=True))
    return np.round(drawn + rng.uniform(-ROUGH, ROUGH, drawn.shape), 2)


def drawn_with(count: int, shift: float = 0.0) -> tuple[Job, Hide]:
    """The job and the hide with so many points in the hide's outline, and a tenth as many in each piece's; all outlines
    moved by so many mm."""
    rng = np.random.default_rng(5)
    hide, job = generated_hide(2), generated_job(2, pieces=40)
    hide = msgspec.structs.replace(hide, outline=points(redrawn(hide.ring, count, rng) + shift))
    pieces = tuple(
        msgspec.structs.replace(piece, outline=points(redrawn(piece.ring, max(count // 10, 34), rng) + shift))
        for piece in job.articles[0].pieces
    )
    article = msgspec.structs.replace(job.articles[0], pieces=pieces)
    return msgspec.structs.replace(job, articles=(article,)), hide


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--points", type=int, nargs="+", default=[50, 500, 5000])
    parser.add_argument("--repeats", type=int, default=3)
    given = parser.parse_args()
    first = 0.0
    nest(*[drawn_with(50)[0], [drawn_with(50)[1]]], passes=0)
    for count in given.points:
        took, placed = np.inf, 0
        for repeat in range(given.repeats):
            # Moved, so that nothing remembered of the last run serves this one.
            job, hide = drawn_with(count, repeat + 1.0)
            began = time.process_time()
            plan = nest(job, [hide], passes=0)
            took = min(took, time.process_time() - began)
            placed = plan.figures.placed if plan.figures else 0
        first = first or took
        sys.stdout.write(f"{count:>6} points {took:>6.2f} s {took / first:>5.2f} times, {placed} placed\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
