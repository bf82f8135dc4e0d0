"""`pieces` with a photograph of templates: found, told, asked, and written only when all is answered."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import drawing_commands
from nestplan.cli.option_words import with_options
from nestplan.errors import InputError
from nestplan.model.files import read_job
from tests.intake.kept_readings import keep_readings
from tests.intake.small_drawings import INCHES, dxf
from tests.intake.template_render import SMALL_TEMPLATES, render_templates


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photo") / "templates.jpg"
    path.write_bytes(render_templates(SMALL_TEMPLATES, supersample=4).jpeg)
    return path


@pytest.fixture(scope="module")
def kept() -> dict[str, Any]:
    return {}


@pytest.fixture(autouse=True)
def read_once(kept: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    keep_readings(monkeypatch, kept)


def run(*arguments: object) -> str:
    app = typer.Typer()
    drawing_commands.register(app)
    result = CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)
    return result.output


def test_a_photograph_of_templates_becomes_a_job_when_its_marks_are_explained(
    photo: Path, tmp_path: Path
) -> None:
    out, picture = tmp_path / "bag.job.json", tmp_path / "seen.png"
    asked = ("pieces", photo, "--out", out, "--reference", "A4", "--picture", picture)
    with pytest.raises(InputError, match="1 blue dots and 2 red rings") as refused:
        run(*asked)
    assert "--punch 'blue dots'" in with_options(refused.value.mend)
    assert not out.exists()
    assert picture.exists()
    answers = (
        "--punch",
        "red rings",
        "--mark",
        "blue dots",
        "--join-pairs",
        "--symmetric",
        "all",
        "--sets",
        3,
    )
    told = run(*asked, *answers, "--overcut", "6 mm")
    assert "5 templates found" in told
    (article,) = read_job(out).articles
    assert article.sets == 3
    assert len(article.pieces) == 4
    assert [piece.pair for piece in article.pieces].count(True) == 1
    card = max(article.pieces, key=lambda piece: len(piece.marks))
    assert sorted(mark.do for mark in card.marks) == ["mark", "punch", "punch", "punch", "punch"]
    assert card.cuts[0].overcut is not None
    assert card.net_area == pytest.approx(150 * 90, rel=0.01)


def test_what_is_not_on_the_templates_is_refused(photo: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no green rings"):
        run("pieces", photo, "--out", tmp_path / "a.job.json", "--reference", "A4", "--punch", "green rings")


def test_a_photograph_without_a_scale_is_refused_before_long_work(photo: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="scale is not known"):
        run("pieces", photo, "--out", tmp_path / "a.job.json")


def test_options_for_photographs_are_refused_for_drawings(tmp_path: Path) -> None:
    drawing = dxf(tmp_path / "a.dxf", lambda _document, space: space.add_circle((0, 0), 3), units=INCHES)
    with pytest.raises(InputError, match="for photographs"):
        run("pieces", drawing, "--out", tmp_path / "a.job.json", "--punch", "red rings")
