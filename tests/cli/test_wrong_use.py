"""What a hurried hand does to the command line: it is told in words, exit code 2, and nothing of its own is lost."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from nestplan.geometry.pose import Pose
from nestplan.model import Piece
from nestplan.model.files import write_hide, write_job, write_plan
from tests.cli.test_plan_commands import run
from tests.small_jobs import SQUARE, laced_job, laid, one_piece_job, plain_hide, plan_of

Leave = Callable[..., tuple[int, str]]


@pytest.fixture
def leave(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Leave:
    """Run a command; its exit code and all it said."""

    def call(*arguments: object) -> tuple[int, str]:
        code = run(*arguments, monkeypatch=monkeypatch)
        said = capsys.readouterr()
        return code, said.out + said.err

    return call


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    """A folder with a job and a hide."""
    write_job(tmp_path / "small.job.json", one_piece_job(Piece(name="square", outline=SQUARE), sets=2))
    write_hide(tmp_path / "plain.hide.json", plain_hide(thickness=(2.0, 2.4)))
    return tmp_path


def test_help_names_what_is_to_be_given_and_no_types_of_the_code(leave: Leave) -> None:
    for command in ("plan", "count", "desk", "mark-area"):
        code, said = leave(command, "--help")
        assert code == 0
        assert "list[" not in said
        assert "<" not in said
    assert "JOB" in leave("plan", "--help")[1]


def test_the_list_of_commands_breaks_off_nowhere(leave: Leave) -> None:
    _, said = leave("--help")
    assert "..." not in said.split("Commands:")[1]


def test_a_hide_given_twice_is_refused_also_through_its_folder(leave: Leave, rack: Path) -> None:
    code, said = leave(
        "plan", rack / "small.job.json", rack, rack / "plain.hide.json", "--out", rack / "plan"
    )
    assert (code, "given twice" in said) == (2, True)


def test_a_file_in_the_way_of_the_folder_is_told_before_the_search(leave: Leave, rack: Path) -> None:
    job = rack / "small.job.json"
    before = job.read_bytes()
    for words in (("plan", job, rack, "--out", job), ("compare", job, rack, "--out", job), ("demo", job)):
        code, said = leave(*words)
        assert (code, "a folder is needed" in said) == (2, True)
    assert job.read_bytes() == before


def test_no_command_writes_its_own_kind_over_a_job(leave: Leave, rack: Path) -> None:
    job = rack / "small.job.json"
    before = job.read_bytes()
    assert leave("marks", "--out", job)[0] == 2
    assert leave("fit", "grade", job, "square", "--free", "0:9", "--change", "2", "--out", job)[0] == 2
    assert job.read_bytes() == before


def test_a_plan_with_pieces_already_cut_is_not_written_over(leave: Leave, rack: Path) -> None:
    job = one_piece_job(Piece(name="square", outline=SQUARE), sets=2)
    place = msgspec.structs.replace(laid(job, job.articles[0].pieces[0], Pose(0, 0)), done=True)
    write_plan(rack / "plan.json", plan_of(job, [plain_hide()], [place]))
    code, said = leave("plan", rack / "small.job.json", rack, "--out", rack)
    assert (code, "already cut" in said) == (2, True)


def test_a_changed_demo_is_not_written_over(leave: Leave, tmp_path: Path) -> None:
    changed = tmp_path / "quillmere.job.json"
    changed.write_text("mine")
    code, said = leave("demo", tmp_path)
    assert (code, "was changed" in said) == (2, True)
    assert changed.read_text() == "mine"


def test_a_photograph_is_not_written_over_by_its_own_picture(leave: Leave, tmp_path: Path) -> None:
    photo = tmp_path / "hide.jpg"
    photo.write_bytes(b"no photo, but mine")
    code, said = leave("trace", photo, "--out", tmp_path / "a.hide.json", "--picture", photo)
    assert (code, "photograph itself" in said) == (2, True)
    assert photo.read_bytes() == b"no photo, but mine"


def test_the_rack_is_listed_as_json_with_its_thicknesses(leave: Leave, rack: Path) -> None:
    code, said = leave("rack", rack, "--json")
    assert code == 0
    assert json.loads(said)[0]["thickness"] == [2.0, 2.4]


@pytest.mark.parametrize("words", [("rack", ".", "--units", "ft"), ("fit", "panels", "34", "--units", "cm")])
def test_an_unknown_unit_is_refused(leave: Leave, words: tuple[str, ...]) -> None:
    code, said = leave(*words)
    assert (code, "There is no unit" in said) == (2, True)


def test_a_strap_takes_its_unit_from_its_width_and_none_is_guessed(leave: Leave, rack: Path) -> None:
    hide = rack / "plain.hide.json"
    assert "no unit" in leave("count", hide, "--strap", "44 x 2")[1]
    assert "at least as long as wide" in leave("count", hide, "--strap", "1 x 2 in")[1]


def test_only_a_mark_of_two_meanings_asks_for_its_reading(leave: Leave, rack: Path) -> None:
    hide = rack / "plain.hide.json"
    assert "--area-reads" in leave("mark-area", hide, "22.3")[1]
    assert "--area-reads" not in leave("mark-area", hide, "much")[1]


def test_words_typed_wrongly_steer_no_terminal_and_too_long_a_name_is_told(leave: Leave, rack: Path) -> None:
    for word in ("--no\x1b[31m", "\u202egnp", "1\x1b[2J"):
        code, said = leave("marks", "--out", rack / "marks.pdf", word)
        assert code == 2
        assert "Usage" in said
        assert not {"\x1b", "\u202e"} & set(said)
    for words in (("check", "x" * 300), ("pieces", "漢" * 90 + ".json", "--out", rack / "a.job.json")):
        code, said = leave(*words)
        assert (code, "too long" in said) == (2, True)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("lace --pairs 8 --pitch 10 --gap 20 --inset 1e308", "longer than 100 m"),
        ("lace --pairs 8 --pitch 10 --gap 20 --inset 3 --thickness 1e308", "thicker than"),
        ("edge 9223372036854775808 --stitch whip --pitch 6", "longer than 100 m"),
        ("edge 100 --pitch 1e-320", "more than 100,000 holes"),
        (f"panels 34in --joins 1{'0' * 400}", "Invalid value for '--joins'"),
    ],
)
def test_figures_beyond_all_leather_are_refused(leave: Leave, words: str, told: str) -> None:
    code, said = leave("fit", *words.split())
    assert (code, told in said) == (2, True), said


def test_links_in_a_ring_are_told_and_the_supplies_of_thick_layers_are_figures(
    leave: Leave, rack: Path
) -> None:
    (rack / "loop").symlink_to("loop")
    hide = rack / "plain.hide.json"
    for words in (
        ("rack", rack / "loop"),
        ("count", rack / "loop", hide),
        ("check", rack / "loop" / "plan.json"),
    ):
        code, said = leave(*words)
        assert (code, "loop" in said) == (2, True), said
    write_job(rack / "laced.job.json", laced_job())
    code, said = leave("supplies", rack / "laced.job.json", "--json")
    assert code == 0
    assert json.loads(said)["supplies"]["leather"][0]["thickness"] == [2.0, 2.4]
