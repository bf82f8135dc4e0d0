"""The named tuples of arrays that kernels read and write, one line a field with its shape and unit.

In the shapes, S counts shapes, V corners at most, D discs at most, G areas, O options, I items, B bodies (the items,
then the fixed rings), F fields, R rows of turned shapes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.problem import Bools, Bytes, Floats, Ints, Singles

__all__ = [
    "BODIES_NEAR",
    "CANDIDATES",
    "COUNTERS",
    "HALT",
    "ITEMS_DUE",
    "ITEMS_TRIED",
    "LANES",
    "PASSES_WITHOUT_GAIN",
    "POSES_JUDGED",
    "RUNS_PER_GROUP",
    "Areas",
    "FieldOccupancy",
    "Grid",
    "PairTables",
    "PlaceQuery",
    "PlaceWorkspace",
    "PlacementOptions",
    "PosePool",
    "SearchState",
    "ShapePose",
    "Shapes",
    "TurnedRing",
    "TurnedShapes",
]

CANDIDATES = 3
"""How many of the poses sampled for a move are kept and improved."""


LANES = 8
"""Numbers that the processor works on at once: of so many, what is worked on in a row is made a multiple."""

RUNS_PER_GROUP = 8
"""Runs of an area's edges that have one box, so that most of a detailed outline is passed over quickly."""

POSES_JUDGED, PASSES_WITHOUT_GAIN, ITEMS_TRIED, ITEMS_DUE, HALT, BODIES_NEAR, COUNTERS = 0, 1, 2, 3, 4, 5, 6
"""Places in `SearchState.counters`, and how many there are. Of the items due in a pass some have been tried; where HALT
is not zero the run ends at the next item; BODIES_NEAR are noted of the pose judged last."""


class Grid(NamedTuple):
    """Cells or nodes over a rectangle.

    left, bottom: mm, its lower left corner
    cell: mm, the side of a cell
    columns, rows: cells across and up
    """

    left: float
    bottom: float
    cell: float
    columns: int
    rows: int


class PairTables(NamedTuple):
    """Turned shapes that are tabulated ("variants", N of them), and the tables (T of them) of their pairs.

    variant_start (S + 1,): the variants of shape s are variant_start[s] to variant_start[s + 1] - 1
    variant_angle (N,) degrees
    table_of_pair (N, N)
    cosine, sine (N, N): turn an offset (dx, dy) of a pair into the table's (c dx + s dy, c dy - s dx)
    left, bottom (T,) mm: where a table begins
    cells_per_mm (T,)
    columns, rows (T,): cells of a table
    node_start, cell_start (T,): where a table's nodes and cells begin
    loss (nodes,) float32 mm²: the loss of the pair at a node, every `COARSE` cells
    verdict (cells,): APART, HIT or ASK, for all offsets in a cell
    """

    variant_start: Ints
    variant_angle: Floats
    table_of_pair: Ints
    cosine: Floats
    sine: Floats
    left: Floats
    bottom: Floats
    cells_per_mm: Floats
    columns: Ints
    rows: Ints
    node_start: Ints
    cell_start: Ints
    loss: Singles
    verdict: Bytes


class Shapes(NamedTuple):
    """Master shapes, one a row, not turned, about the middle of their smallest enclosing circle.

    corner_x, corner_y (S, V) mm: the ring; corner_count (S,)
    hull_x, hull_y (S, H) mm: the corners of its convex hull, the last repeated up to a multiple of `LANES`;
        hull_count (S,), the repeated ones included
    disc_x, disc_y, disc_radius (S, D) float32 mm: discs inscribed in it, largest first, then points in the middle of
        the first up to a multiple of `LANES`; disc_count (S,) without those
    compared_discs (S,): how many of the largest discs the search compares; all of shapes that have tables
    tight_box (S, 6): middle x and y (mm), direction of a side (a unit vector), half lengths (mm) along it and square to
        it, of the smallest box in any direction that holds the shape
    hull_size (S,) mm: root of the convex hull's area
    diameter (S,) mm: of the smallest enclosing circle
    tables: of pairs of shapes that lie at single turns only
    """

    corner_x: Floats
    corner_y: Floats
    corner_count: Ints
    hull_x: Floats
    hull_y: Floats
    hull_count: Ints
    disc_x: Singles
    disc_y: Singles
    disc_radius: Singles
    disc_count: Ints
    compared_discs: Ints
    tight_box: Floats
    hull_size: Floats
    diameter: Floats
    tables: PairTables


class Areas(NamedTuple):
    """Areas that rings must lie within, each with a grid of signed distances and boxes about its edges.

    box (G, 4) mm: left, bottom, right, top
    is_box (G,): whether the area is just that box
    edge_start (G + 1,), edge (edges, 4) mm: ax, ay, bx, by of every boundary edge
    left, bottom, cell (G,) mm; columns, rows (G,): the area's grid
    node_start (G + 1,), distance (nodes,) float32 mm: at the grid's nodes, positive inside
    run_start (G + 1,), run_edge (runs + 1,): some edges of one ring that follow each other make a run; an area's runs,
        and the first edge of each
    run_box (runs, 4) mm; group_start (G + 1,), group_box (groups, 4) mm: boxes of runs, and of `RUNS_PER_GROUP` runs
    hole_start (G + 1,), hole (holes, 2) mm: a point of each hole
    """

    box: Floats
    is_box: Bools
    edge_start: Ints
    edge: Floats
    left: Floats
    bottom: Floats
    cell: Floats
    columns: Ints
    rows: Ints
    node_start: Ints
    distance: Singles
    run_start: Ints
    run_edge: Ints
    run_box: Floats
    group_start: Ints
    group_box: Floats
    hole_start: Ints
    hole: Floats


class PlacementOptions(NamedTuple):
    """In which ways each item may lie.

    start (I + 1,): the options of item i are start[i] to start[i + 1] - 1
    field, shape (O,), flipped (O,): where, as which shape, and whether turned over
    middle (O, 2) mm: the middle of the shape in the item's own frame
    containment_start (O + 1,), containment_shape, containment_area: which shapes must lie within which areas
    turn_start (O + 1,), turn_low, turn_high degrees: intervals of turns allowed, within 0 to 360
    kind (I,): equal items share one
    """

    start: Ints
    field: Ints
    shape: Ints
    flipped: Bools
    middle: Floats
    containment_start: Ints
    containment_shape: Ints
    containment_area: Ints
    turn_start: Ints
    turn_low: Floats
    turn_high: Floats
    kind: Ints


class ShapePose(NamedTuple):
    """Where an item may lie: under which option, the middle of that option's shape (mm), and its turn (degrees)."""

    option: int
    x: float
    y: float
    angle: float


class TurnedShapes(NamedTuple):
    """Shapes turned, not yet moved, one a row.

    shape, angle (R,): which shape a row holds (-1: none yet) and its turn in degrees
    outlined (R,): whether its corners and run boxes are turned as well, not its discs and its box alone
    corner_x, corner_y (R, V) mm; corner_count (R,)
    disc_x, disc_y, disc_radius (R, D) float32 mm; disc_count (R,): those that are compared, filled up with
        points or with more discs to a multiple of `LANES`
    box (R, 4) mm: left, bottom, right, top
    tight_box (R, 6): as in `Shapes`, turned
    run_box (R, runs, 4) mm: the same of each run of `EDGES_PER_RUN` edges
    """

    shape: Ints
    angle: Floats
    outlined: Bools
    corner_x: Floats
    corner_y: Floats
    corner_count: Ints
    disc_x: Singles
    disc_y: Singles
    disc_radius: Singles
    disc_count: Ints
    box: Floats
    tight_box: Floats
    run_box: Floats


class TurnedRing(NamedTuple):
    """The ring of one row of turned shapes.

    x, y (n,) mm
    run_box (runs, 4) mm: as in `TurnedShapes`
    """

    x: Floats
    y: Floats
    run_box: Floats


class PosePool(NamedTuple):
    """Poses learnt at which the areas of an option hold all that it asks for. Q counts pools, P poses a pool holds.

    pool_of (O,): the pool of each option; options that ask for the same share one
    pose (Q, P, 3): x, y (mm) of the middle of the option's shape, and its turn (degrees)
    known (Q,): poses found so far; the newest P of them are held
    """

    pool_of: Ints
    pose: Floats
    known: Ints


class SearchState(NamedTuple):
    """One search's own arrays, changed in place by the kernels.

    rows: one for each body, one for the pose being judged, one for a ring it must hold, then one for each variant of
        `PairTables`, which never changes and serves every body so turned
    field, option (B,): where a body lies and under which option, -1 for neither
    x, y mm, angle degrees (B,): its pose
    row (B,): the row that holds its turned shape
    body_box (B, 4) mm: its box where it lies
    field_bodies (F, B), field_count (F,): the bodies on a field; place_in_field (B,): where a body stands there
    grid (F, 4): left and bottom (mm), cells a mm across and up, of a field's coarse grid
    cell_bodies (F, rows, columns, words) uint64: the bodies whose box touches a cell, a bit each
    pair_weight, pair_loss (B, B) float32: of two bodies; the loss (mm²) is not weighted
    boundary_weight, boundary_loss (B,) float32: of a body against its areas and its field's limit
    limit (F, 3): nx, ny, distance: all must lie at n·p <= distance
    movable (B,): whether a search may move a body
    open_field (F,): whether poses are drawn on a field
    pool: of poses to draw from; shared by all states of a problem
    best_x, best_y, best_angle, best_option (B,), best_loss (1,): the poses of least total loss in this run
    random_state (1,) uint64: of the generator
    counters (COUNTERS,)
    queue (B,): the items this pass is to move
    near, near_depth, near_overlapped (B,): of the pose being judged, or judged last, the bodies near it, how deep it
        overlaps each, if it does (float32, mm²), and whether that is proved
    candidates (CANDIDATES, 5): loss, option, x, y, angle of the best poses sampled for a move
    """

    rows: TurnedShapes
    field: Ints
    option: Ints
    x: Floats
    y: Floats
    angle: Floats
    row: Ints
    body_box: Floats
    field_bodies: Ints
    field_count: Ints
    place_in_field: Ints
    grid: Floats
    cell_bodies: NDArray[np.uint64]
    pair_weight: Singles
    pair_loss: Singles
    boundary_weight: Singles
    boundary_loss: Singles
    limit: Floats
    movable: Bools
    open_field: Bools
    pool: PosePool
    best_x: Floats
    best_y: Floats
    best_angle: Floats
    best_option: Ints
    best_loss: Floats
    random_state: NDArray[np.uint64]
    counters: Ints
    queue: Ints
    near: Ints
    near_depth: Singles
    near_overlapped: Bools
    candidates: Floats


class FieldOccupancy(NamedTuple):
    """What lies on one field while shapes are laid there one after another.

    rows: what lies, the first number[0] of them; x, y (R,) mm: where their middles lie
    number (1,)
    grid: of the raster
    room (rows, columns) float32 mm: distance of each node to what lies, negative inside it
    """

    rows: TurnedShapes
    x: Floats
    y: Floats
    number: Ints
    grid: Grid
    room: Singles


class PlaceQuery(NamedTuple):
    """What one search for a place is asked.

    option: whose shape is to be laid
    samples: poses drawn
    loose: mm, the clearance from which on a rim counts as wholly loose
    depth (rows, columns) float32 mm: how far each node is inside what the option asks for
    worth (rows, columns) float32: what the leather at a node is worth to others
    rim (points, 2) mm: points round the shape
    favoured (n,) degrees: turns that lay an edge along an edge
    """

    option: int
    samples: int
    loose: float
    depth: Singles
    worth: Singles
    rim: Floats
    favoured: Floats


class PlaceWorkspace(NamedTuple):
    """What one search for a place works with.

    rows: two, the shape that is tried and a ring it must hold
    clearance (rows, columns) float32 mm: the lesser of the room and the depth at each node
    open_nodes, snug_nodes (nodes,) int32: where the largest disc has room, and where it nearly touches something
    best (K, 4): x, y, angle, score of the best poses drawn
    random_state (1,) uint64: of the generator
    """

    rows: TurnedShapes
    clearance: Singles
    open_nodes: NDArray[np.int32]
    snug_nodes: NDArray[np.int32]
    best: Floats
    random_state: NDArray[np.uint64]
