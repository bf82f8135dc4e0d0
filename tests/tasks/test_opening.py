from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.model.files import read_job, read_plan, write_hide, write_job, write_plan
from nestplan.model.job import Layer
from nestplan.model.piece import LayerCut
from nestplan.tasks.opening import file_kind, hide_files, open_files, open_plan, read_hides_of
from tests.small_jobs import plain_hide
from tests.tasks.small_rack import small_rack


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return small_rack(tmp_path)


def test_a_folder_gives_its_hides_that_are_not_used_up(plan: Path, tmp_path: Path) -> None:
    write_hide(tmp_path / "oats.hide.json", plain_hide("oats", used="belts"))
    assert [path.name for path in hide_files([tmp_path])] == ["barley.hide.json", "rye.hide.json"]
    assert [hide.name for hide in read_hides_of([tmp_path])] == ["barley", "rye"]
    assert hide_files([tmp_path / "oats.hide.json"]) == [tmp_path / "oats.hide.json"]


def test_a_folder_without_hides_and_a_hide_given_twice_are_refused(plan: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no hide in this folder"):
        hide_files([plan.parent])
    with pytest.raises(InputError, match="given twice"):
        hide_files([tmp_path, tmp_path / "rye.hide.json"])


def test_a_plan_brings_its_job_and_hides(plan: Path) -> None:
    opened = open_plan(plan)
    assert opened.job.name == "small"
    assert [hide.name for hide in opened.hides] == ["barley", "rye"]
    assert len(opened.plan.placements) == 2


def test_a_plan_takes_files_that_have_moved(plan: Path, tmp_path: Path) -> None:
    (tmp_path / "moved").mkdir()
    hide = (tmp_path / "rye.hide.json").rename(tmp_path / "moved" / "r.json")
    job = (tmp_path / "small.job.json").rename(tmp_path / "moved" / "j.json")
    with pytest.raises(InputError, match="cannot be read"):
        open_plan(plan)
    assert open_plan(plan, job=job, hides=[hide]).hides[1].name == "rye"


def test_a_plan_of_another_hide_or_job_is_refused(plan: Path, tmp_path: Path) -> None:
    write_hide(tmp_path / "rye.hide.json", plain_hide("rye", price=7.0))
    with pytest.raises(InputError, match="'rye' has changed"):
        open_plan(plan)
    write_hide(tmp_path / "rye.hide.json", plain_hide("rye", used="belts"))
    job = tmp_path / "small.job.json"
    job.write_text(job.read_text().replace('"sets": 2', '"sets": 3'))
    with pytest.raises(InputError, match="job has changed"):
        open_plan(plan)


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        ("a.hide.json", "", "hide"),
        ("plan.json", "", "plan"),
        ("x.job.json", "", "job"),
        ("A.JPG", "", "photo"),
        ("a.dxf", "", "drawing"),
        ("a.json", '{"nestplan": 1, "kind": "hide"}', "hide"),
        ("a.json", '{"type": "FeatureCollection"}', "drawing"),
        ("a.json", "[1, 2]", ""),
        ("a.json", "{", ""),
        ("a.txt", "", ""),
    ],
)
def test_the_kind_of_a_file_is_told_by_its_name_or_by_what_is_in_it(
    tmp_path: Path, name: str, text: str, kind: str
) -> None:
    (tmp_path / name).write_text(text)
    assert file_kind(tmp_path / name) == kind
    assert file_kind(tmp_path) == "folder"


def test_files_of_every_kind_are_opened_together(plan: Path, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"")
    (tmp_path / "a.svg").write_text("<svg/>")
    opened = open_files([plan, tmp_path / "a.jpg", tmp_path / "a.svg"])
    assert [hide.name for hide in opened.hides] == ["barley", "rye"]
    assert opened.job is not None
    assert opened.plan is not None
    assert opened.files[""].endswith("small.job.json")
    assert opened.files["plan"] == str(plan)
    assert [Path(name).name for name in opened.photos + opened.drawings] == ["a.jpg", "a.svg"]
    assert (opened.changed, opened.hides_missing) == ((), ())
    assert (opened.job_changed, opened.job_missing) == (False, False)


def test_a_job_brings_the_hides_beside_it_unless_they_are_not_wanted(plan: Path, tmp_path: Path) -> None:
    job = tmp_path / "small.job.json"
    assert len(open_files([job]).hides) == 2
    assert open_files([job], beside=False).hides == []
    assert len(open_files([job, tmp_path / "rye.hide.json"]).hides) == 1


def test_what_has_changed_since_the_plan_is_told(plan: Path, tmp_path: Path) -> None:
    write_hide(tmp_path / "rye.hide.json", plain_hide("rye", price=7.0))
    opened = open_files([plan])
    assert opened.changed == ("rye",)
    assert opened.plan is not None


@pytest.mark.parametrize(
    "change",
    [
        {"cuts": (LayerCut(layer="lining"),)},
        {"name": "another"},
    ],
)
def test_what_a_job_does_not_cut_so_any_more_is_left_out_of_an_opened_plan(
    plan: Path, tmp_path: Path, change: dict[str, Any]
) -> None:
    path = tmp_path / "small.job.json"
    job = read_job(path)
    (article,) = job.articles
    piece = msgspec.structs.replace(article.pieces[0], **change)
    layers = (*job.layers, Layer(name="lining"))
    changed = msgspec.structs.replace(
        job, layers=layers, articles=(msgspec.structs.replace(article, pieces=(piece,)),)
    )
    write_job(path, changed)
    opened = open_files([plan])
    assert opened.job_changed
    assert opened.plan is not None
    assert opened.plan.placements == ()
    assert opened.not_in_job == 2


def test_a_plan_without_its_job_or_a_hide_of_it_is_left_out(plan: Path, tmp_path: Path) -> None:
    (tmp_path / "barley.hide.json").unlink()
    opened = open_files([plan])
    assert (opened.plan, opened.hides_missing) == (None, ("barley",))
    assert "plan" not in opened.files
    (tmp_path / "small.job.json").unlink()
    assert open_files([plan]).job_missing


def test_used_hides_stay_out_unless_they_are_named_or_carry_the_plan(plan: Path, tmp_path: Path) -> None:
    for name in ("barley", "rye"):
        write_hide(tmp_path / f"{name}.hide.json", plain_hide(name, used="small"))
    opened = open_files([tmp_path])
    assert (opened.hides, opened.used_up) == ([], ("barley", "rye"))
    assert [hide.name for hide in open_files([plan]).hides] == ["barley"]
    assert [hide.name for hide in open_files([tmp_path / "rye.hide.json"]).hides] == ["rye"]


def test_two_hides_of_one_name_and_a_file_of_no_kind_are_refused(plan: Path, tmp_path: Path) -> None:
    write_hide(tmp_path / "twin.hide.json", plain_hide("rye"))
    with pytest.raises(InputError, match="Two of the hides") as refused:
        open_files([tmp_path])
    assert "'rye 2'" in refused.value.mend
    (tmp_path / "notes.txt").write_text("hello")
    with pytest.raises(InputError, match="no file of nestplan"):
        open_files([tmp_path / "notes.txt"])


def test_a_plan_that_names_no_files_asks_for_none(plan: Path) -> None:
    made = json.loads(plan.read_text())
    made["job"].pop("file")
    plan.write_text(json.dumps(made))
    assert open_files([plan]).job_missing
    write_plan(plan, read_plan(plan))
