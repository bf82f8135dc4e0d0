from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import sheet_commands
from nestplan.errors import InputError
from nestplan.model.files import content_hash, write_hide, write_job, write_plan
from tests.sheets.sample_plans import belt_plan


def app() -> typer.Typer:
    made = typer.Typer()
    sheet_commands.register(made)
    return made


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """The belts' plan, job and hides as files beside each other."""
    plan, job, hides = belt_plan()
    write_job(tmp_path / "belts.job.json", job)
    sources = []
    for number, hide in enumerate(hides):
        write_hide(tmp_path / f"{number}.hide.json", hide)
        sources.append(
            msgspec.structs.replace(plan.hides[number], file=f"{number}.hide.json", hash=content_hash(hide))
        )
    made = msgspec.structs.replace(
        plan,
        job=msgspec.structs.replace(plan.job, file="belts.job.json", hash=content_hash(job)),
        hides=tuple(sources),
    )
    write_plan(tmp_path / "plan.json", made)
    return tmp_path / "plan.json"


def test_sheet_writes_everything_for_the_bench(plan_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "bench"
    done = CliRunner().invoke(
        app(), ["sheet", str(plan_file), "--out", str(out), "--paper", "letter", "--units", "in"]
    )
    assert done.exit_code == 0, done.output
    for name in ("cut-sheet.pdf", "full-size.pdf", "job-sheet.pdf", "lesson-sheet.pdf", "plan-dark.png"):
        assert (out / name).stat().st_size > 1000
        assert name in done.output
    assert (out / "drawings" / "cow-side-a.plan.dxf").is_file()


def test_a_roll_may_have_its_own_width(plan_file: Path, tmp_path: Path) -> None:
    arguments = [
        "sheet",
        str(plan_file),
        "--out",
        str(tmp_path / "r"),
        "--paper",
        "roll",
        "--roll-width",
        "36 in",
    ]
    assert CliRunner().invoke(app(), arguments).exit_code == 0


@pytest.mark.parametrize(("name", "look"), [("a.png", "light"), ("b.svg", "dark"), ("c.svg", "paper")])
def test_picture_writes_one_picture(plan_file: Path, tmp_path: Path, name: str, look: str) -> None:
    done = CliRunner().invoke(
        app(), ["picture", str(plan_file), "--out", str(tmp_path / name), "--look", look]
    )
    assert done.exit_code == 0, done.output
    assert (tmp_path / name).stat().st_size > 1000


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["sheet", "--out", "o", "--paper", "foolscap"], "no paper"),
        (["sheet", "--out", "o", "--units", "ell"], "no unit"),
        (["sheet", "--out", "o", "--paper", "roll", "--roll-width", "3 mm"], "cannot be used"),
        (["picture", "--out", "a.jpg"], ".png or an .svg"),
        (["picture", "--out", "a.png", "--look", "sepia"], "no look"),
    ],
)
def test_what_cannot_be_taken_is_told_and_nothing_is_written(
    plan_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], what: str
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    done = CliRunner().invoke(app(), [arguments[0], str(plan_file), *arguments[1:]])
    assert isinstance(done.exception, InputError)
    assert what in str(done.exception)
    assert not [path for path in (tmp_path / "here").rglob("*") if path.is_file()]
