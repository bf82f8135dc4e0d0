"""The main job from the command line: what it writes, what it says, how it leaves."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec
import pytest

from nestplan.cli.app import main
from nestplan.model import Disc, Flaw, Hide, Job, Piece, Plan
from nestplan.model.audit import Fault
from nestplan.model.files import read_plan, write_hide, write_job, write_plan
from nestplan.nesting.result import plan_builder
from tests.broken_files import broken_hides, broken_jobs
from tests.small_jobs import SQUARE, one_piece_job, plain_hide, strap_job

WRITTEN = ["cut-sheet.pdf", "plan.json", "plan.png", "plan.svg"]


def run(*arguments: object, monkeypatch: pytest.MonkeyPatch) -> int:
    """Run the command line in this process; its exit code."""
    monkeypatch.setattr(sys, "argv", ["nestplan", *map(str, arguments)])
    with pytest.raises(SystemExit) as left:
        main()
    return int(left.value.code or 0)


@pytest.fixture
def small(tmp_path: Path) -> tuple[Path, Path]:
    job, hide = tmp_path / "small.job.json", tmp_path / "plain.hide.json"
    write_job(job, one_piece_job(Piece(name="square", outline=SQUARE), sets=6))
    write_hide(hide, plain_hide())
    return job, hide


def test_a_plan_is_written_whole_and_passes_the_check(
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    job, hide = small
    out = tmp_path / "plan"
    assert run("plan", job, hide, "--out", out, "--seconds", 1, monkeypatch=monkeypatch) == 0
    assert sorted(path.name for path in out.iterdir()) == WRITTEN
    assert "6 of 6" in capsys.readouterr().out
    assert run("check", out / "plan.json", monkeypatch=monkeypatch) == 0
    assert len(read_plan(out / "plan.json").placements) == 6


def test_json_prints_the_figures_alone(
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    job, hide = small
    assert (
        run("plan", job, hide, "--out", tmp_path / "p", "--seconds", 0, "--json", monkeypatch=monkeypatch)
        == 0
    )
    figures = json.loads(capsys.readouterr().out)
    assert figures["placed"] == 6
    assert figures["net"] == pytest.approx(60_000.0)


def test_what_the_check_refuses_is_taken_back_and_the_command_says_so(
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def refuse_the_second(plan: Plan, job: Job, hides: Sequence[Hide]) -> tuple[Fault, ...]:
        wrong = [number for number, placement in enumerate(plan.placements) if placement.copy == 2]
        return tuple(Fault("overlap", (number,), "'square' lies on something.") for number in wrong)

    monkeypatch.setattr(plan_builder, "check", refuse_the_second)
    job, hide = small
    out = tmp_path / "plan"
    assert run("plan", job, hide, "--out", out, "--seconds", 1, monkeypatch=monkeypatch) == 3
    said = capsys.readouterr().out
    assert "Not placed: 1 × square" in said
    assert "the check found: 'square' lies on something." in said
    assert "please report it" in said
    assert len(read_plan(out / "plan.json").placements) == 5
    assert run("check", out / "plan.json", monkeypatch=monkeypatch) == 0


def test_a_locked_piece_that_breaks_a_changed_rule_is_named_and_nothing_is_written(
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    job, hide = small
    out = tmp_path / "plan"
    assert run("plan", job, hide, "--out", out, "--seconds", 0, monkeypatch=monkeypatch) == 0
    made = read_plan(out / "plan.json")
    locked = msgspec.structs.replace(made.placements[0], locked=True)
    write_plan(out / "plan.json", msgspec.structs.replace(made, placements=(locked, *made.placements[1:])))
    x, y = locked.finished_ring.mean(axis=0).tolist()
    write_hide(hide, plain_hide(flaws=(Flaw(spoils="through", disc=Disc(at=(x, y), diameter=9.0)),)))
    code = run(
        "plan", job, hide, "--out", tmp_path / "again", "--keep", out / "plan.json", monkeypatch=monkeypatch
    )
    assert code == 2
    said = capsys.readouterr().err
    assert "'square' (copy 1) on 'plain' is locked, but a rule now forbids it" in said
    assert "Unlock it" in said
    assert not (tmp_path / "again" / "plan.json").exists()


def test_something_unplaced_leaves_with_three_and_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    huge = Piece(name="tent", outline=((0, 0), (3000, 0), (3000, 3000), (0, 3000)))
    write_job(tmp_path / "job.json", one_piece_job(huge))
    write_hide(tmp_path / "hide.json", plain_hide())
    code = run(
        "plan", tmp_path / "job.json", tmp_path / "hide.json", "--out", tmp_path / "p", "--seconds", 0,
        monkeypatch=monkeypatch,
    )  # fmt: skip
    assert code == 3
    assert read_plan(tmp_path / "p" / "plan.json").unplaced[0].reason == "too large"
    assert "tent" in capsys.readouterr().out


def test_a_spoiled_plan_fails_the_check(
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    job, hide = small
    out = tmp_path / "plan"
    run("plan", job, hide, "--out", out, "--seconds", 0, monkeypatch=monkeypatch)
    plan = json.loads((out / "plan.json").read_text())
    plan["placements"][1] = {**plan["placements"][0], "copy": plan["placements"][1]["copy"]}
    (out / "plan.json").write_text(json.dumps(plan))
    assert run("check", out / "plan.json", monkeypatch=monkeypatch) == 2
    assert "overlap" in capsys.readouterr().out


def test_a_changed_hide_is_noticed(
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    job, hide = small
    run("plan", job, hide, "--out", tmp_path / "plan", "--seconds", 0, monkeypatch=monkeypatch)
    write_hide(hide, plain_hide(price=7.0))
    assert run("check", tmp_path / "plan" / "plan.json", monkeypatch=monkeypatch) == 2
    assert "has changed" in capsys.readouterr().err


@pytest.mark.parametrize("name", [*broken_hides(), *broken_jobs()])
def test_bad_input_leaves_with_two_one_message_and_nothing_written(
    name: str,
    small: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    job, hide = small
    bad = tmp_path / "bad.json"
    text = {**broken_hides(), **broken_jobs()}[name]
    bad.write_bytes(text.encode("utf-8", "surrogateescape"))
    files = (job, bad) if name in broken_hides() else (bad, hide)
    out = tmp_path / "plan"
    assert run("plan", *files, "--out", out, "--seconds", 0, monkeypatch=monkeypatch) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("nestplan: ")
    assert "bad.json" in said.err
    assert "Traceback" not in said.err
    assert not out.exists()


def test_a_file_that_is_not_there_is_bad_input(
    small: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("plan", small[0], tmp_path / "none", "--out", tmp_path / "p", monkeypatch=monkeypatch) == 2


def test_an_unknown_goal_is_bad_input(
    small: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("plan", *small, "--out", tmp_path / "p", "--goal", "tidy", monkeypatch=monkeypatch) == 2


def test_the_same_seed_and_passes_give_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_job(tmp_path / "job.json", one_piece_job(sets=12))
    write_hide(tmp_path / "hide.json", plain_hide())
    plans = []
    for name, workers in (("a", 1), ("b", 2), ("c", 1)):
        out = tmp_path / name
        run(
            "plan", tmp_path / "job.json", tmp_path / "hide.json", "--out", out, "--passes", 3, "--seed", 5,
            "--workers", workers, monkeypatch=monkeypatch,
        )  # fmt: skip
        plans.append((out / "plan.json").read_bytes())
    assert plans[0] == plans[1] == plans[2]


def test_straps_alone_are_planned(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_job(tmp_path / "job.json", strap_job(sets=10))
    write_hide(tmp_path / "hide.json", plain_hide())
    out = tmp_path / "p"
    code = run(
        "plan",
        tmp_path / "job.json",
        tmp_path / "hide.json",
        "--out",
        out,
        "--seconds",
        0,
        monkeypatch=monkeypatch,
    )
    assert code == 0
    assert len(read_plan(out / "plan.json").placements) == 10


def test_help_names_every_command_of_the_main_job() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from nestplan.cli import main; main()", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    for command in ("plan", "check", "demo"):
        assert command in done.stdout
