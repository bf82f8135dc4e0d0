"""Bounds proven once for all who ask, as far as time allows."""

from __future__ import annotations

from typing import Any

from nestplan.model import Article, Job, Piece
from nestplan.nesting import proofs
from nestplan.nesting.proofs import Proofs
from nestplan.yields import area_bounds, proven_fewest_hides, set_bounds
from tests.small_jobs import plain_hide

PANEL = Piece(name="panel", outline=((0.0, 0.0), (70.0, 0.0), (70.0, 70.0), (0.0, 70.0)), count=10)
JOB = Job(name="panels", articles=(Article(name="all", sets=1, pieces=(PANEL,)),), gap=0.0)
SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
HIDES = [plain_hide(f"hide {number}", outline=SQUARE, backbone=None) for number in range(12)]


def never() -> bool:
    return False


def noting(monkeypatch: Any, name: str) -> list[Any]:
    asked: list[Any] = []
    prove = getattr(proofs, name)
    monkeypatch.setattr(proofs, name, lambda *job, **how: asked.append(job) or prove(*job, **how))
    return asked


def test_hides_are_proven_once_and_only_where_the_area_leaves_something_open(monkeypatch):
    asked = noting(monkeypatch, "proven_fewest_hides")
    proven = Proofs(JOB, HIDES)
    assert proven.fewest_hides(5, never) == 5
    assert (asked, proven.hides_by_now()) == ([], None)
    for reached in (12, None, 11):
        assert proven.fewest_hides(reached, never) == proven_fewest_hides(JOB, HIDES) == 10
    assert (len(asked), proven.hides_by_now()) == (1, 10)


def test_a_proof_that_had_no_time_is_gone_on_with(monkeypatch):
    asked = noting(monkeypatch, "proven_fewest_hides")
    proven = Proofs(JOB, HIDES)
    assert proven.fewest_hides(None, lambda: True) == 5
    assert asked == [], "without time no proof is begun"
    ended = iter([False, *[True] * 99])
    assert proven.fewest_hides(None, lambda: next(ended)) == 5
    assert proven.fewest_hides(None, never) == 10
    assert proven.fewest_hides(None, lambda: True) == 10
    assert len(asked) == 2


def test_sets_are_proven_once_and_by_area_before(monkeypatch):
    asked = noting(monkeypatch, "set_bounds")
    proven = Proofs(JOB, HIDES)
    assert proven.sets_by_now() == area_bounds(JOB, HIDES)
    assert proven.set_bounds([0], never) == proven.set_bounds([1], never) == set_bounds(JOB, HIDES)
    assert proven.sets_by_now() == proven.set_bounds([0], never)
    assert len(asked) == 1
