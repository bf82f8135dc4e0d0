from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model.files import content_hash, read_plan, write_hide, write_plan
from nestplan.nesting.progress import Observer, Progress
from nestplan.tasks.opening import open_plan
from nestplan.tasks.planning import (
    PLAN_FILES,
    SearchRequest,
    copy_demo,
    draft_plan,
    empty_plan,
    has_work_by_hand,
    hides_to_cut,
    read_inputs,
    search_plan,
    with_sources,
    write_plan_folder,
)
from tests.small_jobs import laid, one_piece_job, plain_hide
from tests.tasks.small_rack import small_rack


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return small_rack(tmp_path)


class Told(Observer):
    def __init__(self) -> None:
        self.last: Progress | None = None

    def on_end(self, progress: Progress) -> None:
        self.last = progress


def test_a_job_and_hides_are_read_searched_and_written(plan: Path, tmp_path: Path) -> None:
    inputs = read_inputs(tmp_path / "small.job.json", [tmp_path])
    told, out = Told(), tmp_path / "planned"
    found = search_plan(inputs.job, inputs.hides, SearchRequest(passes=0, seed=3), observer=told)
    assert len(found.placements) == 2
    assert told.last is not None
    assert (told.last.placed, found.seed) == (2, 3)
    write_plan_folder(with_sources(found, inputs, out, stamped=False), inputs.job, inputs.hides, out)
    assert sorted(path.name for path in out.iterdir()) == sorted(PLAN_FILES)
    opened = open_plan(out / "plan.json")
    assert opened.plan.hides[0].file == "../barley.hide.json"
    assert opened.plan.made == ""
    assert with_sources(found, inputs, out, stamped=True).made


def test_a_used_hide_is_not_planned_on_again(plan: Path, tmp_path: Path) -> None:
    job, hide = tmp_path / "small.job.json", tmp_path / "barley.hide.json"
    write_hide(hide, plain_hide("barley", used="small"))
    for keep in (None, plan):
        with pytest.raises(InputError, match=r"marked as cut up \(small\)"):
            read_inputs(job, [hide], keep=keep)


def test_of_a_plan_that_is_kept_what_is_locked_or_cut_stays(plan: Path, tmp_path: Path) -> None:
    made = read_plan(plan)
    assert not has_work_by_hand(plan)
    first = msgspec.structs.replace(made.placements[0], done=True)
    write_plan(plan, msgspec.structs.replace(made, placements=(first, made.placements[1])))
    assert has_work_by_hand(plan)
    inputs = read_inputs(tmp_path / "small.job.json", [tmp_path], keep=plan)
    assert inputs.keep == (first,)
    found = search_plan(inputs.job, inputs.hides, SearchRequest(passes=0, keep=inputs.keep))
    assert sum(placed.done for placed in found.placements) == 1
    assert len(found.placements) == 2


def test_what_is_no_plan_holds_no_work(tmp_path: Path) -> None:
    assert not has_work_by_hand(tmp_path / "none.json")
    (tmp_path / "plan.json").write_text("{")
    assert not has_work_by_hand(tmp_path / "plan.json")


def test_hides_to_cut_are_unused_and_nothing_kept_lies_on_used_ones() -> None:
    job = one_piece_job()
    kept = laid(job, job.articles[0].pieces[0], Pose(0, 0), hide="barley")
    barley, rye, oats = plain_hide("barley", used="x"), plain_hide("rye", used="x"), plain_hide("oats")
    assert hides_to_cut((barley, rye, oats), ()) == (oats,)
    assert hides_to_cut((oats, plain_hide("hay")), (), ("oats",)) == (oats,)
    with pytest.raises(InputError, match="'barley', which something kept lies on, is used up"):
        hides_to_cut((barley, rye, oats), (kept,))


def test_a_draft_numbers_its_copies_anew() -> None:
    job, hide = one_piece_job(sets=3), plain_hide()
    piece = job.articles[0].pieces[0]
    lying = [laid(job, piece, Pose(120.0 * place, 0), copy=7) for place in range(3)]
    draft = draft_plan(job, (hide,), lying, seed=5)
    assert [placed.copy for placed in draft.placements] == [1, 2, 3]
    assert (draft.seed, draft.figures) == (5, None)
    assert empty_plan(job, (hide,)).hides[0].hash == content_hash(hide)


def test_the_demo_is_copied_and_not_over_a_changed_one(tmp_path: Path) -> None:
    job, hides = copy_demo(tmp_path / "demo")
    assert job.is_file()
    assert len(hides) == 6
    copy_demo(tmp_path / "demo")
    job.write_text("mine")
    with pytest.raises(InputError, match="was changed"):
        copy_demo(tmp_path / "demo")
    assert job.read_text() == "mine"
