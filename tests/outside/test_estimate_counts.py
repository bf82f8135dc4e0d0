"""Counts of strips and rectangles against exact answers: arithmetic, and OR-Tools CP-SAT as a reference.

CP-SAT: Perron and Didier, Google OR-Tools, constraint `NoOverlap2D`; used in tests only.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from nestplan.estimate.count import count
from nestplan.estimate.job_variants import apportion, strap_job
from nestplan.estimate.planner import EnginePlanner
from nestplan.model.audit import check
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import LayerCut, Piece, StretchRule

cp_model = pytest.importorskip("ortools.sat.python.cp_model")


@dataclass(frozen=True)
class Sheet:
    """A rectangle of leather, its backbone along x, mm."""

    width: int
    height: int

    @property
    def hide(self) -> Hide:
        return Hide(
            name="sheet",
            leather="leather",
            outline=((0, 0), (self.width, 0), (self.width, self.height), (0, self.height)),
            backbone=((self.width, self.height / 2), (0, self.height / 2)),
        )


def _panel(name: str, width: int, height: int) -> Piece:
    """A rectangle that may lie only as drawn or upside down, as a strict stretch rule has it."""
    cut = LayerCut(stretch=StretchRule(axis=90.0, tolerance=0.0))
    return Piece(name=name, outline=((0, 0), (width, 0), (width, height), (0, height)), cuts=(cut,))


def exact_most(sheet: Sheet, sizes: dict[str, tuple[int, int]], shares: dict[str, float], most: int) -> int:
    """The most rectangles in all, shared out in the ratio, that lie side by side as drawn: by CP-SAT, proven."""
    best = 0
    for total in range(1, most + 1):
        model = cp_model.CpModel()
        columns, rows = [], []
        for name, number in apportion(total, shares).items():
            width, height = sizes[name]
            if number and (width > sheet.width or height > sheet.height):
                return best
            for copy in range(number):
                x = model.new_int_var(0, sheet.width - width, f"x {name} {copy}")
                y = model.new_int_var(0, sheet.height - height, f"y {name} {copy}")
                columns.append(model.new_fixed_size_interval_var(x, width, f"w {name} {copy}"))
                rows.append(model.new_fixed_size_interval_var(y, height, f"h {name} {copy}"))
        model.add_no_overlap_2d(columns, rows)
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = 30.0
        solver.parameters.num_workers = 1
        answer = solver.solve(model)
        if answer == cp_model.INFEASIBLE:
            return best
        assert answer in (cp_model.OPTIMAL, cp_model.FEASIBLE), "CP-SAT did not decide in time"
        best = total
    return best


@pytest.mark.parametrize(
    ("sheet", "length", "width"),
    [
        (Sheet(600, 400), 500, 38),
        (Sheet(1200, 500), 590, 40),
        (Sheet(1200, 500), 400, 45),
        (Sheet(900, 300), 899, 25),
        (Sheet(700, 260), 320, 64),
    ],
)
def test_strips_along_the_backbone_are_as_many_as_rows_times_columns(
    sheet: Sheet, length: int, width: int
) -> None:
    """Strips of one direction on a rectangle with shared cuts: floor(L / l) x floor(H / w), by arithmetic."""
    exact = (sheet.width // length) * (sheet.height // width)
    found = count(strap_job(length, width), [sheet.hide], planner=EnginePlanner())[0]
    assert found.proven == exact
    assert found.bound >= exact


def test_strips_with_a_join_are_never_fewer_than_in_one_piece() -> None:
    hide = Sheet(800, 300).hide
    whole = count(strap_job(750, 40), [hide])[0]
    joined = count(strap_job(750, 40, joins=1), [hide])[0]
    assert whole.proven == 7
    assert joined.proven >= whole.proven
    longer = count(strap_job(1100, 40, joins=1), [hide])[0]
    assert count(strap_job(1100, 40), [hide])[0].proven == 0
    assert 1 <= longer.proven <= (800 * 300) // (1125 * 40)


@pytest.mark.parametrize(
    ("sheet", "sizes", "shares"),
    [
        (Sheet(310, 206), {"a": (100, 100)}, {"a": 1.0}),
        (Sheet(260, 180), {"a": (80, 60)}, {"a": 1.0}),
        (Sheet(300, 200), {"a": (110, 90), "b": (70, 50)}, {"a": 1.0, "b": 1.0}),
        (Sheet(260, 220), {"a": (90, 70), "b": (60, 50), "c": (120, 40)}, {"a": 3.0, "b": 5.0, "c": 2.0}),
        (Sheet(246, 246), {"a": (150, 90), "b": (90, 150)}, {"a": 1.0, "b": 1.0}),
    ],
)
def test_rectangles_proven_by_a_plan_never_pass_the_exact_number_nor_it_the_bound(
    sheet: Sheet, sizes: dict[str, tuple[int, int]], shares: dict[str, float]
) -> None:
    """A little slack on every sheet: touching on all sides is left out, since plans keep some micrometres apart."""
    articles = tuple(
        Article(name=name, sets=1, pieces=(_panel(f"panel {name}", *size),)) for name, size in sizes.items()
    )
    job = Job(name="rectangles", articles=articles, gap=0.0)
    found = count(job, [sheet.hide], ratio=shares, planner=EnginePlanner(passes=2))[0]
    exact = exact_most(sheet, sizes, shares, found.bound + 1)
    assert found.proven <= exact <= found.bound
    assert found.proven >= 0.6 * exact
    assert found.plan is not None
    asked = Job(
        name="rectangles",
        articles=tuple(
            Article(name=each.name, sets=max(1, dict(found.sets)[each.name]), pieces=each.pieces)
            for each in articles
        ),
        gap=0.0,
    )
    assert check(found.plan, asked, [sheet.hide]) == ()
