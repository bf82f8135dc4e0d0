"""Plain values are read without a library; all others, and wrong ones, as the library for the command line does."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import typer
import typer.main

from nestplan.cli.plain_values import read_plain_values

_READ: list[tuple[Any, ...]] = []


def _command(*, plain: bool) -> Any:
    app = typer.Typer(add_completion=False)

    @app.command()
    def read(
        files: list[Path] = typer.Argument(...),
        *,
        out: Path | None = typer.Option(None, "--out"),
        there: Path | None = typer.Option(None, "--there", exists=True),
        seconds: float = typer.Option(10.0, "--seconds", min=0.0),
        passes: int | None = typer.Option(None, "--passes", min=1, max=1000),
        goal: str = typer.Option("fill", "--goal"),
        words: list[str] | None = typer.Option(None, "--word"),
        counted: list[int] | None = typer.Option(None, "--count"),
        quiet: bool = typer.Option(False, "--quiet"),
    ) -> None:
        _READ.append((files, out, there, seconds, passes, goal, words, counted, quiet))

    command = typer.main.get_command(app)
    if plain:
        read_plain_values(command)
    return command


def _outcome(words: list[str], *, plain: bool, capsys: pytest.CaptureFixture[str]) -> tuple[Any, ...]:
    _READ.clear()
    try:
        _command(plain=plain)(words)
    except SystemExit as left:
        return (*_READ, left.code, capsys.readouterr())
    return (*_READ, capsys.readouterr())


@pytest.mark.parametrize(
    "words",
    [
        "a.json",
        "a b c --out d --seconds 3 --passes 7 --goal all --word x --word y --count 3 --count 4 --quiet",
        "a --seconds 0.25",
        "a --seconds 1e3",
        "a --seconds nan",
        "a --seconds inf",
        "a --seconds -1",
        "a --seconds ٣",
        "a --seconds 1_0",
        "a --seconds 00012.50",
        "a --passes 0",
        "a --passes 1000",
        "a --passes 1001",
        "a --passes 7.0",
        "a --passes x",
        "a --count 1 --count z",
        "a --count 99999999999999999999",
        "a --there /no/such/file",
        "a --there /",
        "a --out /no/such/file",
        "",
        "--help",
        "a --out",
        "a --unknown",
        "-",
    ],
)
def test_values_are_what_the_library_reads(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    read = _outcome(words.split(), plain=True, capsys=capsys)
    assert repr(read) == repr(_outcome(words.split(), plain=False, capsys=capsys))


def test_a_plan_is_asked_for_without_loading_what_reads_odd_values(tmp_path: Path) -> None:
    program = (
        "import sys; from nestplan.cli import main\n"
        f"sys.argv = ['nestplan', 'plan', {str(tmp_path / 'no.json')!r}, 'rack', '--out', 'a', '--seconds', '3']\n"
        "try:\n    main()\nexcept SystemExit as left:\n"
        "    print(left.code, [name for name in ('pydantic', 'rich', 'numba') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "2 []", done.stderr
