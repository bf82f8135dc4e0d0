"""The rack on the command line: list, book a cut, take it back, marks of two meanings."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import rack_commands
from nestplan.errors import InputError, UnitError
from nestplan.geometry.pose import Pose
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model import Disc, Flaw, Piece, Source
from nestplan.model.cut_journal import JOURNAL_NAME
from nestplan.model.files import content_hash, read_hide, write_hide, write_job, write_plan
from nestplan.model.job_log import JOB_LOG_NAME, read_job_log
from nestplan.model.values import Area
from nestplan.tasks.opening import open_plan
from tests.small_jobs import SQUARE, laid, one_piece_job, plain_hide, plan_of

Run = Callable[..., str]


@pytest.fixture
def run() -> Run:
    """Run a command of the rack; its output. Errors come out as they are."""
    app = typer.Typer()
    rack_commands.register(app)

    def call(*arguments: object) -> str:
        result = CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)
        call.code = result.exit_code  # type: ignore[attr-defined]
        return result.output

    return call


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """A rack with two hides and a plan that lays two squares on the first."""
    job = one_piece_job(Piece(name="square", outline=SQUARE), sets=2)
    flaw = Flaw(spoils="through", disc=Disc(at=(800.0, 400.0), diameter=40.0), margin=3.0)
    barley, rye = plain_hide("barley", flaws=(flaw,), stated_area=Area(810_000.0)), plain_hide("rye")
    (tmp_path / "out").mkdir()
    write_job(tmp_path / "small.job.json", job)
    for hide in (barley, rye):
        write_hide(tmp_path / f"{hide.name}.hide.json", hide)
    piece = job.articles[0].pieces[0]
    placements = [
        laid(job, piece, Pose(0, 0), hide="barley"),
        laid(job, piece, Pose(120, 0), hide="barley", copy=2, set=2),
    ]
    sources = tuple(
        Source(name=hide.name, file=f"../{hide.name}.hide.json", hash=content_hash(hide))
        for hide in (barley, rye)
    )
    source = Source(name=job.name, file="../small.job.json", hash=content_hash(job))
    made = msgspec.structs.replace(plan_of(job, [barley, rye], placements), job=source, hides=sources)
    write_plan(tmp_path / "out" / "plan.json", made)
    return tmp_path / "out" / "plan.json"


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.name: path.read_bytes()
        for path in folder.iterdir()
        if path.is_file() and path.name != JOURNAL_NAME
    }


def test_a_cut_marks_the_hide_keeps_its_offcut_and_is_undone_to_the_byte(run: Run, plan: Path) -> None:
    rack = plan.parent.parent
    before = contents(rack)
    told = run("cut", plan)
    assert read_hide(rack / "barley.hide.json").used == "small"
    assert not read_hide(rack / "rye.hide.json").used
    rest = read_hide(rack / "barley-offcut-1.hide.json")
    assert rest.gross_area == pytest.approx(800_000 - 20_000, rel=0.02)
    # The flaw lies in the leather that is left, so it stays a flaw and is no opening.
    assert len(rest.flaws) == 1
    assert rest.holes == ()
    assert "own yield" in told
    assert [hide["name"] for hide in json.loads(run("rack", rack, "--json"))] == ["barley, offcut 1", "rye"]
    with pytest.raises(InputError, match="cut up for 'small' already"):
        run("cut", plan)
    # The plan itself is still good: it can be looked at and checked after its cut is booked.
    assert len(open_plan(plan).plan.placements) == 2
    assert "undone" in run("cut", plan, "--undo")
    assert contents(rack) == before
    with pytest.raises(InputError, match="knows no such cut"):
        run("cut", plan, "--undo")


def test_the_log_shows_the_workshops_yield_beside_the_plans(run: Run, plan: Path) -> None:
    rack = plan.parent.parent
    assert "No job" in run("rack", rack, "--jobs")
    run("cut", plan, "--really-used", "400 cm2", "--note", "one spoiled")
    (record,) = read_job_log(rack / JOB_LOG_NAME)
    assert record.own_yield == pytest.approx(0.5)
    assert record.note == "one spoiled"
    assert record.hides[0].stated == pytest.approx(810_000)
    told = run("rack", rack, "--jobs")
    assert "50.0%" in told
    assert "cow side" in told
    assert json.loads(run("rack", rack, "--jobs", "--json"))["jobs"][0]["net"] == pytest.approx(20_000)


def test_offcuts_too_small_to_keep_stay_off_the_rack(run: Run, plan: Path) -> None:
    run("cut", plan, "--offcuts-from", "1 m2")
    rack = plan.parent.parent
    assert [hide["name"] for hide in json.loads(run("rack", rack, "--json"))] == ["rye"]
    (record,) = read_job_log(rack / JOB_LOG_NAME)
    assert record.really_used == pytest.approx(800_000)


def test_a_hide_that_changed_since_the_plan_is_not_cut(run: Run, plan: Path) -> None:
    rack = plan.parent.parent
    write_hide(rack / "barley.hide.json", plain_hide("barley"))
    before = contents(rack)
    with pytest.raises(InputError, match="changed since"):
        run("cut", plan)
    assert contents(rack) == before


def test_the_rack_lists_filters_and_tells_of_broken_files(run: Run, plan: Path) -> None:
    rack = plan.parent.parent
    assert "2 of 2 hides" in run("rack", rack)
    assert "0 of 2 hides" in run("rack", rack, "--leather", "goat", "--thickness", "1-2 mm")
    assert "2 of 2" in run("rack", rack, "--area-from", "8 ft2", "--area-to", "9 ft2", "--units", "in")
    (rack / "broken.hide.json").write_text("{")
    assert "Left out:" in run("rack", rack)
    assert run.code == 2  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("mark", "reads", "square_feet"),
    [
        ("22.3", "tenths", 22.3),
        ("22.3", "quarters", 22.75),
        ("22 3/4", None, 22.75),
        ("210 dm2", None, 22.604),
    ],
)
def test_a_mark_is_kept_beside_the_measured_area_and_echoed(
    run: Run, tmp_path: Path, mark: str, reads: str | None, square_feet: float
) -> None:
    path = tmp_path / "a.hide.json"
    write_hide(path, plain_hide())
    told = run("mark-area", path, mark, *(["--area-reads", reads] if reads else []))
    hide = read_hide(path)
    assert hide.stated_area == pytest.approx(square_feet * MM2_PER_FT2, rel=1e-4)
    assert hide.gross_area == pytest.approx(800_000)
    assert f"'{mark}' read as" in told


def test_a_mark_of_two_meanings_is_refused_with_both_where_nobody_can_be_asked(
    run: Run, tmp_path: Path
) -> None:
    path = tmp_path / "a.hide.json"
    write_hide(path, plain_hide())
    before = path.read_bytes()
    with pytest.raises(UnitError, match=r"22\.30 ft² .*22\.75 ft²") as caught:
        run("mark-area", path, "22.3")
    assert "--area-reads" in caught.value.mend
    assert path.read_bytes() == before


def test_a_mark_of_two_meanings_is_asked_where_there_is_a_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from nestplan.cli.option_values import area_of_mark

    answers: list[Any] = ["what?", "quarters"]
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr(typer, "prompt", lambda *_args, **_options: answers.pop(0))
    assert area_of_mark("22.3", None) == pytest.approx(22.75 * MM2_PER_FT2)
    assert "22.75 ft²" in capsys.readouterr().err
    with pytest.raises(UnitError):
        area_of_mark("22.3", "thirds")
