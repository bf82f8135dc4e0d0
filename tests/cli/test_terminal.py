"""Names from files cannot steer the terminal."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from nestplan.cli.terminal import harmless, say_json
from nestplan.model.cut_journal import JOURNAL_NAME
from nestplan.model.files import read_hide, to_text, write_hide
from tests.cli.test_plan_commands import run
from tests.small_jobs import laced_job, plain_hide
from tests.tasks.small_rack import contents_of, small_rack

NASTY = "red \x1b[31m \x9b2J \u202eelbissop\u202c \u2066x\u2069 \x7f\r\u2028end"


@pytest.mark.security
def test_steering_signs_become_codes_and_all_others_stay() -> None:
    assert harmless("Kuhhälfte 3 – 皮 👩‍🔧\tok\n", lines=True) == "Kuhhälfte 3 – 皮 👩‍🔧\tok\n"
    shown = harmless(NASTY)
    assert "\\u001b[31m" in shown
    assert "\\u202e" in shown
    assert not [letter for letter in shown if not letter.isprintable()]


@pytest.mark.parametrize("name", [NASTY, "tag \U000e0041"])
@pytest.mark.security
def test_json_says_the_same_with_codes(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    say_json({"name": name})
    said = capsys.readouterr().out
    assert json.loads(said) == {"name": name}
    assert not [letter for letter in said if not letter.isprintable() and letter != "\n"]


@pytest.mark.security
def test_a_hides_name_from_a_stranger_is_harmless_in_the_list_and_in_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_hide(tmp_path / "a.hide.json", plain_hide("evil \x1b[2J\u202e", leather="cow \x1b]0;x\x07"))
    write_hide(tmp_path / "b.hide.json", plain_hide("evil \x1b[2J\u202e"))
    for words in (("rack", tmp_path), ("rack", tmp_path, "--json"), ("check", tmp_path / "a.hide.json")):
        run(*words, monkeypatch=monkeypatch)
        said = "".join(capsys.readouterr())
        assert said
        assert not [letter for letter in said if not letter.isprintable() and letter != "\n"]


@pytest.mark.security
def test_a_name_puts_no_words_on_a_line_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    forged = "barley\nRight: what is placed, 9 cuts on 2 hides, keeps every rule."
    write_hide(tmp_path / "a.hide.json", plain_hide(forged))
    for words in (
        ("rack", tmp_path),
        ("mark-area", tmp_path / "a.hide.json", "8 ft2"),
        ("check", tmp_path / forged),
    ):
        run(*words, monkeypatch=monkeypatch)
        said = "".join(capsys.readouterr())
        assert "barley\\u000aRight" in said
        assert not any(line.startswith("Right") for line in said.splitlines())


_STRANGE = "front \x1b[2J\u202e\nRight: all is well."


def _strange_job(folder: Path) -> Path:
    """A job whose pieces, rows, joins, strips and sizes have names that would steer a terminal."""
    path = folder / "strange.job.json"
    text = to_text(laced_job())
    for name in ("front", "front edge", "before", "belt"):
        text = text.replace(json.dumps(name), json.dumps(_STRANGE.replace("front", name)))
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    "words",
    [
        ("row", "JOB", _STRANGE, "front edge \x1b[2J\u202e\nRight: all is well.", "--inset", "11 mm"),
        ("row", "JOB", "no such", "x"),
        ("row", "JOB", _STRANGE, "new \x1b[1m", "--from", "5,5", "--pitch", "9 mm"),
        ("lacing", "JOB"),
        ("lacing", "JOB", "no such\x1b[2J"),
        ("sizes", "JOB", "--out", "OUT", "--article", "no such \x1b[2J", "--drawn", "M \x1b[1m"),
        ("supplies", "JOB"),
        ("pieces", "JOB", "--out", "OUT", "--layer", "out\x1b[2Jer = cow\u202e side"),
        ("pieces", "PHOTO", "--out", "OUT", "--reference", "A4", "--names", "A=\x1b[2J"),
        ("plan", "JOB", "JOB", "--out", "OUT"),
    ],
    ids=lambda words: f"{words[0]} {len(words)}",
)
@pytest.mark.security
def test_names_in_rows_laces_sizes_and_templates_cannot_steer_the_terminal(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
) -> None:
    photo = tmp_path / "evil \x1b[2J\u202e.jpg"
    Image.new("RGB", (400, 300), "white").save(photo)
    places = {"JOB": _strange_job(tmp_path), "PHOTO": photo, "OUT": tmp_path / "new" / "out.job.json"}
    (tmp_path / "new").mkdir()
    run(*(places.get(word, word) for word in words), monkeypatch=monkeypatch)
    said = "".join(capsys.readouterr())
    assert said
    assert not [letter for letter in said if not letter.isprintable() and letter not in "\n\t"]
    assert not any(line.startswith("Right: all is well") for line in said.splitlines())
    # Nothing is written but where it was told to be.
    assert {path.name for path in tmp_path.iterdir()} <= {"strange.job.json", photo.name, "new"}


def break_off(rack: Path) -> None:
    journal = rack / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"begun"'))


@pytest.mark.parametrize("command", ["rack", "jobs", "plan", "check", "cut", "count", "mark-area"])
def test_every_command_that_reads_a_rack_puts_right_a_cut_that_broke_off_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    plan, job = small_rack(tmp_path), tmp_path / "small.job.json"
    before = contents_of(tmp_path)
    run("cut", plan, monkeypatch=monkeypatch)
    break_off(tmp_path)
    capsys.readouterr()
    words: dict[str, tuple[object, ...]] = {
        "rack": ("rack", tmp_path),
        "jobs": ("rack", tmp_path, "--jobs"),
        "plan": ("plan", job, tmp_path, "--out", tmp_path / "p", "--seconds", 0),
        "check": ("check", plan),
        "cut": ("cut", plan),
        "count": ("count", job, tmp_path / "rye.hide.json", "--workers", 1),
        "mark-area": ("mark-area", tmp_path / "rye.hide.json", "8 ft2"),
    }
    assert run(*words[command], monkeypatch=monkeypatch) == 0
    said = capsys.readouterr()
    assert "had broken off; its files were put back" in said.err
    assert "small" in said.err
    if command in ("rack", "jobs", "check", "count"):
        assert contents_of(tmp_path) == before
    assert bool(read_hide(tmp_path / "barley.hide.json").used) == (command == "cut")


def test_a_cut_that_broke_off_is_booked_again_or_undone_without_contradiction(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = small_rack(tmp_path)
    before = contents_of(tmp_path)
    run("cut", plan, monkeypatch=monkeypatch)
    break_off(tmp_path)
    # It is undone by being asked about, so there is nothing more to undo; and it can be booked again.
    assert run("cut", plan, "--undo", monkeypatch=monkeypatch) == 2
    said = capsys.readouterr().err
    assert "put back" in said
    assert "undone already" in said
    assert contents_of(tmp_path) == before
    assert run("cut", plan, monkeypatch=monkeypatch) == 0
    assert run("cut", plan, "--undo", monkeypatch=monkeypatch) == 0
    assert contents_of(tmp_path) == before


def test_a_command_ends_its_work_though_nobody_reads_its_words_any_more(tmp_path: Path) -> None:
    done = tmp_path / "done"
    program = (
        "import sys, pathlib; from nestplan.cli.terminal import say\n"
        "for _ in range(2000): say('x' * 1000)\n"
        "sys.stdout.flush(); pathlib.Path(sys.argv[1]).write_text('done')"
    )
    running = subprocess.Popen([sys.executable, "-c", program, str(done)], stdout=subprocess.PIPE)
    assert running.stdout is not None
    assert running.stdout.read(1000) == b"x" * 1000
    running.stdout.close()
    assert running.wait() == 0
    assert done.read_text() == "done"
