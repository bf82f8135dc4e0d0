from __future__ import annotations

import os
from pathlib import Path

import msgspec
import pytest
from PIL import Image

from nestplan.errors import InputError
from nestplan.model.files import read_hide, read_plan, write_hide, write_plan
from nestplan.model.job_log import JOB_LOG_NAME, read_job_log
from nestplan.tasks.contents import Contents, HidePhoto
from nestplan.tasks.cutting import CutNotes, contents_after_cut, cut_plan, find_cut, take_back_cut
from nestplan.tasks.hide_pictures import keep_picture, read_picture
from nestplan.tasks.opening import open_files
from nestplan.tasks.planning import empty_plan
from tests.small_jobs import one_piece_job, plain_hide
from tests.tasks.small_rack import contents_of, small_rack


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return small_rack(tmp_path)


def test_a_cut_uses_the_hide_keeps_the_rest_logs_the_job_and_is_taken_back(
    plan: Path, tmp_path: Path
) -> None:
    before = contents_of(tmp_path)
    done = cut_plan(find_cut(plan))
    assert [hide.name for hide in done.used] == ["barley"]
    assert read_hide(tmp_path / "barley.hide.json").used == "small"
    assert [(path.name, hide.name) for path, hide in done.offcuts] == [
        ("barley-offcut-1.hide.json", "barley, offcut 1")
    ]
    assert done.offcuts[0][1].gross_area == pytest.approx(800_000 - 20_000, rel=0.02)
    assert read_job_log(tmp_path / JOB_LOG_NAME) == done.records
    assert done.records[0].net == pytest.approx(20_000)
    taken_back = take_back_cut(done.rack, done.cut_id)
    assert {change.file for change in taken_back.changes} == {
        "barley.hide.json",
        "barley-offcut-1.hide.json",
        JOB_LOG_NAME,
    }
    assert contents_of(tmp_path) == before
    with pytest.raises(InputError, match="knows no such cut"):
        take_back_cut(done.rack, done.cut_id)


def test_what_the_workshop_says_is_kept(plan: Path, tmp_path: Path) -> None:
    notes = CutNotes(really_used={"": 40_000.0}, least_offcut=1e6, note="one spoiled")
    done = cut_plan(find_cut(plan), notes)
    assert done.offcuts == ()
    assert done.records[0].own_yield == pytest.approx(0.5)
    assert read_job_log(tmp_path / JOB_LOG_NAME)[0].note == "one spoiled"


def test_no_offcut_gets_a_name_that_is_taken(plan: Path) -> None:
    done = cut_plan(find_cut(plan), taken=["barley, offcut 1"])
    assert done.offcuts[0][1].name == "barley, offcut 2"


def test_a_hide_is_not_cut_twice_and_an_empty_plan_not_at_all(plan: Path, tmp_path: Path) -> None:
    cut_plan(find_cut(plan))
    with pytest.raises(InputError, match="cut up for 'small' already"):
        cut_plan(find_cut(plan))
    empty = empty_plan(one_piece_job(), (plain_hide("rye"),))
    write_plan(tmp_path / "empty.json", empty)
    with pytest.raises(InputError, match="places nothing"):
        cut_plan(find_cut(tmp_path / "empty.json", hides=[tmp_path / "rye.hide.json"]))


def test_a_plan_that_does_not_name_its_hides_is_not_cut(plan: Path) -> None:
    read = read_plan(plan)
    strange = msgspec.structs.replace(read.placements[0], hide="oats")
    write_plan(plan, msgspec.structs.replace(read, placements=(strange, *read.placements[1:])))
    with pytest.raises(InputError, match="on 'oats', which is none of its hides"):
        find_cut(plan)
    write_plan(plan, msgspec.structs.replace(read, hides=(), placements=()))
    with pytest.raises(InputError, match="names no hides"):
        find_cut(plan)


def test_a_hide_that_changed_since_the_plan_is_not_cut(plan: Path, tmp_path: Path) -> None:
    write_hide(tmp_path / "barley.hide.json", plain_hide("barley", price=7.0))
    before = contents_of(tmp_path)
    with pytest.raises(InputError, match="has changed since"):
        cut_plan(find_cut(plan))
    assert contents_of(tmp_path) == before


def test_the_rack_is_the_folder_of_the_hide_cut_first_unless_it_is_named(plan: Path, tmp_path: Path) -> None:
    (tmp_path / "moved").mkdir()
    moved = (tmp_path / "rye.hide.json").rename(tmp_path / "moved" / "rye.hide.json")
    found = find_cut(plan, hides=[moved])
    assert found.rack == tmp_path
    assert found.hide_files["rye"] == moved
    other = find_cut(plan, hides=[moved], rack=tmp_path / "moved")
    assert (other.rack, other.usual_rack) == (tmp_path / "moved", tmp_path)


def test_after_a_cut_the_offcuts_lie_open_in_place_of_the_hide_and_the_plan(plan: Path) -> None:
    opened = open_files([plan])
    contents = Contents(tuple(opened.hides), opened.job, opened.plan)
    after, files = contents_after_cut(contents, opened.files, cut_plan(find_cut(plan)))
    assert [hide.name for hide in after.hides] == ["rye", "barley, offcut 1"]
    assert after.plan is None
    assert set(files) == {"rye", "", "barley, offcut 1"}
    assert Path(files["barley, offcut 1"]).is_file()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes cannot be forked here")
def test_of_several_that_cut_one_plan_at_once_one_does(plan: Path, tmp_path: Path) -> None:
    children = []
    for _ in range(4):
        child = os.fork()
        if child == 0:
            code = 3
            try:
                cut_plan(find_cut(plan))
                code = 0
            except InputError as error:
                code = 2 if "cut up for 'small' already" in str(error) else 4
            finally:
                os._exit(code)
        children.append(child)
    codes = sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
    assert codes == [0, 2, 2, 2]
    assert len(read_job_log(tmp_path / JOB_LOG_NAME)) == 1
    assert len(list(tmp_path.glob("*offcut*"))) == 1


def test_an_offcut_keeps_the_picture_of_its_hide_until_the_cut_is_taken_back(
    plan: Path, tmp_path: Path
) -> None:
    Image.new("RGB", (8, 6), (120, 80, 40)).save(tmp_path / "photo.png")
    matrix = (2.0, 0.0, -5.5, 0.0, -2.0, 640.25, 0.0, 0.0, 1.0)
    keep_picture(tmp_path / "barley.hide.json", HidePhoto(str(tmp_path / "photo.png"), matrix))
    before = contents_of(tmp_path)
    done = cut_plan(find_cut(plan))
    offcut, hide = done.offcuts[0]
    kept = read_picture(offcut)
    assert kept is not None
    assert kept.matrix == matrix
    opened = open_files([plan])
    after, _ = contents_after_cut(Contents(tuple(opened.hides), opened.job, opened.plan), opened.files, done)
    assert after.photo(hide.name) == kept
    take_back_cut(done.rack, done.cut_id)
    assert contents_of(tmp_path) == before
