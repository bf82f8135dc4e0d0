"""A better candidate is reported to the observer and handed on."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Poses
from nestplan.nesting.progress import Observer
from tests.small_jobs import one_piece_job, plain_hide


def test_an_improvement_is_counted_shown_and_published():
    heard = []

    class Hearing(Observer):
        def on_best(self, progress):
            heard.append((progress.placed, progress.asked))

        def on_candidate(self, placements):
            heard.append([p.piece for p in placements()])

    problem = LeatherProblem(one_piece_job(sets=2), (plain_hide(),))
    poses = Poses.none(2)
    poses.field[0] = 0
    candidate = Candidate(problem, Layout(problem.as_shapes()), (), poses)
    with ThreadPoolExecutor(1) as pool:
        budget = SearchBudget(observer=Hearing())
        SearchContext(budget, pool, seed=0, publish=heard.append).publish_improvement(candidate)
        assert heard == [(1, 2), ["square"], candidate]
        SearchContext(budget, pool, seed=0).publish_improvement(candidate)
        assert len(heard) == 5
