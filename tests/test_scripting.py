"""The public face for Python users: what it lists, reads, plans, draws and shows in a notebook."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from defusedxml import ElementTree
from msgspec.structs import replace

import nestplan
from tests.small_jobs import one_piece_job, plain_hide

EXAMPLES = sorted((Path(__file__).resolve().parent.parent / "resources" / "examples").glob("*.py"))


def test_every_public_name_is_there_and_nothing_else_is_listed() -> None:
    for name in nestplan.__all__:
        assert getattr(nestplan, name) is not None
    assert dir(nestplan) == sorted(nestplan.__all__)
    with pytest.raises(AttributeError, match="nonsense"):
        _ = nestplan.nonsense


def test_importing_nestplan_loads_nothing_heavy() -> None:
    code = (
        "import sys, nestplan;"
        "print([name for name in ('numpy', 'shapely', 'numba', 'msgspec', 'PySide6') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_plan_made_here_can_be_checked_and_drawn_by_itself(tmp_path: Path) -> None:
    job, hides = one_piece_job(sets=3), (plain_hide(),)
    plan = nestplan.plan(job, hides, passes=0)
    assert plan.figures is not None
    assert plan.figures.placed == plan.figures.asked > 0
    assert nestplan.check(plan) == ()
    for name, head in (("a.svg", b"<?xml"), ("a.png", b"\x89PNG"), ("a.pdf", b"%PDF")):
        text = nestplan.draw(plan, tmp_path / name)
        assert (tmp_path / name).read_bytes().startswith(head)
        assert ElementTree.fromstring(text).tag.endswith("svg")
    with pytest.raises(nestplan.InputError, match=r"\.bmp"):
        nestplan.draw(plan, tmp_path / "a.bmp")


def test_a_plan_whose_hides_were_never_read_is_not_drawn() -> None:
    job, hide = one_piece_job(sets=3), plain_hide()
    plan = nestplan.plan(job, (hide,), passes=0)
    stranger = replace(plan, hides=tuple(replace(source, hash="0" * 64) for source in plan.hides))
    with pytest.raises(nestplan.InputError, match="read_hides"):
        nestplan.draw(stranger)
    assert stranger._repr_svg_() is None
    assert nestplan.check(stranger, job, (hide,)) is not None


def test_a_hide_and_a_plan_show_themselves_in_a_notebook() -> None:
    hide = plain_hide()
    assert hide.name in (hide._repr_svg_() or "")
    plan = nestplan.plan(one_piece_job(sets=3), (hide,), passes=0)
    assert "<svg" in (plan._repr_svg_() or "")
    table = ElementTree.fromstring(plan._repr_html_() or "")
    assert plan.figures is not None
    assert f"{plan.figures.net_yield:.1%}" in [cell.text for cell in table.iter("td")]
    assert replace(plan, figures=None)._repr_html_() is None


def test_a_comparison_shows_a_row_for_each_hide_in_a_notebook() -> None:
    job, hides = one_piece_job(sets=3), (plain_hide(), replace(plain_hide(), name="<b>second</b>"))
    comparison = nestplan.compare(job, hides, together=True)
    assert len(comparison) == len(list(comparison)) == 2
    shown = comparison._repr_html_()
    assert "<b>second</b>" not in shown
    assert "&lt;b&gt;second" in shown
    assert shown.count("<tr>") == 3
    assert comparison.together is not None


def test_counting_says_what_is_sure_and_what_is_possible() -> None:
    (answer, *_) = nestplan.count(one_piece_job(sets=3), (plain_hide(),))
    assert 0 < answer.proven <= answer.bound


def test_hides_are_read_from_a_folder_and_written_back(tmp_path: Path) -> None:
    nestplan.write(plain_hide(), tmp_path / "one.hide.json")
    nestplan.write(one_piece_job(sets=3), tmp_path / "some.job.json")
    assert nestplan.read_hides(tmp_path) == (plain_hide(),)
    assert nestplan.read_job(tmp_path / "some.job.json") == one_piece_job(sets=3)
    plan = nestplan.plan(one_piece_job(sets=3), nestplan.read_hides(tmp_path), passes=0)
    nestplan.write(plan, tmp_path / "plan.json")
    assert nestplan.read_plan(tmp_path / "plan.json").placements == plan.placements
    nestplan.write(plain_hide(), tmp_path / "two.hide.json")
    with pytest.raises(nestplan.InputError, match=r"two\.hide\.json"):
        nestplan.read_hides(tmp_path)
    (tmp_path / "empty").mkdir()
    with pytest.raises(nestplan.InputError, match="no hides"):
        nestplan.read_hides(tmp_path / "empty")


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_run_as_they_are(example: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(example)], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()
    assert done.stderr == ""


def test_there_are_five_examples() -> None:
    assert len(EXAMPLES) >= 5
