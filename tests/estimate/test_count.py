"""Sets on a hide: proven and bounded, one article or several in a ratio."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import pytest

from nestplan.errors import InputError
from nestplan.estimate.count import TOGETHER, count
from nestplan.estimate.job_variants import strap_job, with_sets
from nestplan.estimate.planner import EnginePlanner, total_whole_sets
from nestplan.model.audit import check
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Piece, Strip
from nestplan.model.plan import Plan
from tests.estimate.stand_in import ByArea


def _hide(name: str, width: float, height: float, leather: str = "cow") -> Hide:
    return Hide(
        name=name, leather=leather, outline=((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    )


def _square(name: str, side: float, layer: str = "leather") -> Piece:
    outline = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    return Piece(name=name, outline=outline, cuts=(LayerCut(layer=layer),))


def test_the_count_does_not_stop_at_the_sets_of_the_job() -> None:
    job = Job(name="squares", articles=(Article(name="square", sets=1, pieces=(_square("s", 100.0),)),))
    found = count(job, [_hide("a", 1000.0, 800.0)], planner=ByArea(0.7))
    assert found[0].proven == 56
    assert found[0].proven <= found[0].bound <= 80
    assert dict(found[0].sets) == {"square": 56}


def test_several_hides_are_counted_alone_and_together() -> None:
    job = Job(name="squares", articles=(Article(name="square", sets=1, pieces=(_square("s", 100.0),)),))
    hides = [_hide("a", 1000.0, 500.0), _hide("b", 600.0, 500.0)]
    found = count(job, hides, planner=ByArea(0.75))
    assert [each.hide for each in found] == ["a", "b", TOGETHER]
    assert [each.proven for each in found] == [37, 22, 60]
    assert len(count(job, hides, together=False, planner=ByArea(0.75))) == 2


def test_mixed_sizes_come_in_their_ratio() -> None:
    sizes = {"small": (80.0, 3), "middle": (100.0, 5), "large": (120.0, 2)}
    job = Job(
        name="sizes",
        articles=tuple(
            Article(name=name, sets=1, pieces=(_square(f"piece {name}", side),))
            for name, (side, _) in sizes.items()
        ),
    )
    shares = {name: float(share) for name, (_, share) in sizes.items()}
    found = count(job, [_hide("a", 1200.0, 900.0)], ratio=shares, planner=ByArea(0.7))[0]
    one_round = 3 * 80**2 + 5 * 100**2 + 2 * 120**2
    assert found.proven == pytest.approx(10 * 0.7 * 1200 * 900 / one_round, abs=1.0)
    given = dict(found.sets)
    for name, share in shares.items():
        assert given[name] == pytest.approx(found.proven * share / 10, abs=0.6)
    assert sum(given.values()) == found.proven
    assert found.proven <= found.bound


def test_a_hide_too_small_for_one_set_gives_none() -> None:
    job = Job(name="squares", articles=(Article(name="square", sets=3, pieces=(_square("s", 900.0),)),))
    found = count(job, [_hide("a", 500.0, 400.0)], planner=ByArea())[0]
    assert (found.proven, found.bound, found.plan) == (0, 0, None)
    assert found.closed


def test_a_hide_of_another_leather_serves_no_layer() -> None:
    job = Job(
        name="squares",
        articles=(Article(name="square", sets=1, pieces=(_square("s", 100.0, "outer"),)),),
        layers=(Layer(name="outer", leather=("cow",)),),
    )
    found = count(job, [_hide("g", 500.0, 400.0, "goat"), _hide("c", 500.0, 400.0)], planner=ByArea())
    assert found[0].layers == ()
    assert found[0].proven == 0
    assert found[1].proven > 0


def test_a_ratio_must_name_every_article() -> None:
    with pytest.raises(InputError, match="one figure for each"):
        count(strap_job(500.0, 40.0), [_hide("a", 500.0, 400.0)], ratio={"belt": 1.0}, planner=ByArea())
    with pytest.raises(InputError, match="no hides"):
        count(strap_job(500.0, 40.0), [], planner=ByArea())


def test_hides_together_count_for_the_layers_they_can_serve_as_each_does_alone() -> None:
    pieces = (_square("outer", 100.0, "cow"), _square("lining", 100.0, "goat"))
    layers = (Layer(name="cow", leather=("cow",)), Layer(name="goat", leather=("goat",)))
    job = Job(name="lined", articles=(Article(name="bag", sets=1, pieces=pieces),), layers=layers)
    found = count(job, [_hide("a", 1000.0, 500.0), _hide("b", 600.0, 500.0)], planner=ByArea(0.75))
    assert [each.layers for each in found] == [("cow",)] * 3
    assert found[2].proven >= found[0].proven + found[1].proven


def test_together_hides_never_count_for_less_than_one_by_one() -> None:
    # Two hides on which a plan of both at once finds fewer sets than the plans of each.
    pieces = (_square("large", 230.0), _square("small", 90.0))
    strap = Strip(name="strap", width=40.0, length=700.0, count=1)
    hides = [_hide("a", 1000.0, 500.0), _hide("b", 900.0, 480.0)]
    for strips in ((), (strap,)):
        job = Job(name="mixed", articles=(Article(name="bag", sets=1, pieces=pieces, strips=strips),))
        found = count(job, hides, planner=_WorseTogether(EnginePlanner()))
        assert found[2].proven >= found[0].proven + found[1].proven > 0
        assert found[2].plan is not None
        asked = with_sets(job, dict(found[2].sets))
        assert check(found[2].plan, asked, hides) == ()
        assert total_whole_sets(found[2].plan) >= found[2].proven


@dataclass(frozen=True)
class _WorseTogether:
    """A planner that makes nothing of several hides at once."""

    planner: EnginePlanner

    def plan(self, job: Job, hides: Sequence[Hide], goal: Literal["complete", "fill"]) -> Plan:
        return self.planner.plan(job, hides[:1] if len(hides) > 1 else hides, goal)
