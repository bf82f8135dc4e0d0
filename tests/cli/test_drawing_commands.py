"""Pieces, layers and tape figures on the command line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import drawing_commands
from nestplan.errors import InputError, UnitError
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model.files import read_hide, read_job
from tests.intake.small_drawings import INCHES, UNITLESS, dxf

Run = Callable[..., str]


@pytest.fixture
def run() -> Run:
    app = typer.Typer()
    drawing_commands.register(app)

    def call(*arguments: object) -> str:
        result = CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)
        return result.output

    return call


def panels(_document: Any, space: Any) -> None:
    for x in (0, 8):
        space.add_lwpolyline(
            [(x, 0), (x + 5, 0), (x + 4, 4), (x, 4)], close=True, dxfattribs={"layer": "KNIFE"}
        )
        space.add_circle((x + 0.2, 2), 0.1, dxfattribs={"layer": "KNIFE"})
    space.add_line((1, 1), (2, 1), dxfattribs={"layer": "PEN"})


def test_a_drawing_becomes_a_job(run: Run, tmp_path: Path) -> None:
    source, out, table = (
        dxf(tmp_path / "belt.dxf", panels, units=INCHES),
        tmp_path / "b.job.json",
        tmp_path / "t.csv",
    )
    run("layers", source, "--out", table)
    assert table.read_text().splitlines()[2:] == ["KNIFE,", "PEN,"]
    table.write_text(table.read_text().replace("PEN,", "PEN,slit"))
    options = ("--layers", table, "--sets", 14, "--pairs", "--overcut", "6 mm", "--overcut-wish", "1/2 in")
    told = run("pieces", source, "--out", out, *options)
    (article,) = read_job(out).articles
    assert article.sets == 14
    assert [piece.name for piece in article.pieces] == ["belt 1", "belt 2"]
    first = article.pieces[0]
    assert first.pair
    assert first.net_area == pytest.approx(18 * 25.4**2)
    assert sorted(mark.do for mark in first.marks) == ["punch", "slit"]
    overcut = first.cuts[0].overcut
    assert overcut is not None
    assert (overcut.least, overcut.wished) == (6.0, pytest.approx(12.7))
    assert "one unit of it is 25.4 mm" in told
    # The hole's centre is 5.08 mm from the edge, which is less than is usual.
    assert "is usual" in told


def test_a_file_is_not_written_over_unasked(run: Run, tmp_path: Path) -> None:
    source, out = dxf(tmp_path / "belt.dxf", panels, units=INCHES), tmp_path / "b.job.json"
    out.write_text("mine")
    options = ("pieces", source, "--out", out, "--repair")
    with pytest.raises(InputError, match="there already"):
        run(*options)
    assert out.read_text() == "mine"
    run(*options, "--replace")
    assert read_job(out).name == "b"


def test_faults_name_the_file_and_leave_nothing_behind(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "b.job.json"
    with pytest.raises(UnitError) as caught:
        run("pieces", dxf(tmp_path / "a.dxf", panels, units=UNITLESS), "--out", out)
    assert caught.value.file.endswith("a.dxf")
    with pytest.raises(InputError, match="open"):
        run("pieces", dxf(tmp_path / "b.dxf", panels), "--out", out)
    assert not out.exists()


def test_tape_figures_become_a_hide(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "side.hide.json"
    options = (
        "--area",
        "22.3",
        "--area-reads",
        "quarters",
        "--thickness",
        "3-4 oz",
        "--width",
        "60 cm: 1.05 m",
    )
    told = run("measure", "side", "--out", out, "--name", "Barley", "--length", "2.4 m", *options)
    hide = read_hide(out)
    assert (hide.name, hide.leather) == ("Barley", "cow side")
    assert hide.gross_area == pytest.approx(22.75 * MM2_PER_FT2)
    assert hide.stated_area == pytest.approx(22.75 * MM2_PER_FT2)
    assert hide.thickness == (pytest.approx(1.190625, abs=1e-4), pytest.approx(1.5875))
    assert "no hide was traced" in told
    with pytest.raises(InputError, match="cannot be read"):
        run("measure", "side", "--out", tmp_path / "b.hide.json", "--width", "60 cm")


def test_every_piece_is_lined_where_layers_are_named(run: Run, tmp_path: Path) -> None:
    source, out = dxf(tmp_path / "belt.dxf", panels, units=INCHES), tmp_path / "b.job.json"
    table = tmp_path / "t.csv"
    table.write_text("layer,role\nPEN,slit\n")
    lined = (
        "--layer",
        "outer = cow side, 2-2.4 mm",
        "--layer",
        "lining = goat, sheepskin",
        "--overcut",
        "6 mm",
    )
    run("pieces", source, "--out", out, "--layers", table, *lined)
    job = read_job(out)
    assert [(layer.name, layer.leather, layer.thickness) for layer in job.layers] == [
        ("outer", ("cow side",), (2.0, 2.4)),
        ("lining", ("goat", "sheepskin"), None),
    ]
    outer, lining = job.articles[0].pieces[0].cuts
    assert (outer.shows, outer.reversed) == ("grain", False)
    assert (lining.shows, lining.reversed) == ("hidden", True)
    assert all(cut.overcut and cut.overcut.least == 6.0 for cut in (outer, lining))
    with pytest.raises(InputError, match="is no layer"):
        run("pieces", source, "--out", tmp_path / "c.job.json", "--layers", table, "--layer", "= cow")
