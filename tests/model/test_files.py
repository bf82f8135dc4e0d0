"""Files are read strictly, told clearly, and written whole or not at all."""

from __future__ import annotations

import json
import pickle
from pathlib import Path

import jsonschema
import msgspec
import pytest

from nestplan.errors import InputError, VersionError
from nestplan.model import Hide, Job, Piece, Plan
from nestplan.model.files import (
    content_hash,
    read_hide,
    read_job,
    read_plan,
    schema,
    to_text,
    write_hide,
    write_job,
)
from nestplan.resources import demo_folder, resource
from nestplan.storage import write_atomically
from tests.broken_files import broken_hides, broken_jobs, good_hide, good_job
from tests.small_jobs import SQUARE, one_piece_job

KINDS = {"hide": Hide, "job": Job, "plan": Plan}


def written(folder: Path, text: str) -> Path:
    path = folder / "file.json"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    return path


@pytest.mark.parametrize("name", broken_hides())
def test_a_broken_hide_is_refused_with_file_and_mend(name: str, tmp_path: Path) -> None:
    path = written(tmp_path, broken_hides()[name])
    with pytest.raises(InputError) as caught:
        read_hide(path)
    assert caught.value.file == str(path)
    assert caught.value.what
    assert caught.value.mend


@pytest.mark.parametrize("name", broken_jobs())
def test_a_broken_job_is_refused_with_file_and_mend(name: str, tmp_path: Path) -> None:
    path = written(tmp_path, broken_jobs()[name])
    with pytest.raises(InputError) as caught:
        read_job(path)
    assert caught.value.file == str(path)
    assert caught.value.mend


def test_the_good_files_behind_the_broken_ones_are_read(tmp_path: Path) -> None:
    assert read_hide(written(tmp_path, json.dumps(good_hide()))).name == "good"
    assert read_job(written(tmp_path, json.dumps(good_job()))).articles[0].sets == 2


def test_the_place_of_a_fault_is_its_key_path(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_hide(written(tmp_path, broken_hides()["negative margin"]))
    assert caught.value.place == "flaws[0].margin"
    with pytest.raises(InputError) as caught:
        read_job(written(tmp_path, broken_jobs()["overcut upside down"]))
    assert caught.value.place == "articles[0].pieces[0].cuts[0].overcut.wished"


def test_a_fault_of_form_names_its_line(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_hide(written(tmp_path, '{\n  "nestplan": 1,\n  "kind": hide\n}'))
    assert caught.value.place.startswith("line 3")


def test_a_newer_format_is_refused_politely(tmp_path: Path) -> None:
    with pytest.raises(VersionError, match="newer nestplan"):
        read_hide(written(tmp_path, broken_hides()["newer format"]))


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.hide.json"
    with path.open("wb") as stream:
        stream.truncate(70 * 1024 * 1024)
    with pytest.raises(InputError, match="MB"):
        read_hide(path)


def test_a_missing_file_and_a_folder_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_plan(tmp_path / "none.json")
    with pytest.raises(InputError, match="folder"):
        read_plan(tmp_path)


def test_lengths_are_read_with_their_units(tmp_path: Path) -> None:
    job = {**good_job(), "gap": "1/16 in", "useful_width": "5 cm"}
    read = read_job(written(tmp_path, json.dumps(job)))
    assert read.gap == pytest.approx(25.4 / 16)
    assert read.useful_width == pytest.approx(50.0)
    hide = {**good_hide(), "thickness": ["5 oz", "6 oz"], "stated_area": "22.75 ft2"}
    made = read_hide(written(tmp_path, json.dumps(hide)))
    assert made.thickness == pytest.approx((5 * 25.4 / 64, 6 * 25.4 / 64))
    assert made.stated_area == pytest.approx(22.75 * 92_903.04)


def test_what_is_written_is_read_again_the_same(tmp_path: Path) -> None:
    for path in sorted(demo_folder().glob("*.hide.json")):
        hide = read_hide(path)
        write_hide(tmp_path / path.name, hide)
        assert read_hide(tmp_path / path.name) == hide
        assert content_hash(read_hide(tmp_path / path.name)) == content_hash(hide)
    job = read_job(demo_folder() / "quillmere.job.json")
    write_job(tmp_path / "job.json", job)
    assert read_job(tmp_path / "job.json") == job


def test_the_hash_follows_content_not_layout(tmp_path: Path) -> None:
    one = read_hide(written(tmp_path, json.dumps(good_hide())))
    other = read_hide(written(tmp_path, json.dumps(dict(reversed(good_hide().items())), indent=7)))
    assert content_hash(one) == content_hash(other)
    assert content_hash(one) != content_hash(msgspec.structs.replace(one, price=1.0))


def test_a_failed_write_leaves_the_old_file_and_no_other(tmp_path: Path) -> None:
    path = tmp_path / "kept.json"
    path.write_text("old")
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        write_atomically(tmp_path / "folder", b"new")
    with pytest.raises(InputError, match="cannot be written"):
        write_atomically(tmp_path / "absent" / "file.json", b"new")
    assert path.read_text() == "old"
    assert sorted(found.name for found in tmp_path.iterdir()) == ["folder", "kept.json"]


@pytest.mark.parametrize("name", KINDS)
def test_the_schema_in_resources_is_the_models(name: str) -> None:
    kept = resource("schema", f"{name}.schema.json").read_bytes()
    assert kept == schema(KINDS[name]), "run: python -m tests.write_schemas"


def test_the_demo_files_satisfy_the_schemas() -> None:
    for path in sorted(demo_folder().glob("*.json")):
        document = json.loads(path.read_text(encoding="utf-8"))
        rules = json.loads(resource("schema", f"{document['kind']}.schema.json").read_bytes())
        jsonschema.validate(document, rules)


def test_the_schema_refuses_unknown_keys() -> None:
    rules = json.loads(resource("schema", "hide.schema.json").read_bytes())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**good_hide(), "colour_of_the_cow": "brown"}, rules)


@pytest.mark.parametrize("key", ["nestplan", "kind"])
def test_schema_and_reader_agree_that_a_file_says_what_it_is(key: str, tmp_path: Path) -> None:
    hide = {name: value for name, value in good_hide().items() if name != key}
    with pytest.raises(jsonschema.ValidationError, match=f"'{key}' is a required property"):
        jsonschema.validate(hide, json.loads(schema(Hide)))
    with pytest.raises(InputError) as caught:
        read_hide(written(tmp_path, json.dumps(hide)))
    assert caught.value.place == key


def test_points_stay_on_one_line(tmp_path: Path) -> None:
    hide = read_hide(written(tmp_path, json.dumps(good_hide())))
    assert "[1000.0, 800.0]" in to_text(hide)


def test_a_copy_from_another_process_has_the_same_hash() -> None:
    """Defaults that are equal, but not the same object, say nothing."""
    folder = demo_folder()
    for document in (read_job(folder / "quillmere.job.json"), read_hide(folder / "cow_side_rye.hide.json")):
        assert content_hash(pickle.loads(pickle.dumps(document))) == content_hash(document)


def test_what_could_not_be_read_again_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "small.job.json"
    job = one_piece_job(Piece(name="square", outline=SQUARE))
    write_job(path, job)
    before = path.read_bytes()
    # Made in code, a record may hold any word.
    cut = msgspec.structs.replace(job.articles[0].pieces[0].cuts[0])
    msgspec.structs.force_setattr(cut, "shows", "nothing")
    wrong = one_piece_job(Piece(name="square", outline=SQUARE, cuts=(cut,)))
    with pytest.raises(InputError, match=r"cuts\[0\].shows: 'nothing' is none of the words"):
        write_job(path, wrong)
    with pytest.raises(InputError, match="half of a letter"):
        write_job(path, one_piece_job(name="\ud800"))
    assert path.read_bytes() == before
