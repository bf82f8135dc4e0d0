from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.estimate.grading import SizeChange
from nestplan.model import Mark, Piece
from nestplan.model.files import read_job, write_job, write_plan
from nestplan.tasks.checking import figures_of
from nestplan.tasks.job_needs import grade_job_file, needs_of_job
from nestplan.tasks.opening import open_plan
from tests.small_jobs import SQUARE, one_piece_job
from tests.tasks.small_rack import small_rack


def test_a_job_needs_what_is_set_in_its_pieces(tmp_path: Path) -> None:
    marks = tuple(Mark(at=(x, 50.0), do="punch", diameter=8.0, what="grommet") for x in (20.0, 80.0))
    write_job(tmp_path / "a.job.json", one_piece_job(Piece(name="body", outline=SQUARE, marks=marks), sets=8))
    needs = needs_of_job(tmp_path / "a.job.json")
    assert [(supply.what, supply.amount) for supply in needs.supplies.totals] == [("grommet", 16.0)]
    assert (needs.costs, needs.currency) == ((), "")


def test_with_a_plan_its_leather_is_in_the_cost_of_a_set(tmp_path: Path) -> None:
    import msgspec

    path = small_rack(tmp_path)
    opened = open_plan(path)
    figures = figures_of(opened.plan, opened.job, opened.hides)
    write_plan(path, msgspec.structs.replace(opened.plan, figures=figures))
    needs = needs_of_job(tmp_path / "small.job.json", plan=path)
    assert needs.currency == "EUR"
    # The hide costs 100 and the job has two sets.
    assert [cost.hides for cost in needs.costs] == [pytest.approx(50.0)]
    # Most of it is left as an offcut to keep.
    assert [cost.leather for cost in needs.costs] == [
        pytest.approx(0.5 * (figures.leather_cost or 0.0), rel=1e-3)
    ]
    assert needs.figures is not None
    assert needs.figures.cost == 100.0


def test_a_piece_is_graded_into_another_job(tmp_path: Path) -> None:
    source, out = tmp_path / "a.job.json", tmp_path / "b.job.json"
    write_job(source, one_piece_job())
    change = SizeChange("x", ((40.0, 60.0),), 20.0)
    graded = grade_job_file(source, out, piece="square", stretch=change)
    assert read_job(out) == graded
    assert max(x for x, _ in graded.piece("square").outline) == 120.0
    assert read_job(source) == one_piece_job()
    with pytest.raises(InputError, match="No piece is called 'hat'") as refused:
        grade_job_file(source, out, piece="hat", stretch=change)
    assert "'square'" in refused.value.mend


def test_a_plan_of_another_job_is_not_taken_for_its_costs(tmp_path: Path) -> None:
    path = small_rack(tmp_path)
    other = tmp_path / "other.job.json"
    write_job(other, one_piece_job(Piece(name="collar", outline=SQUARE)))
    with pytest.raises(InputError, match="which the job does not have"):
        needs_of_job(other, plan=path)
