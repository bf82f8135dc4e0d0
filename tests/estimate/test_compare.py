"""Hides side by side: for the layers they serve, ranked by what is asked."""

from __future__ import annotations

import pytest

from nestplan.errors import InputError
from nestplan.estimate.compare import compare, rank
from nestplan.estimate.workers import LocalWorkers
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Piece
from tests.estimate.stand_in import ByArea, without_time

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
JOB = Job(
    name="squares",
    articles=(
        Article(
            name="square", sets=20, pieces=(Piece(name="s", outline=SQUARE, cuts=(LayerCut(layer="outer"),)),)
        ),
    ),
    layers=(Layer(name="outer", leather=("cow",)),),
)


def _hide(name: str, side: float, price: float | None = None, leather: str = "cow") -> Hide:
    outline = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    return Hide(name=name, leather=leather, outline=outline, price=price, currency="crowns")


HIDES = (
    _hide("small", 400.0, 12.0),
    _hide("large", 700.0, 90.0),
    _hide("middle", 600.0, 45.0),
    _hide("goat", 900.0, 10.0, "goat"),
)


@pytest.mark.parametrize(
    ("by", "order"),
    [
        ("sets", ["middle", "large", "small", "goat"]),
        ("cost", ["small", "middle", "large", "goat"]),
        ("yield", ["small", "middle", "large", "goat"]),
        ("offcut", ["large", "middle", "small", "goat"]),
        ("area", ["middle", "large", "small", "goat"]),
    ],
)
def test_hides_are_ranked_by_what_is_asked(by: str, order: list[str]) -> None:
    answers = compare(JOB, HIDES, by=by, planner=ByArea(0.6))  # type: ignore[arg-type]
    if by == "offcut":
        # The stand-in lists no offcuts, so those that do the most sets stand by name.
        assert {answer.hide for answer in answers[:2]} == {"large", "middle"}
        return
    assert [answer.hide for answer in answers] == order


def test_an_answer_says_what_the_hide_gives_and_costs() -> None:
    small = next(answer for answer in compare(JOB, HIDES, planner=ByArea(0.6)) if answer.hide == "small")
    assert (small.whole, small.asked, small.done) == (9, 20, False)
    assert small.cost_per_set == pytest.approx(12.0 / 9)
    assert small.area == pytest.approx(160_000.0)
    assert small.layers == ("outer",)


def test_a_hide_no_layer_takes_has_no_plan() -> None:
    goat = compare(JOB, HIDES, planner=ByArea(0.6))[-1]
    assert (goat.layers, goat.plan, goat.whole) == ((), None, 0)


def test_two_processes_give_the_same_answers_as_one() -> None:
    alone = compare(JOB, HIDES, planner=ByArea(0.6))
    workers = LocalWorkers(2)
    try:
        shared = compare(JOB, HIDES, planner=ByArea(0.6), workers=workers)
    finally:
        workers.close()
    assert [without_time(answer) for answer in shared] == [without_time(answer) for answer in alone]


def test_unknown_rankings_and_no_hides_are_refused() -> None:
    with pytest.raises(InputError, match="not ranked"):
        rank((), "beauty")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no hides"):
        compare(JOB, ())
