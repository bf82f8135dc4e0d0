"""Where Python enters the kernels of the search that judge poses.

A kernel that Python calls is compiled with a copy of all that it calls. Judging a pose is the largest part of four of
them, so they are compiled as one, and what is asked of it is said by a number.
"""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays import ejection_kernels, pose_kernels, search_kernels
from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.records import Areas, PlacementOptions, PosePool, SearchState, ShapePose, Shapes
from nestplan.nesting.problem import Floats, Ints

__all__ = ["fill_pool", "find_best_candidate", "pose_loss", "run_passes"]

Records = tuple[Shapes, Areas, PlacementOptions, SearchState]

JUDGE, FIND, RUN, FILL = 0, 1, 2, 3

_judge = pose_kernels.pose_loss
_find = search_kernels.find_best_candidate
_run = search_kernels.run_passes
_fill = ejection_kernels.fill_pool

_NO_POSE = np.zeros(5)


@kernel(**FLAT)
def search_entry(
    shapes: Shapes,
    areas: Areas,
    options: PlacementOptions,
    state: SearchState,
    asked: int,
    item: int,
    counts: Ints,
    pose: Floats,
) -> float:
    """What one of the functions below gives: `counts (4,)` are its numbers in their order, `pose (5,)` option, x, y,
    angle and the worst loss."""
    if asked == JUDGE:
        judged = ShapePose(int(pose[0]), pose[1], pose[2], pose[3])
        return _judge(shapes, areas, options, state, item, judged, pose[4])
    if asked == FIND:
        return float(_find(shapes, areas, options, state, item, counts[0], counts[1]))
    if asked == RUN:
        return float(_run(shapes, areas, options, state, counts[0], counts[1], counts[2], counts[3]))
    return float(_fill(shapes, areas, options, state, state.pool, item, counts[0], counts[1]))


def pose_loss(records: Records, item: int, pose: ShapePose, worst: float) -> float:
    """As the kernel of that name."""
    judged = np.array([pose.option, pose.x, pose.y, pose.angle, worst], float)
    return float(search_entry(*records, JUDGE, item, _counts(), judged))


def find_best_candidate(records: Records, item: int, anywhere: int, nearby: int) -> int:
    """As the kernel of that name."""
    return int(search_entry(*records, FIND, item, _counts(anywhere, nearby), _NO_POSE))


def run_passes(records: Records, anywhere: int, nearby: int, poses: int, most_without_gain: int) -> int:
    """As the kernel of that name."""
    counts = _counts(anywhere, nearby, poses, most_without_gain)
    return int(search_entry(*records, RUN, -1, counts, _NO_POSE))


def fill_pool(records: Records, pool: PosePool, item: int, option: int, tries: int) -> int:
    """As the kernel of that name."""
    shapes, areas, options, state = records
    state = state._replace(pool=pool)
    return int(search_entry(shapes, areas, options, state, FILL, item, _counts(option, tries), _NO_POSE))


def _counts(*given: int) -> Ints:
    counts = np.zeros(4, np.int64)
    counts[: len(given)] = given
    return counts
