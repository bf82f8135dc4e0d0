from __future__ import annotations

import json
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.tasks.checking import check_plan, check_plan_file, figures_of
from nestplan.tasks.opening import open_plan
from tests.tasks.small_rack import small_rack


def test_a_right_plan_has_no_faults_and_its_figures_are_counted(tmp_path: Path) -> None:
    path = small_rack(tmp_path)
    assert check_plan_file(path).faults == ()
    opened = open_plan(path)
    checked = check_plan(opened.plan, opened.job, opened.hides)
    assert checked.faults == ()
    assert checked.figures is not None
    assert checked.figures.placed == 2
    # Two squares of 100 × 100 mm on a hide of 1000 × 800 mm.
    assert checked.figures.net == pytest.approx(20_000.0)


def test_figures_that_are_there_are_not_counted_again(tmp_path: Path) -> None:
    opened = open_plan(small_rack(tmp_path))
    figures = figures_of(opened.plan, opened.job, opened.hides)
    import msgspec

    with_figures = msgspec.structs.replace(opened.plan, figures=figures)
    assert figures_of(with_figures, opened.job, opened.hides) is figures


def test_pieces_that_overlap_are_found_and_a_plan_of_another_hide_is_refused(tmp_path: Path) -> None:
    path = small_rack(tmp_path)
    made = json.loads(path.read_text())
    made["placements"][1] = {**made["placements"][0], "copy": 2}
    path.write_text(json.dumps(made))
    assert any("overlap" in str(fault) for fault in check_plan_file(path).faults)
    (tmp_path / "barley.hide.json").write_text(
        (tmp_path / "rye.hide.json").read_text().replace("rye", "barley")
    )
    hide = tmp_path / "barley.hide.json"
    hide.write_text(hide.read_text().replace("cow side", "goat"))
    with pytest.raises(InputError, match="has changed"):
        check_plan_file(path)


def test_a_plan_of_pieces_that_the_job_has_not_has_faults_and_no_figures(tmp_path: Path) -> None:
    import msgspec

    opened = open_plan(small_rack(tmp_path))
    article = opened.job.articles[0]
    other = msgspec.structs.replace(article.pieces[0], name="another")
    changed = msgspec.structs.replace(
        opened.job, articles=(msgspec.structs.replace(article, pieces=(other,), strips=()),)
    )
    plan = msgspec.structs.replace(opened.plan, figures=None)
    checked = check_plan(plan, changed, opened.hides)
    assert {fault.rule for fault in checked.faults} == {"name"}
    assert checked.figures is None
