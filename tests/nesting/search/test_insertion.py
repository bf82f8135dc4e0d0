"""Inserting more pieces: sets come whole, nothing overlaps, and a halt is quick."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import shapely

from nestplan.nesting.budget import Cancel, SearchBudget
from nestplan.nesting.search.insertion import insert_more
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
