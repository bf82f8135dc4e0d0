"""Kernels that turn a master shape into a row of turned shapes, with the boxes about it and about runs of its edges.

Most poses are told by their discs and their box; the outline is turned only for those that are not."""

from __future__ import annotations

import math

import numpy as np

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.records import LANES, Shapes, TurnedShapes

EDGES_PER_RUN = 8
"""Edges that have one box. Two detailed rings lying close together have boxes that overlap widely, yet few edges that
could cross: the boxes of runs leave only those to be compared."""


@kernel(**FLAT, forceinline=True)
def cosine_sine(degrees: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees; exact at multiples of 90."""
    quarter = degrees / 90.0
    whole = math.floor(quarter + 0.5)
    if quarter == whole:
        turn = int(whole) % 4
        if turn == 0:
            return 1.0, 0.0
        if turn == 1:
            return 0.0, 1.0
        if turn == 2:
            return -1.0, 0.0
        return 0.0, -1.0
    radians = math.radians(degrees)
    return math.cos(radians), math.sin(radians)


@kernel(**FLAT)
def last_of_run(run: int, count: int) -> int:
    """One past the last edge of a run, in a ring of `count` corners."""
    return min((run + 1) * EDGES_PER_RUN, count)


@kernel(**FLAT)
def corner_before(corner: int, count: int) -> int:
    """The corner before one in a ring of `count` corners: edge k leads from it to corner k."""
    return corner - 1 if corner > 0 else count - 1


@kernel(**FLAT, fastmath={"nnan", "nsz", "reassoc"}, forceinline=True)
def write_run_boxes(rows: TurnedShapes, row: int) -> None:
    """Write the boxes of the runs of edges of a row's ring."""
    count = rows.corner_count[row]
    for run in range((count + EDGES_PER_RUN - 1) // EDGES_PER_RUN):
        start = run * EDGES_PER_RUN
        before = corner_before(start, count)
        run_x0 = run_x1 = rows.corner_x[row, before]
        run_y0 = run_y1 = rows.corner_y[row, before]
        for k in range(start, last_of_run(run, count)):
            x = rows.corner_x[row, k]
            y = rows.corner_y[row, k]
            run_x0 = min(run_x0, x)
            run_x1 = max(run_x1, x)
            run_y0 = min(run_y0, y)
            run_y1 = max(run_y1, y)
        rows.run_box[row, run, 0] = run_x0
        rows.run_box[row, run, 1] = run_y0
        rows.run_box[row, run, 2] = run_x1
        rows.run_box[row, run, 3] = run_y1


@kernel(**FLAT)
def turn_shape(shapes: Shapes, rows: TurnedShapes, row: int, shape: int, angle: float) -> None:
    """Let a row hold a shape turned by an angle with its outline; nothing is done if it does already."""
    turn_discs_and_box(shapes, rows, row, shape, angle)
    turn_outline(shapes, rows, row)


@kernel(**FLAT, forceinline=True)
def turn_discs_and_box(shapes: Shapes, rows: TurnedShapes, row: int, shape: int, angle: float) -> None:
    """Let a row hold a shape turned by an angle, of its corners none; nothing is done if it does already."""
    if rows.shape[row] == shape and rows.angle[row] == angle:
        return
    cosine, sine = cosine_sine(angle)
    turn_discs(shapes, rows, row, shape, np.float32(cosine), np.float32(sine))
    write_hull_box(shapes, rows, row, shape, cosine, sine)
    turn_tight_box(shapes, rows, row, shape, cosine, sine)
    if rows.shape[row] != shape:
        for k in range(filled_up(shapes.compared_discs[shape])):
            rows.disc_radius[row, k] = shapes.disc_radius[shape, k]
        rows.corner_count[row] = shapes.corner_count[shape]
        rows.disc_count[row] = shapes.compared_discs[shape]
        rows.shape[row] = shape
    rows.angle[row] = angle
    rows.outlined[row] = False


@kernel(**FLAT, forceinline=True)
def turn_outline(shapes: Shapes, rows: TurnedShapes, row: int) -> None:
    """Turn the corners of what a row holds as well, if that is not done yet."""
    if rows.outlined[row]:
        return
    shape = rows.shape[row]
    cosine, sine = cosine_sine(rows.angle[row])
    for k in range(shapes.corner_count[shape]):
        x = shapes.corner_x[shape, k]
        y = shapes.corner_y[shape, k]
        rows.corner_x[row, k] = cosine * x - sine * y
        rows.corner_y[row, k] = sine * x + cosine * y
    write_run_boxes(rows, row)
    rows.outlined[row] = True


@kernel(**FLAT, fastmath={"nnan", "nsz", "reassoc"}, forceinline=True)
def write_hull_box(
    shapes: Shapes, rows: TurnedShapes, row: int, shape: int, cosine: float, sine: float
) -> None:
    """Write the box of a turned shape by the corners of its convex hull alone."""
    x0 = x1 = cosine * shapes.hull_x[shape, 0] - sine * shapes.hull_y[shape, 0]
    y0 = y1 = sine * shapes.hull_x[shape, 0] + cosine * shapes.hull_y[shape, 0]
    for k in range(shapes.hull_count[shape]):
        x = cosine * shapes.hull_x[shape, k] - sine * shapes.hull_y[shape, k]
        y = sine * shapes.hull_x[shape, k] + cosine * shapes.hull_y[shape, k]
        x0 = min(x0, x)
        x1 = max(x1, x)
        y0 = min(y0, y)
        y1 = max(y1, y)
    rows.box[row, 0] = x0
    rows.box[row, 1] = y0
    rows.box[row, 2] = x1
    rows.box[row, 3] = y1


@kernel(**FLAT, forceinline=True)
def turn_tight_box(
    shapes: Shapes, rows: TurnedShapes, row: int, shape: int, cosine: float, sine: float
) -> None:
    """Turn the smallest box about a shape into a row."""
    for k in range(0, 4, 2):
        x = shapes.tight_box[shape, k]
        y = shapes.tight_box[shape, k + 1]
        rows.tight_box[row, k] = cosine * x - sine * y
        rows.tight_box[row, k + 1] = sine * x + cosine * y
    rows.tight_box[row, 4] = shapes.tight_box[shape, 4]
    rows.tight_box[row, 5] = shapes.tight_box[shape, 5]


@kernel(**FLAT, forceinline=True)
def filled_up(count: int) -> int:
    """The least multiple of `LANES` that is not below a count."""
    return (count + LANES - 1) // LANES * LANES


@kernel(**FLAT, forceinline=True)
def turn_discs(shapes: Shapes, rows: TurnedShapes, row: int, shape: int, cosine: float, sine: float) -> None:
    """Turn the centres of a shape's discs into a row."""
    for k in range(filled_up(shapes.compared_discs[shape])):
        x = shapes.disc_x[shape, k]
        y = shapes.disc_y[shape, k]
        rows.disc_x[row, k] = cosine * x - sine * y
        rows.disc_y[row, k] = sine * x + cosine * y
