"""Inserting more pieces: sets come whole, nothing overlaps, and a halt is quick."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import shapely

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import Cancel, SearchBudget
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.insertion import insert_more
from nestplan.nesting.set_targets import SetTargets
from tests.nesting.search.boxes_and_bars import laid, targets_of
from tests.work_time import WorkTime


def test_laying_poses_again_gives_a_layout_without_overlap():
    layout = laid(6, shapely.box(0, 0, 400, 300))
    assert layout.placed().all()
    assert layout.feasible()


def test_more_sets_come_in_by_inserting_and_separating():
    layout = laid(24, shapely.box(0, 0, 420, 420))
    aim = targets_of(layout)
    before = aim.merit(layout.placed())
    with ThreadPoolExecutor(2) as pool:
        insert_more(layout, aim, SearchBudget(passes=25), pool, seed=3)
    assert aim.merit(layout.placed()) > before
    assert layout.feasible()


def test_a_larger_piece_takes_the_place_of_one_that_belongs_to_no_whole_set():
    """Two articles, neither of which can ever be whole here: one lies and is given up for the other's larger piece."""
    field = shapely.box(0.0, 0.0, 70.0, 55.0)
    sides = [(50.0, 50.0), (62.0, 50.0), (120.0, 5.0), (200.0, 200.0)]
    rings = [np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]) for w, h in sides]
    items = tuple(
        Item(ring, kind, (PlacementOption(0, Turns.any(), (Containment(ring, field),)),))
        for kind, ring in enumerate(rings)
    )
    layout = Layout(Problem((field,), items), seed=1)
    layout.place(0, layout.shape_pose(0, 2.0, 2.0, 0.0))
    area = np.array([w * h for w, h in sides])
    targets = SetTargets(
        np.arange(4), ({0: 1, 2: 1}, {1: 1, 3: 1}), (1, 1), (1, 1), {}, area, np.ones(4, bool)
    )
    with ThreadPoolExecutor(2) as pool:
        insert_more(layout, targets, SearchBudget(passes=60), pool, seed=1)
    assert layout.placed().tolist() == [False, True, False, False]
    assert layout.feasible()


def test_a_cancel_ends_the_search_within_a_fifth_of_a_second():
    layout = laid(30, shapely.box(0, 0, 420, 420))
    cancel = Cancel()
    ended: list[float] = []
    asked: list[WorkTime] = []
    with ThreadPoolExecutor(2) as pool:
        insert_more(layout, targets_of(layout), SearchBudget(passes=1), pool)
        work = threading.Thread(
            target=lambda: (
                insert_more(layout, targets_of(layout), SearchBudget(seconds=60, stop=cancel), pool),
                ended.append(asked[0].seconds),
            )
        )
        work.start()
        time.sleep(1.0)
        asked.append(WorkTime())
        cancel.cancel()
        work.join()
    # Half a second here, since tests share the machine; 0.2 s is what the benchmark asks.
    assert ended[0] < 0.5
    assert layout.feasible()
